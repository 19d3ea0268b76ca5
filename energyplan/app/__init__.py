"""The app, and its start: `streamlit run` on this file, with the settings that a checkout keeps.

The framework runs its script anew at every change of every visitor; all that it shows comes from modules, which are
read once.
"""

import ctypes
import sys
from ipaddress import ip_address
from pathlib import Path

__all__ = ["OPTIONS", "arguments", "caution", "launch"]

# An installed package has no .streamlit folder, so the settings travel as flags; a test keeps both the same.
OPTIONS: dict[str, str | int | bool] = {
    "browser.gatherUsageStats": False,
    # Without an address to show, the framework asks another machine for that of this one.
    "browser.serverAddress": "localhost",
    "client.showErrorDetails": "none",
    "client.showErrorLinks": False,
    "client.toolbarMode": "viewer",
    # Collecting all garbage after every run takes longer than a run; Python does it by itself when there is some.
    "runner.postScriptGC": False,
    "server.fileWatcherType": "none",
    "server.headless": True,
    "server.maxUploadSize": 5,
    "theme.baseRadius": "small",
    "theme.font": "sans-serif",
    "theme.headingFontSizes": '["1.7rem", "1.25rem", "1.1rem", "1rem", "1rem", "1rem"]',
    "theme.paddingTop": "0rem",
    "theme.dark.backgroundColor": "#12171A",
    "theme.dark.borderColor": "#37434A",
    "theme.dark.grayTextColor": "#A9B4BA",
    "theme.dark.orangeTextColor": "#E9B65C",
    "theme.dark.primaryColor": "#8CC8FF",
    "theme.dark.redTextColor": "#FF8A80",
    "theme.dark.secondaryBackgroundColor": "#1D2529",
    "theme.dark.textColor": "#E8EDEE",
    "theme.light.backgroundColor": "#FFFFFF",
    "theme.light.borderColor": "#D8DEDC",
    "theme.light.grayTextColor": "#56636A",
    "theme.light.orangeTextColor": "#8A5A00",
    "theme.light.primaryColor": "#0B5CAD",
    "theme.light.redTextColor": "#B3261E",
    "theme.light.secondaryBackgroundColor": "#F2F5F3",
    "theme.light.textColor": "#1B2226",
}
EVERYWHERE = ("0.0.0.0", "::")  # noqa: S104 - names of all addresses, not a choice of them


def launch(host: str, port: int) -> None:
    """Serve the app until it is stopped.

    Parameters
    ----------
    host : str
        Address to listen on.
    port : int
        Port to listen on.
    """
    from streamlit.web.cli import main

    _give_memory_back()
    if (said := caution(host)) is not None:
        sys.stderr.write(f"{said}\n")
    main([*arguments(host, port)], prog_name="energyplan app")


# Of malloc.h, mallopt(3): each run has a thread, whose heap would stay for good, so all share one; arrays of many days
# are mapped each for itself and go back when they are freed, where the C library would soon keep such room as holes.
_HEAP = {"M_ARENA_MAX": (-8, 1), "M_MMAP_THRESHOLD": (-3, 2**20)}


def _give_memory_back() -> None:
    """Let what runs and answers no longer need go back to the system, where the C library can."""
    if sys.platform == "linux" and (mallopt := getattr(ctypes.CDLL(None), "mallopt", None)) is not None:
        for number, value in _HEAP.values():
            mallopt(number, value)


def caution(host: str) -> str | None:
    """What to know before others can reach the app; None where it listens to this machine alone.

    >>> caution("127.0.0.1") is None, caution("localhost") is None
    (True, True)
    """
    name = host.strip("[]")
    try:
        alone = name == "localhost" or ip_address(name).is_loopback
    except ValueError:  # a name: who knows where it leads
        alone = False
    if alone:
        return None
    return f"--host {host}: anybody on the network who reaches this machine can use the app; there is no password"


def arguments(host: str, port: int) -> list[str]:
    """Words of the command line that serves the app.

    >>> arguments("localhost", 8501)[0]
    'run'
    """
    flags = {**OPTIONS, "server.address": host, "server.port": port}
    if host.strip("[]") not in EVERYWHERE:
        flags["browser.serverAddress"] = host
    written = [f"--{name}={str(value).lower() if isinstance(value, bool) else value}" for name, value in flags.items()]
    return ["run", str(Path(__file__)), *written]


if __name__ == "__main__":
    from energyplan.app.main import run

    run()
