"""Tests of the launch: the same settings as a checkout, and a server that answers from anywhere."""

import gc
import http.client
import json
import socket
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from energyplan import app
from energyplan.app import OPTIONS, arguments, caution, launch, main  # noqa: F401 - main as the server runs it

ROOT = Path(__file__).parents[2]


def flattened(table: dict[str, Any], prefix: str = "") -> dict[str, Any]:
    """Settings of a nested table under dotted names."""
    flat: dict[str, Any] = {}
    for key, value in table.items():
        name = f"{prefix}{key}"
        flat |= flattened(value, f"{name}.") if isinstance(value, dict) else {name: value}
    return flat


def test_the_flags_are_the_settings_of_a_checkout() -> None:
    """What ``streamlit run`` finds in the hidden folder is what the command passes as flags."""
    with (ROOT / ".streamlit" / "config.toml").open("rb") as file:
        written = flattened(tomllib.load(file))
    options = dict(OPTIONS)
    options["theme.headingFontSizes"] = json.loads(str(options["theme.headingFontSizes"]))
    assert written == options


def test_what_the_modules_hold_is_set_aside_once(visit: Callable[..., Any]) -> None:
    """What a later run leaves behind is still looked through for garbage."""
    there = visit()
    aside = gc.get_freeze_count()
    assert aside > 0
    there.run()
    there.go("circuit")
    assert gc.get_freeze_count() <= aside  # less where something of it is no longer needed


def test_errors_and_uploads_are_held_short() -> None:
    """No traceback in the browser, no statistics sent, at most 5 MB up."""
    flags = arguments("localhost", 8501)
    assert "--client.showErrorDetails=none" in flags
    assert "--browser.gatherUsageStats=false" in flags
    assert "--server.maxUploadSize=5" in flags
    assert flags[-2:] == ["--server.address=localhost", "--server.port=8501"]


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


def test_the_app_answers_from_a_folder_that_is_no_checkout(tmp_path: Path) -> None:
    """Started elsewhere, the command serves a healthy app."""
    port = free_port()
    call = f"from energyplan.app import launch; launch('127.0.0.1', {port})"
    with subprocess.Popen(  # noqa: S603 - this interpreter, our own words
        [sys.executable, "-c", call], cwd=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as server:
        try:
            assert health(port) == b"ok"
        finally:
            server.terminate()
            server.wait(20)


def health(port: int) -> bytes:
    """What a server says of itself, once it says something."""
    for _ in range(150):
        asked = http.client.HTTPConnection("127.0.0.1", port, timeout=2)
        try:
            asked.request("GET", "/_stcore/health")
            return asked.getresponse().read()
        except OSError:
            time.sleep(0.2)
        finally:
            asked.close()
    return b""


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "[::]", "192.168.1.7", "brewhouse.lan"])  # noqa: S104 - words only
def test_who_can_reach_the_app_is_said(host: str) -> None:
    """Beyond this machine anybody on the network can use it; on it nothing is said."""
    assert "anybody on the network who reaches this machine can use the app" in str(caution(host))
    assert [caution(own) for own in ("localhost", "127.0.0.1", "::1")] == [None, None, None]


@pytest.mark.parametrize("host", ["127.0.0.1", "0.0.0.0", "::", "192.168.1.7"])  # noqa: S104 - words only
def test_no_other_machine_is_asked(monkeypatch: pytest.MonkeyPatch, host: str) -> None:
    """Neither to say under which address the app is found, nor when a page from elsewhere knocks."""
    from streamlit import config, net_util
    from streamlit.web import bootstrap, cli
    from streamlit.web.server.server_util import is_url_from_allowed_origins

    asked: list[str] = []
    monkeypatch.setattr(net_util, "_make_blocking_http_get", lambda url, timeout=5: asked.append(f"{url} {timeout}"))
    flags = dict(word.removeprefix("--").split("=") for word in arguments(host, 8501) if word.startswith("--"))
    monkeypatch.setattr(config, "is_manually_set", lambda name: name in flags)
    monkeypatch.setattr(config, "get_option", lambda name, get=config.get_option: flags.get(name) or get(name))
    monkeypatch.setattr(cli, "main", lambda *_, **__: bootstrap._print_url(is_running_hello=False))
    # The heap is the process's: given back at once, it makes all that runs here later slower with large arrays.
    monkeypatch.setattr(app, "_give_memory_back", lambda: None)
    launch(host, 8501)
    assert not is_url_from_allowed_origins("http://elsewhere.invalid")
    assert asked == []
