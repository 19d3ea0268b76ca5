"""A visit to the app without a browser."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from energyplan import app
from energyplan.app import main
from energyplan.app.entries import SECTIONS
from energyplan.app.state import Work
from energyplan.app.storage import Kept, Storage

# Parts and folds of a page that no address opens: the page, and what must be set for it.
FOLDED = {
    "batch": ("", "fold_batch", True),
    "circuit-entries": ("your-brewery", "part_your-brewery", "Circuit"),
}
# Boxes of the bar, and folds, that are filled only while they are open: a visit has them open.
BOXES = (
    "plan", "tariff", "start", "hours", "assumed", "unattended", "changes", "one_step", "week_numbers",
    *(f"usual_{section.title}" for section in SECTIONS),
)  # fmt: skip
main.DRAWING_S = 0.0  # no browser draws here
START = {"day": "2026-12-05", "at": "08:30"}


class Visit:
    """One session; every run must end without an exception."""

    def __init__(self, page: str = "", *, kept: dict[str, str] | None = None, boxes: bool = True, **query: str) -> None:
        self.at = AppTest.from_file(str(Path(app.__file__)), default_timeout=120)
        # Without a browser nothing was kept, and nobody says so.
        self.at.session_state["storage"] = Storage(found=Kept(texts=kept or {}))
        for box in BOXES:
            self.at.session_state[f"fold_{box}"] = boxes
        for key, value in {**START, **query}.items():
            self.at.query_params[key] = value
        self.run()
        if page:
            self.go(page)

    def choose(self, what: str, name: str) -> "Visit":
        """Press the button of a plan or tariff that comes with the program."""
        return self.click(f"{what}_{name}")

    def run(self) -> "Visit":
        """Run the page again, as after an entry."""
        self.at.run()
        assert not self.at.exception, self.at.exception[0].message
        return self

    def go(self, page: str) -> "Visit":
        """The same session on another page."""
        if page in FOLDED:
            place, key, value = FOLDED[page]
            self.at.session_state[key] = value
            return self.go(place)
        # AppTest switches between files only; a page that is a function is known by the hash of its address.
        hashes = {info.get("url_pathname"): number for number, info in self.at._registered_pages.items()}
        self.at._page_hash = hashes[page]
        self.run()
        # An address from before leads on; a browser then asks for the page where it is now.
        self.at._page_hash = hashes[next((view.address for view in main.VIEWS if page in view.earlier), page)]
        return self

    @property
    def work(self) -> Work:
        """The session's desk."""
        work: Work = self.at.session_state["work"]
        return work

    @property
    def headline(self) -> str:
        """The first sentence."""
        return _bare(self.at.title[0].value)

    @property
    def further(self) -> str:
        """The answer of the part below."""
        return _bare(self.at.header[-1].value)

    @property
    def words(self) -> str:
        """Everything that is written, without the marks that keep user text from being markup."""
        at = self.at
        parts: list[Any] = [*at.title, *at.header, *at.subheader, *at.text, *at.markdown, *at.caption]
        links = [link.proto.label for link in at.get("page_link")]
        return _bare(" ".join([*(str(part.value) for part in parts), *links]))

    def unit_of(self, label: str) -> str:
        """The style that puts a unit into a field."""
        key = next(field.key for field in self.at.text_input if field.label == label)
        return next(rule for rule in self.at.session_state["marks"] if f"st-key-{key} " in rule and "Root" in rule)

    def click(self, key: str) -> "Visit":
        """Press a button."""
        self.at.button(key=key).click()
        return self.run()

    def enter(self, label: str, text: str) -> "Visit":
        """Type into the text field of a label."""
        next(field for field in self.at.text_input if field.label == label).set_value(text)
        return self.run()


def _bare(text: str) -> str:
    """What a browser shows of escaped text: `energyplan.app.pieces.plain` taken back."""
    return text.replace("\\", "").replace(":small[]", "")


@pytest.fixture
def visit() -> Callable[..., Visit]:
    """A function that opens the app: page by its address, start and more by the query."""
    return Visit
