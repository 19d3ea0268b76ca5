"""A real browser before a real server, both started once."""

import http.client
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
WIDE, PHONE = (1280, 900), (390, 844)
START = "day=2026-12-05&at=08:30"
PATIENCE_MS = 30_000
# A page that is opened by its own address doesn't know whether the whole app lives below that address, and asks both
# there and at the root for the server's health and settings; Streamlit's front end, not a request of ours.
PROBES = re.compile(r"/[a-z-]+/_stcore/(health|host-config)$")
NOT_FOUND = "Failed to load resource: the server responded with a status of 404 (Not Found)"


def _free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


def _wait_until_healthy(port: int) -> None:
    for _ in range(150):
        asked = http.client.HTTPConnection("127.0.0.1", port, timeout=2)
        try:
            asked.request("GET", "/_stcore/health")
            if asked.getresponse().read() == b"ok":
                return
        except OSError:
            time.sleep(0.2)
        finally:
            asked.close()
    pytest.fail("the app's server did not come up")


@contextmanager
def serving(folder: Path) -> Iterator[tuple[str, int]]:
    """The app, served from a folder as the command serves it: its address and the server's process number."""
    port = _free_port()
    call = f"from energyplan.app import launch; launch('127.0.0.1', {port})"
    with subprocess.Popen(  # noqa: S603 - this interpreter, our own words
        [sys.executable, "-c", call], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as process:
        try:
            _wait_until_healthy(port)
            yield f"http://127.0.0.1:{port}", process.pid
        finally:
            process.terminate()
            process.wait(20)


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, int]]:
    """Address of the app and the server's process number."""
    with serving(tmp_path_factory.mktemp("served")) as found:
        yield found


@pytest.fixture(scope="session")
def server(served: tuple[str, int]) -> str:
    """Address of the app."""
    return served[0]


@pytest.fixture(scope="session")
def browser() -> "Iterator[Browser]":
    """Debian's chromium; where it is missing the tests are skipped, but not on the build server."""
    if not CHROMIUM.exists():
        reason = f"{CHROMIUM} is missing"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield opened
        opened.close()


class Tab:
    """A page of the app, with what it logged and asked for."""

    def __init__(self, page: "Page", server: str) -> None:
        self.page, self.server = page, server
        self.errors: list[str] = []
        self.outside: list[str] = []
        page.set_default_timeout(PATIENCE_MS)
        page.on("console", self._logged)
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("request", self._noted)

    def _logged(self, message: Any) -> None:
        probe = message.text == NOT_FOUND and PROBES.search(message.location.get("url", ""))
        if message.type == "error" and not probe:
            self.errors.append(f"{message.text} {message.location.get('url', '')}")

    def _noted(self, request: Any) -> None:
        if not request.url.startswith((self.server, "data:", "blob:", self.server.replace("http", "ws"))):
            self.outside.append(request.url)

    def open(self, query: str = START, path: str = "") -> "Tab":
        """Go to a page by its address; the first one without."""
        self.page.goto(f"{self.server}/{path}?{query}")
        self.page.wait_for_selector("h1")
        self.settled()
        return self

    def go(self, name: str) -> "Tab":
        """Go to another page by its name in the bar."""
        self.page.get_by_role("link", name=name, exact=True).click()
        self.page.wait_for_url(f"**/{'' if name == 'Day' else name.lower().replace(' ', '-')}*")
        self.settled()
        return self

    def settled(self) -> None:
        """Wait until the script has run and nothing moves."""
        self.page.wait_for_selector("[data-test-script-state='notRunning']")
        self.page.wait_for_timeout(600)
        self.page.wait_for_selector("[data-test-script-state='notRunning']")  # a second run may have begun meanwhile
        self.page.locator("[data-testid='stSpinner']").first.wait_for(state="detached")

    def part(self, name: str) -> "Tab":
        """Turn to a part of the page."""
        self.page.locator("[data-testid='stMain']").get_by_role("radio", name=name, exact=True).click()
        self.settled()
        return self

    def unfold(self, title: str) -> "Tab":
        """Open a fold that is filled when it is open."""
        self.page.get_by_text(title, exact=True).first.click()
        self.settled()
        return self

    @property
    def headline(self) -> str:
        """The first sentence."""
        return self.page.inner_text("h1")

    def shows(self, text: str) -> "Tab":
        """Wait for words anywhere on the page."""
        self.page.get_by_text(text).first.wait_for()
        return self

    def until(self, text: str) -> "Tab":
        """Wait for words in the first sentence."""
        self.page.wait_for_function("text => document.querySelector('h1')?.innerText.includes(text)", arg=text)
        return self

    def until_not(self, text: str) -> "Tab":
        """Wait until the first sentence is another."""
        self.page.wait_for_function("text => document.querySelector('h1')?.innerText !== text", arg=text)
        return self

    def enter(self, label: str, text: str) -> "Tab":
        """Type into a field and leave it."""
        field = self.page.get_by_label(label, exact=True).first
        field.fill(text)
        field.press("Enter")
        return self


@pytest.fixture
def tab(server: str, browser: "Browser") -> Iterator[Callable[..., Tab]]:
    """A function that opens a tab; every tab must stay free of errors and of requests to elsewhere."""
    tabs: list[Tab] = []
    contexts: list[Any] = []

    def opened(*, size: tuple[int, int] = WIDE, scheme: str = "light", query: str = START, path: str = "") -> Tab:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme="dark" if scheme == "dark" else "light",
            has_touch=size[0] <= PHONE[0],
            accept_downloads=True,
        )
        contexts.append(context)
        tabs.append(Tab(context.new_page(), server))
        return tabs[-1].open(query, path)

    yield opened
    for context in contexts:
        context.close()
    for one in tabs:
        assert one.errors == []
        assert one.outside == []
