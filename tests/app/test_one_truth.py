"""One number per quantity: whatever is said of a day is the same on every page, in report, sheet and JSON.

A number's label is what stands around it: the same words with another number would be two values of one quantity, and
so would two cells under one heading beside the same words. Where two places say one thing in other words, `SAME_THING`
names them.
"""

import io
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from rich.console import Console

from energyplan.advice.answer import answer
from energyplan.app import brewery, keep
from energyplan.app.answers import TariffText, packaged, start_of, tariff_of
from energyplan.app.main import VIEWS
from energyplan.app.sharing import asked_for
from energyplan.app.state import Day, Lying, Work
from energyplan.app.storage import kept_texts
from energyplan.base.kinds import Style
from energyplan.faces.files import Making, file_bytes
from energyplan.faces.frames import document
from energyplan.faces.terminal import screen, terminal
from energyplan.plan.file import parse_plan, read_plan
from energyplan.telling.files import file_told
from energyplan.telling.report import PARTS, report_told, screen_told

Open = Callable[..., Any]
Cell = tuple[str, str, float]  # what a row is called, key of the column, number
DAYS = Path(__file__).parents[1] / "days"
START = {"day": "2026-12-05", "at": "08:30"}  # as every visit of these tests asks
WALL = datetime(2026, 12, 5, 8, 30)  # noqa: DTZ001 - a wall clock
PARTS_OF = {"your-brewery": brewery.PARTS, "keep": keep.PARTS}
FEWEST_WORDS = 3
FEWEST_SHARED = 10  # labels, and cells, that stand in two places or more: 14 and 58 at least; else little was compared
WORTH = ("fold_worth", "fold_changes", "best_go")
FOLDS = ("batch", "stretches", "room", "how_sure")
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:[.:]\d+)*")
RULE = re.compile(r"\b(?:BS|IEC|NEC|EN|UL|PDF)\b")  # numbers of standards are names

FEWEST = defaultdict(
    lambda: 9, {"bare": 5, "US units": 8}
)  # of the quantities below that are said; steam in pounds is not
# A plan that is the visitor's, and the tariff beside it, by what the case is called.
OWN = {
    "garage": ("cold_garage.toml", "cold_garage_tariff.toml"),
    "kitchen": ("small_kitchen.toml", "small_kitchen_tariff.toml"),
    "pair": ("two_batches.toml", "two_batches_tariff.toml"),
    "weak": ("", "two_rate"),
    "bare": ("", ""),
    "list": ("", "list"),
}
# A price for each quarter of an hour, in UTC, dear in the evening and below nothing at noon of one day.
LISTED = """
[tariff]
name = "Quarter hours"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "Europe/Berlin"
[tariff.prices]
file = "prices.csv"
clock = "utc"
step_minutes = 15
"""
PACKAGED = {
    "demo": {}, "lakeside": {"plan": "lakeside", "tariff": "dear_evening"}, "less water": {"batch.water": "24 L"},
    "US units": {"units": "us"}, "noon": {"at": "13:15", "tariff": "three_band"},
    "souring": {"plan": "sour", "tariff": "two_rate"},
}  # fmt: skip

MOMENT = r"(?:\w+ \d+ \w+ )?(\d\d:\d\d)"  # with its day where that is another
SAME_THING = {
    "energy of the day": (
        r"^([\d.]+) kWh (?:\(|and|$|,)", r"Energy ([\d.]+) kWh",
        r"as it is takes ([\d.]+) kWh", r"^The day .*? ([\d.]+) [\d.]+$",
    ),
    "cost of the day": (
        r"^[\d.]+ kWh(?: \([^)]*\))? and ([\d.]+) [A-Z]{3}(?: \(|,)",
        r"Cost ([\d.]+) [A-Z]{3}",
        r"kWh and ([\d.]+) [A-Z]{3}, \d+ brews a year", r"08:30(?: on \w+ \d+ \w+ \d+)? costs ([\d.]+) [A-Z]{3}",
    ),
    "end of the day": (
        rf"done at {MOMENT} if", rf"Done at {MOMENT}", rf"vessel is done at {MOMENT}",
    ),
    "boil": (r"The boil begins at (\d\d:\d\d)", r"^(\d\d:\d\d) (?:\d\d:\d\d to \d\d:\d\d )?The boil begins"),
    # What goes through an outlet is one current, what goes through the breaker with all that hangs on it another.
    "current": (r"Current ([\d.]+) A of", r"[Ww]ithin the ratings you entered: ([\d.]+) A of"),
    "current through the breaker": (
        r"([\d.]+) A with all elements on",
        r"[Ww]ithin the ratings you entered:(?:.*;)? ([\d.]+) A of [\d.]+ A breaker",
    ),
    "rating": (r"Current [\d.]+ A of ([\d.]+) A", r"[Ww]ithin the ratings you entered: [\d.]+ A of ([\d.]+) A"),
    "range of the energy": (r"Energy [\d.]+ kWh ([\d.]+ to [\d.]+)", r"^[\d.]+ kWh \(([\d.]+ to [\d.]+)\)"),
    "range of the end": (
        r"Done at \d\d:\d\d (\d\d:\d\d to \d\d:\d\d)",
        r"^\d\d:\d\d (\d\d:\d\d to \d\d:\d\d) Switch off: the vessel",
    ),
    "cheapest start": (
        r"[Cc]heapest start of the coming week[^:]*? is (\d\d:\d\d on \w+ \d+ \w+ \d+)",
        r"^Start at (\d\d:\d\d on \w+ \d+ \w+ \d+)",
    ),
    "steam": (r"([\d.]+) kg of steam go into the room", r"heat and ([\d.]+) kg of steam"),
}  # fmt: skip


def day_of(case: str) -> Day:
    """A day of the visitor's own."""
    plan_name, tariff_name = OWN[case]
    if plan_name:
        plan = parse_plan((DAYS / plan_name).read_text(), source=plan_name)
    else:
        demo = read_plan("demo")
        weak = {"voltage_v": 230.0, "breaker_a": 10.0} if case == "weak" else {}
        circuit = demo.circuit.model_copy(update=weak) if demo.circuit and weak else None
        plan = demo.model_copy(update={"title": f"A {case} day", "circuit": circuit})
    tariff = quarter_hours() if tariff_name == "list" else packaged().get(tariff_name)
    if tariff is None and tariff_name:
        tariff = TariffText(name=tariff_name, text=(DAYS / tariff_name).read_text())
    return Day(plan=plan, tariff=tariff, wall=WALL)


def quarter_hours() -> TariffText:
    """Ten days of prices, as an exchange publishes them."""
    starts = [datetime(2026, 12, 3, 23, tzinfo=UTC) + timedelta(minutes=15 * count) for count in range(960)]
    rows = [
        f"{at:%Y-%m-%dT%H:%M},{-2 if (at.day, at.hour) == (6, 11) else 20 + 15 * (at.hour in (16, 17))}"
        for at in starts
    ]
    return TariffText(name="list", text=LISTED, series=(("prices.csv", "\n".join(["start,price", *rows])),))


def opened(visit: Open, case: str) -> Any:
    """The app with a case on its desk, every fold of it open."""
    if case in PACKAGED:
        there = visit(**PACKAGED[case])
    else:
        day = day_of(case)
        work = Work(lying=Lying(day=day), base=day.plan, opened=day.plan, greeted=True)
        texts = {name: text for name, text in kept_texts(work, {**START, **asked_for(work)}).items() if text}
        there = visit(kept=texts, **asked_for(work))
        assert there.work.plan == day.plan
    for fold in FOLDS:
        there.at.session_state[f"fold_{fold}"] = True
    for key in WORTH:
        there.at.session_state[key] = True
    return there.run()


def lines_of(page: Any) -> list[str]:
    """What a page says, line by line, without marks."""
    at = page.at
    parts = [*at.title, *at.header, *at.subheader, *at.text, *at.markdown, *at.caption]
    links = [link.proto.label for link in at.get("page_link")]
    texts = [line for part in [*(str(part.value) for part in parts), *links] for line in str(part).splitlines()]
    return [re.sub(r"[*#]|:\w+\[|\]|\\|:small", "", text).strip() for text in texts]


def cells_of(page: Any) -> Iterator[Cell]:
    """The numbers of a page's tables."""
    for told in page.at.dataframe:
        rows = [{name: value for name, value in row.items() if value == value} for _, row in told.value.iterrows()]
        yield from _cells(rows)


def cells_in(found: Any) -> Iterator[Cell]:
    """The numbers of the tables of a JSON document, wherever they stand in it; not those of the plan."""
    if isinstance(found, dict):
        for key, value in found.items():
            if key != "plan":
                yield from cells_in(value)
    elif isinstance(found, list) and found and all(isinstance(row, dict) for row in found):
        yield from _cells(found)
        for row in found:
            yield from (cell for value in row.values() if isinstance(value, list | dict) for cell in cells_in(value))


def _cells(rows: list[dict[str, Any]]) -> Iterator[Cell]:
    """Row by row: what it is called, which of that name it is, the column, the number."""
    seen: Counter[str] = Counter()
    for row in rows:
        texts = [str(row[name]) for name in ("step", "phase") if name in row]
        texts = texts or [str(value) for value in row.values() if isinstance(value, str) and value][:1]
        named = " ".join(texts)
        seen[named] += 1
        for key, value in row.items():
            if isinstance(value, int | float) and not isinstance(value, bool):
                yield f"{named} #{seen[named]}", str(key), float(value)


def elsewhere(there: Any) -> dict[str, Any]:
    """Report, sheet and JSON of what lies on the desk, as their commands make them: lines of words, and JSON."""
    work = there.work
    tariff = tariff_of(work.tariff) if work.tariff else None
    found, style = answer(work.plan, tariff, start_of(work.plan, work.tariff, work.wall)), Style(work.units)
    wide = Console(width=2000, record=True, file=io.StringIO())
    wide.print(screen(screen_told(found), style), *(terminal(told(found), style) for told in PARTS.values()))
    pdf = file_bytes(file_told(found, ".pdf"), ".pdf", Making(style=style))
    sheet = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return {
        "report": [" ".join(line.split()) for line in wide.export_text().splitlines()],
        "sheet": [" ".join(sheet.split())],
        "JSON": document(report_told(found)),
    }


def labelled(lines: list[str]) -> dict[str, list[tuple[str, ...]]]:
    """Numbers by the words around them, sentence by sentence; words of few letters are no label."""
    found = defaultdict(list)
    for line in lines:
        for sentence in re.split(r"(?<=[.;]) (?=[A-Z])", line):
            label = NUMBER.sub("#", sentence)
            if "#" in label and not RULE.search(label) and len(re.findall(r"[a-z]{2,}", label)) >= FEWEST_WORDS:
                found[label].append(tuple(NUMBER.findall(sentence)))
    return found


def named(lines: list[str]) -> Iterator[tuple[str, str]]:
    """The quantities of `SAME_THING` in some lines."""
    for name, patterns in SAME_THING.items():
        for pattern in patterns:
            yield from ((name, found[1]) for line in lines if (found := re.search(pattern, line)))


def agree(numbers: Mapping[str, list[tuple[str, ...]]]) -> bool:
    """Whether what two or more places say under one label is one thing: the shorter list is part of the longer."""
    longest = max(numbers.values(), key=len)
    return all(set(said) <= set(longest) for said in numbers.values())


@pytest.mark.parametrize("case", [*PACKAGED, *OWN])
def test_no_quantity_has_two_values(visit: Open, case: str) -> None:
    """All pages with their folds open, the report with all its parts, the sheet and the JSON."""
    words: dict[str, dict[str, list[tuple[str, ...]]]] = defaultdict(dict)
    cells: dict[tuple[str, str], dict[str, float]] = defaultdict(dict)
    quantities: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))

    def collect(place: str, lines: list[str], found: Iterable[Cell]) -> None:
        for label, numbers in labelled(lines).items():
            words[label][place] = numbers
        now = [line for line in lines if not line.startswith("Then:")]  # what a mend would make of it
        for name, number in named(now):
            quantities[name][number].add(place)
        for row, key, number in found:
            cells[row, key].setdefault(place, number)

    there = opened(visit, case)
    for view in VIEWS:
        parts = PARTS_OF.get(view.address, ("",))
        for part in parts:
            if part:
                there.at.session_state[f"part_{view.address}"] = part
            page = there.go(view.address)
            collect(f"{view.title} {part}", lines_of(page), cells_of(page))
    other = elsewhere(there)
    collect("report", other["report"], ())
    collect("sheet", other["sheet"], ())
    if there.work.units == "metric":  # JSON is in SI, whatever the page shows
        collect("JSON", [], cells_in(other["JSON"]))

    assert {label: found for label, found in words.items() if not agree(found)} == {}
    assert {name: dict(found) for name, found in quantities.items() if len(found) > 1} == {}
    assert {cell: found for cell, found in cells.items() if not alike(found.values())} == {}
    assert len(quantities) >= FEWEST[case]
    assert sum(len(found) > 1 for found in words.values()) >= FEWEST_SHARED
    assert case == "US units" or sum(len(found) > 1 for found in cells.values()) >= FEWEST_SHARED


def alike(numbers: Iterable[float]) -> bool:
    """Whether written numbers are roundings of one; parts of a sum are rounded so that they add up: by one at most."""
    ordered = sorted(numbers)
    digits = min(len(f"{number:.6g}".partition(".")[2]) for number in ordered)
    return ordered[-1] - ordered[0] < 10.0**-digits


def test_the_check_can_fail() -> None:
    """Another number under the same words, or under the same heading, is found."""
    one, other = labelled(["The boil begins at 11:32."]), labelled(["The boil begins at 11:35."])
    (label,) = one
    assert not agree({"here": one[label], "there": other[label]})
    assert agree({"here": one[label], "there": one[label]})
    assert not alike([2.05, 2.03, 2.0461])
    assert alike([2.05, 2.0461])
