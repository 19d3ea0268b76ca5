"""The library as a program or a notebook sees it."""

import ast
import os
import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

import energyplan as ep
from energyplan.base.errors import ClockError, FileError
from energyplan.plan.file import demo_plans

START = "2026-12-05T08:30"
TODAY = date(2026, 12, 5)
NOON = datetime(2026, 12, 5, 12, tzinfo=UTC)
DAY = ep.simulate(ep.read_plan("demo"))
LINE = ep.price_line(ep.load_tariff("demo"), TODAY, TODAY)


@pytest.fixture(scope="module")
def day() -> ep.BrewDay:
    """The packaged demo, played through."""
    return ep.simulate(ep.read_plan("demo"))


@pytest.fixture(scope="module")
def found() -> ep.Answer:
    """The packaged demo, answered."""
    return ep.answer("demo", "demo", START)


def test_a_shell_offers_the_public_names_alone():
    """What completes after ``ep.`` is what can be used: no import of the module's own."""
    assert [name for name in dir(ep) if not name.startswith("_")] == ep.__all__


@pytest.mark.parametrize("name", ep.__all__)
def test_every_public_name_is_there(name):
    """Each name in ``__all__`` can be had from the package, is listed, and has a docstring."""
    assert getattr(ep, name).__doc__
    assert name in dir(ep)


def test_type_checkers_see_the_same_names_in_the_same_places():
    """What is imported for type checkers, what is imported when used, and ``__all__`` agree."""
    tree = ast.parse(Path(ep.__file__).read_text(encoding="utf-8"))
    block = next(one for one in tree.body if isinstance(one, ast.If))
    lines = [line for line in block.body if isinstance(line, ast.ImportFrom)]
    seen = {alias.name: line.module for line in lines for alias in line.names}
    assert {name: seen[name] for name in ep._HOMES} == {name: f"energyplan.{home}" for name, home in ep._HOMES.items()}
    assert sorted([*ep._HOMES, "chart", "frame"]) == ep.__all__


def test_to_import_it_is_light():
    """Neither tables nor charts nor numbers until they are asked for; every name can be imported with a star."""
    call = "import sys, energyplan; print([name for name in ('numpy', 'pandas', 'pydantic') if name in sys.modules])"
    everything = "from energyplan import *; print(simulate.__name__)"
    for words, said in ((call, "[]\n"), (everything, "simulate\n")):
        done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)  # noqa: S603
        assert done.stdout == said


def test_other_names_are_not():
    """An unknown name is an ordinary AttributeError."""
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        ep.nonsense  # noqa: B018


def test_what_it_returns_is_shown_in_one_line(day, found):
    """In a shell: the name, and what matters; however long the day."""
    for one in (day.plan, day, found, found.circuit, found.power, found.price, found.price.line, found.price.total):
        assert "\n" not in repr(one)
        assert len(repr(one)) < 700, type(one)
    assert repr(day).startswith("BrewDay('Oat stout for the village hall', ")
    assert repr(found).endswith(f"from 2026-12-05T08:30+00:00, {found.price.total.total})")


def test_a_notebook_shows_a_small_table(day, found):
    """One row per phase; what a person wrote is not obeyed."""
    assert day._repr_html_().count("<tr>") == len(day.phases) + 1
    assert found._repr_html_().count("EUR") == len(day.phases)
    assert found.circuit._repr_html_().count("<tr>") == len(found.circuit.lines) + 1
    assert found.power._repr_html_().count("<tr>") == len(found.power.rows) + 1
    nasty = day.plan.model_copy(update={"title": "<script>alert(1)</script>"})
    assert "<script>" not in ep.simulate(nasty)._repr_html_()


def test_a_search_of_starts_shows_its_best(day):
    """The best and the dearest, by the local clock, with their cost."""
    tariff = ep.load_tariff("demo")
    first, last = datetime(2026, 12, 5, 6, tzinfo=UTC), datetime(2026, 12, 5, 12, tzinfo=UTC)
    line = ep.price_line(tariff, date(2026, 12, 5), date(2026, 12, 6))
    search = ep.find_starts(day.profiles, line, first=first, last=last)
    shown = search._repr_html_()
    assert str(search.best.cost) in shown
    assert str(search.worst.cost) in shown
    assert shown.count("<tr>") == 3
    for naive in ({"first": first.replace(tzinfo=None)}, {"last": last.replace(tzinfo=None)}):
        with pytest.raises(ClockError, match="has no zone"):
            ep.find_starts(day.profiles, line, **{"first": first, "last": last, **naive})


def test_a_day_is_a_data_frame(day, found):
    """A row for each phase, in SI; an answer also has its clock and its money."""
    frame, priced = ep.frame(day), ep.frame(found)
    assert list(frame["step"]) == [phase.step for phase in day.phases]
    assert frame["energy_kwh"].sum() == pytest.approx(day.energy_kwh - day.profiles[1].energy_kwh)
    assert not {"start", "end", "cost"} & set(frame.columns)
    assert priced["start"][0].isoformat() == "2026-12-05T08:30:00+00:00"
    assert (priced["end"] - priced["start"]).dt.total_seconds().sum() == pytest.approx(day.duration_s, abs=10)
    beside = float(found.price.beside_vessel.exact)
    assert priced["cost"].sum() == pytest.approx(float(found.price.total.total.exact) - beside)
    assert ep.frame(day, units="us")["to_f"].max() == pytest.approx(frame["to_c"].max() * 1.8 + 32)


def test_a_day_is_a_chart(day, found):
    """What a notebook draws, and a browser can: layers that follow the schema."""
    import vl_convert

    for chart in (ep.chart(day), ep.chart(found, units="us")):
        assert chart.to_dict()["layer"]
        assert vl_convert.vegalite_to_svg(chart.to_dict()).startswith("<svg")
        assert any("vega" in kind or "html" in kind for kind in chart._repr_mimebundle_())
    assert "begins at 00:00" in ep.chart(day).to_dict()["description"]


def test_names_paths_and_objects_are_the_same_answer(found, tmp_path):
    """As the commands take them; a plan's brewery may name the tariff."""
    path = tmp_path / "mine.toml"
    path.write_text('tariff = "demo"\n' + demo_plans()["demo"], encoding="utf-8")
    mine = ep.answer(path, start=START)
    read = ep.answer(ep.read_plan("demo"), ep.load_tariff("demo"), datetime(2026, 12, 5, 8, 30, tzinfo=UTC))
    assert mine.price.total.total == found.price.total.total == read.price.total.total
    assert ep.answer("lakeside").price is None


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: ep.answer(3), 'a path, or a name such as "demo"'),
        (lambda: ep.answer("demo", 3), 'a path, or a name such as "demo"'),
        (lambda: ep.simulate("demo"), "give what read_plan or parse_plan returned"),
        (lambda: ep.frame("demo"), r"give what simulate\(plan\) or answer"),
        (lambda: ep.chart(ep.read_plan("demo")), r"give what simulate\(plan\) or answer"),
        (lambda: ep.answer("demo", start=8), "8 is no start: give a datetime, or text such as 2026-12-05T08:30"),
        (lambda: ep.answer("demo", start=TODAY), "is no start: give a datetime, or text such as"),
        (lambda: ep.advise(ep.read_plan("demo")), r"give what simulate\(plan\) returned"),
        (lambda: ep.price_line("demo", TODAY, TODAY), "is no tariff: give what load_tariff returned"),
        (lambda: ep.price_line(ep.load_tariff("demo"), START, START), "is no day of the calendar: give a date"),
        (lambda: ep.price(DAY, LINE, NOON), "is no load: give the profiles of a day, day.profiles"),
        (lambda: ep.price(DAY.profiles, LINE, START), "is no moment: give a datetime with its offset from UTC"),
        (lambda: ep.find_starts(DAY, LINE, first=NOON, last=NOON), "is no load: give the profiles of a day"),
        (lambda: ep.check(DAY, DAY.plan.circuit, (), NOON, UTC), "is no load: give the profiles of a day"),
    ],
)
def test_what_is_no_day_is_said(wrong, said):
    """Errors say what was wanted."""
    with pytest.raises(TypeError, match=said):
        wrong()


def test_a_name_that_is_none_is_said():
    """A plan that isn't there."""
    with pytest.raises(FileError, match='expected a plan; give its path, or "demo"'):
        ep.answer("demmo")


@pytest.mark.parametrize("machine", ["Pacific/Auckland", "America/Chicago", "UTC"])
def test_a_start_without_a_zone_is_read_in_the_plans(machine):
    """Never on the machine's clock: the same money whatever its zone."""
    call = (
        "import energyplan as ep; from datetime import datetime\n"
        "for given in (datetime(2026, 7, 5, 8, 30), '2026-07-05T08:30'):\n"
        "    found = ep.answer('demo', 'demo', given); print(found.start.isoformat(), found.price.total.total)\n"
        "print(ep.answer('demo', None, datetime(2026, 7, 5, 8, 30)).start.isoformat())\n"
    )
    here = {**os.environ, "TZ": machine, "PYTHONPATH": str(Path(ep.__file__).parents[1])}
    done = subprocess.run([sys.executable, "-c", call], env=here, capture_output=True, text=True, check=True)  # noqa: S603
    said = done.stdout.splitlines()
    assert [line.split()[0] for line in said] == ["2026-07-05T07:30:00+00:00"] * 3  # summer time in Dublin
    assert said[0] == said[1]


def test_a_start_that_the_clock_shows_twice_or_never_is_refused():
    """With both readings, or the times around the gap."""
    with pytest.raises(ClockError, match="does not exist in Europe/Dublin"):
        ep.answer("demo", "demo", datetime(2026, 3, 29, 1, 30))  # noqa: DTZ001 - that is the question
    with pytest.raises(ClockError, match="shows it twice"):
        ep.answer("demo", "demo", "2026-10-25T01:30")
