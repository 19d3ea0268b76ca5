"""Words that readers did not understand, and those of files and commands, stand on no page."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from energyplan.app import brewery, keep
from energyplan.app.entries import SECTIONS
from energyplan.app.main import VIEWS
from energyplan.learning.logfile import demo_logs
from energyplan.telling import told

Open = Callable[..., Any]
PLANS = ({}, {"plan": "lakeside", "units": "us"}, {"plan": "pale-ale"}, {"plan": "sour"}, {"tariff": "none"})
PARTS = {"your-brewery": brewery.PARTS, "keep": keep.PARTS}
FOLDS = ("batch", "stretches", "room", "how_sure", "worth")
# A command, a flag, a key of a file, a type, and what was said before in words that nobody outside used.
NEVER = {
    "command": r"\benergyplan (?!\d)\w+",
    "flag": r"(?<!\w)--[a-z]",
    "table of a file": r"\[(?:vessel|batch|site|circuit|supply|hours|step|second_heater|tariff)\]",
    "key of a file": r"\b[a-z]+_[a-z_]+ =",
    "type of a developer": r"\b(?:tuple|dict|None|NaN|nan|bool|str)\b",
    "at most 500 items": r"should have at most \d+ items",
    "share of the time": r"\b[Dd]uty\b",
    "pulses counted": r"pulses counted",
    "share of the volume": r"% of the volume an hour takes",
    "stretch": r"at a stretch that no quarter of an hour breaks",
    "neither": r"none has both fewer minutes and less cost",
    "set-up": r"\b[Ss]et-up shows every input|\bSet-up\b",
    "energy": r"uses more energy",
    "small unit": r"\d w\b",
    "nine in ten": r"[Nn]ine days (?:in|of) ten|[Ee]ight days in ten",
    "safe": r"\b[Ss]afe(?:ly|ty)?\b",
}


@pytest.mark.parametrize("query", PLANS, ids=str)
def test_no_page_says_them(visit: Open, query: dict[str, str]) -> None:
    """Every page and part with its folds open."""
    there = visit(**query)
    for fold in FOLDS:
        there.at.session_state[f"fold_{fold}"] = True
    for view in VIEWS:
        for part in PARTS.get(view.address, ("",)):
            if part:
                there.at.session_state[f"part_{view.address}"] = part
            page = there.go(view.address)
            said = f"{page.words} {' '.join(hints(page))}"
            found = {name: said[max(hit.start() - 60, 0) : hit.end() + 40] for name, rule in NEVER.items()
                     if (hit := re.search(rule, said))}  # fmt: skip
            assert found == {}, f"{view.title} {part}"


def hints(page: Any) -> list[str]:
    """Labels and hints of the fields and buttons."""
    at = page.at
    fields = [*at.text_input, *at.number_input, *at.selectbox, *at.slider, *at.button, *at.checkbox, *at.toggle]
    return [f"{one.label} {one.proto.help}" for one in fields]


def test_an_entry_that_is_wrong_is_told_in_the_labels_of_the_form(visit: Open) -> None:
    """Water hotter than any, watts of grain, no number at all: no key, no file, no type."""
    for label, text in (("Temperature of the water", "900"), ("Grain", "4 W"), ("Sparge water", "much")):
        there = visit("batch").enter(label, text)
        assert "Not taken over" in there.words
        assert {name: rule for name, rule in NEVER.items() if re.search(rule, there.words)} == {}


def test_a_log_stays_whatever_is_typed_beside_it(visit: Open) -> None:
    """A bare 18 is litres, and nonsense is an error; the file is there after both, and so is its fit."""
    there = visit("your-vessel")
    there.at.file_uploader(key="log_file").set_value(("cool.csv", demo_logs()["cool-down"].encode(), "text/csv"))
    there.run()
    fitted = there.headline
    assert fitted.startswith("Measured")
    there.at.text_input(key="log_water").set_value("18")
    there.run()
    assert there.headline.startswith("Measured")
    assert there.headline != fitted
    there.at.text_input(key="log_water").set_value("a bucket")
    there.run()
    assert "can't be used" in there.headline
    assert there.at.file_uploader(key="log_file").value is not None
    there.at.text_input(key="log_water").set_value("")
    there.run()
    assert there.headline == fitted


#: Told with a form of their own, or of three lines, which only a file can say so far.
ELSEWHERE = {"supply.month_kwh_so_far", "circuit.line"}


def test_what_somebody_is_asked_to_enter_has_a_field() -> None:
    """A sentence that says "enter this" leads to a field of that name, not to the words of a key."""
    fields = {".".join(entry.path) for part in SECTIONS for entry in (*part.entries, *part.further)}
    telling = "".join(path.read_text(encoding="utf-8") for path in Path(told.__file__).parent.glob("*.py"))
    asked = set(re.findall(r'"((?:vessel|batch|site|circuit|supply)\.[a-z_]+)"', telling))
    assert len(asked) > 10
    assert asked - fields == ELSEWHERE


@pytest.mark.parametrize("page", ["circuit", "circuit-entries"])
def test_a_plan_without_a_circuit_is_told_no_key_of_a_file(visit: Open, page: str) -> None:
    """The first sentence is written as all else on the page."""
    there = visit(page)
    there.work.open(replace(there.work.day, plan=there.work.plan.model_copy(update={"circuit": None})))
    there.run()
    assert "not checked" in there.headline
    assert "[" not in there.headline
