"""Readers of files under mutated text: a plan, a tariff, a log, or an error of ours that can be told."""

import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import energyplan
from energyplan.base.errors import FileError, LogError, PlanError, TariffError
from energyplan.learning.logfile import parse_log
from energyplan.plan.file import MOST_PROBLEMS, demo_plans, parse_plan
from energyplan.tariffs.tarifffile import parse_tariff

TARGETS_FILE = Path(__file__).with_name("targets.py")


def _targets() -> ModuleType:
    spec = importlib.util.spec_from_file_location("tests_fuzz_targets", TARGETS_FILE)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


TARGETS = _targets()

# What slips of a hand, of another program or of somebody with bad intent leave in a file.
ODD = (
    "", " ", "\n", "\r", "\r\n", "\t", "\0", "\ufeff", '"', "'", '"""', "=", "[", "]", "[[", "]]", "{", "}", ",", ";",
    ".", "-", "#", "é", "𝟙", "٣", "\u202e", "nan", "-inf", "1e400", "1e-400", "0", "-1", "0x7f", "9" * 5000, "1_0",
    "0x" + "f" * 5000, "1e99999999999999999999", "true", "2026-02-29", "2026-03-29T01:30:00", "24:00", "25:61",
    "a.a.a", "99999 kW", "-3 degC", "12 AWG", "1 L**9", '"add grain"', "step", "boil = true\n", "[[step]]\n",
)  # fmt: skip


@st.composite
def mutated(draw: st.DrawFn, name: str) -> str:
    """A starting text of a target with up to six cuts, doublings, exchanges and odd insertions."""
    text = draw(st.sampled_from(TARGETS.starting_texts(name)))
    for _ in range(draw(st.integers(1, 6))):
        begin = draw(st.integers(0, len(text)))
        end = min(len(text), begin + draw(st.sampled_from([0, 1, 2, 5, 12, 40, 200])))
        put = draw(st.one_of(st.sampled_from(ODD), st.just(text[begin:end] * 2), st.text(max_size=6)))
        text = text[:begin] + put + text[end:]
    return text


@given(mutated("plan"))
@example("[step]\nname = 1\n" * 2)
@example('title = "\\u0000"')
def test_any_plan_text_is_a_plan_or_an_error_of_ours(text: str) -> None:
    """The reader of plans knows no other way out."""
    TARGETS.fuzz_plan(text)


@given(mutated("tariff"))
@example(TARGETS.SERIES_TARIFF + TARGETS.SEPARATOR + "start,price\r2026-01-01T00:00,1\r")
@example(TARGETS.SERIES_TARIFF + TARGETS.SEPARATOR + 'start,price\n"' + "a" * 200_000 + '",1\n')
@example(TARGETS.SERIES_TARIFF + 'time_format = "%Y %Y"' + TARGETS.SEPARATOR + TARGETS.SERIES)
def test_any_tariff_text_is_a_tariff_or_an_error_of_ours(text: str) -> None:
    """The reader of tariffs, and of the series beside them, knows no other way out."""
    TARGETS.fuzz_tariff(text)


@given(mutated("log"))
@example("time,temperature_c\n" + "\n".join(f"9999-12-31T23:59:5{k}-14:00,60" for k in range(10)))
@example("time,temperature_c\n" + "\n".join(f"{k}e300,60" for k in range(10)))
def test_any_log_text_is_a_log_or_an_error_of_ours(text: str) -> None:
    """The reader of logs knows no other way out."""
    TARGETS.fuzz_log(text)


@given(mutated("meter"))
@example(TARGETS.METER_CSV)
@example(TARGETS.METER_XML.replace("<value>3", "<value>1e999"))
@example(TARGETS.METER_XML.replace(">-1<", ">x<"))
def test_any_export_text_is_an_export_or_an_error_of_ours(text: str) -> None:
    """The reader of meters' exports knows no other way out."""
    TARGETS.fuzz_meter(text)


# Texts of a few hundred kilobytes that took all memory, or a traceback, before the reader had bounds.
BOMBS = {
    "a key of many parts": "a" + ".a" * 9_000 + " = 1",
    "a table of many parts": "[vessel" + ".'a'" * 4_000 + "]",
    "an endless key": "a" + ".a" * 200_000 + " = 1",
    "lists in lists": "title = " + "[" * 300 + "]" * 300,
    "tables in tables": "title = " + "{a = " * 200 + "1" + "}" * 200,
    "a long decimal number": "[vessel]\nfittings = " + "9" * 5_000,
    "a long hexadecimal number": "[vessel]\nfittings = 0x" + "f" * 9_000,
    "keys of many parts, quoted at length": "[" + ("'" + "b" * 101 + "'.") * 150 + "a]",
}


@pytest.mark.parametrize("kind", BOMBS)
def test_files_made_to_exhaust_the_reader_are_refused(kind: str) -> None:
    """Each is one sentence, as a plan and as a tariff."""
    with pytest.raises(PlanError, match="not valid TOML") as refused:
        parse_plan(BOMBS[kind], source="bomb.toml")
    assert len(str(refused.value)) < 200
    with pytest.raises(TariffError, match="not a TOML file"):
        parse_tariff(BOMBS[kind])


@pytest.mark.parametrize("number", ["1e99999999999999999999", "-1E-99999999999999999999"])
def test_exponents_beyond_decimals_are_refused(number: str) -> None:
    """An exact number with an exponent that no decimal can have is no TOML of ours."""
    with pytest.raises(TariffError, match="too large or too small"):
        parse_tariff(f"[tariff]\ntax_percent = {number}\n")


def test_the_largest_texts_are_bounded() -> None:
    """Uploads have the limits of files: a plan and a log that are larger are refused before they are read."""
    with pytest.raises(FileError, match="too many"):
        parse_plan("#" * 1_000_001)
    with pytest.raises(FileError, match="too many for a log"):
        parse_log("#" * 60_000_001)


def test_a_thousand_mistakes_are_not_all_told() -> None:
    """The count is that of all mistakes; the screen gets the first hundred."""
    with pytest.raises(PlanError, match="1003 things to mend, the first 100 of them") as refused:
        parse_plan("".join(f"key{number} = 1\n" for number in range(1000)))
    assert len(refused.value.problems) == MOST_PROBLEMS


def test_a_log_of_a_lifetime_is_refused() -> None:
    """A row of another year is more likely a slip than a brew day."""
    rows = [f"2026-11-07T08:{k:02d}:00,70" for k in range(10)]
    with pytest.raises(LogError, match="the readings span 366"):
        parse_log("\n".join(["time,temperature_c", *rows, "2027-11-08T16:00:00,70"]))


def test_a_log_counts_from_its_first_temperature() -> None:
    """The moment of the first reading is that of the first row that has a temperature."""
    rows = ["2026-11-07T08:00:00,", *(f"2026-11-07T08:{k:02d}:00,70" for k in range(5, 15))]
    log = parse_log("\n".join(["time,temperature_c", *rows]))
    assert log.start is not None
    assert (log.start.hour, log.start.minute) == (8, 5)
    assert log.times_s[0] == 0


def test_the_starting_texts_are_sound() -> None:
    """Mutations set out from texts that read, so that they reach beyond the first check."""
    assert set(TARGETS.starting_texts("plan")) == set(demo_plans().values())
    for text in TARGETS.starting_texts("tariff"):
        toml, _, series = text.partition(TARGETS.SEPARATOR)
        assert parse_tariff(toml, series_texts={TARGETS.SERIES_NAME: series}).name
    for text in TARGETS.starting_texts("log"):
        assert parse_log(text).times_s.size >= 8


@pytest.mark.parametrize("name", ["plan", "tariff", "log"])
def test_the_coverage_guided_fuzzer_starts(name: str, tmp_path: Path) -> None:
    """With atheris installed, a short search over each target ends without a crash."""
    pytest.importorskip("atheris")
    command = [sys.executable, str(TARGETS_FILE), name, "-runs=200"]
    # The package that is tested here, installed or not.
    around = {**os.environ, "PYTHONPATH": str(Path(energyplan.__file__).parents[1])}
    ended = subprocess.run(command, cwd=tmp_path, env=around, capture_output=True, text=True, check=False)  # noqa: S603
    assert ended.returncode == 0, ended.stderr[-2000:]
