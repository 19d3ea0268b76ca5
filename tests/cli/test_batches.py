"""The commands about more batches, the house's meter and what to measure next."""

import json
import re
from pathlib import Path

import pytest

from energyplan.plan.file import demo_plans

START = ("--start", "2026-12-05T08:30")
HOUSE = """
[supply]
contracted_power = "3 kW"
contract_allows = "10 %"
base_load = "200 W"
month_peak = "2.4 kW"
[[house_load]]
name = "Oven"
power = "2 kW"
from = "12:00"
to = "13:00"
[fermentation]
power = "120 W"
time = "14 day"
"""
PEAK = """
[tariff]
name = "Test"
currency = "EUR"
price_unit = "EUR/kWh"
time_zone = "Europe/Dublin"
[[tariff.band]]
name = "all"
price = 0.3
[tariff.peak_charge]
window_minutes = 15
price_per_kw_month = 4
free_up_to_kw = 1.0
"""


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """The packaged plan with a contract, a house and a fermentation."""
    path = tmp_path / "house.toml"
    path.write_text(demo_plans()["demo"] + HOUSE, encoding="utf-8")
    return path


@pytest.fixture
def tariff(tmp_path: Path) -> Path:
    """A flat tariff with a peak charge."""
    path = tmp_path / "peak.toml"
    path.write_text(PEAK, encoding="utf-8")
    return path


def test_batches_in_words(run, house: Path) -> None:
    """Every way has a row within 80 columns; the tank, the cleaning and the fermentation are named."""
    code, out, err = run("batches", str(house), "--tariff", "two_rate", *START, "--kept", "25 L at 55 degC")
    assert (code, err) == (0, "")
    assert all(len(line) <= 80 for line in out.splitlines())
    assert len(out.splitlines()) <= 40
    said = (
        "as planned", "Two on one day", "two, chiller water kept", "EUR/L", "kWh/hL", "for the cleaning save",
        "With the fermentation", "More does not go", "Elements are on for", "one cleaning at",
    )  # fmt: skip
    for words in said:
        assert words in out


def test_batches_in_json(run, house: Path) -> None:
    """Numbers as in the text: the ways, what fits, what is kept."""
    code, out, _ = run("batches", str(house), *START, "--kept", "20 L at 50 degC", "--wait", "1 h", "--json")
    found = json.loads(out)
    assert code == 0
    assert [way["key"] for way in found["ways"]] == ["planned", "bigger", "two", "two_kept"]
    assert found["bigger"]["fits"] is True
    assert found["reuse"]["kept"]["wait_s"] == 3600.0
    assert found["two_kept"]["energy_kwh"] < found["two"]["energy_kwh"] < found["two"]["apart_kwh"]
    assert found["whole"]["cost"] is None
    assert found["ways"][0]["circuit"]["findings"]


def test_a_batch_that_does_not_fit(run) -> None:
    """It is said, with the reason; without a tank nothing of the chiller's heat counts."""
    code, out, _ = run("batches", "lakeside", *START, "--litres", "80 L", "--units", "us")
    assert code == 0
    assert "can't be brewed here" in out
    assert "None of it counts until it is kept" in out
    assert not re.search(r"°C|degC|\d (L|kg|cm|K)\b|kWh/hL", out)
    assert json.loads(run("batches", "lakeside", *START, "--litres", "80 L", "--json")[1])["bigger"]["batch"] is None


@pytest.mark.parametrize(
    ("arguments", "said"),
    [(("--kept", "25 L"), "write volume and temperature"), (("--kept", "45 L at 80 degC"), "more heat than"),
     (("--litres", "35"), "unit"), (("--between", "soon"), "soon")],
)  # fmt: skip
def test_odd_questions(run, arguments: tuple[str, ...], said: str) -> None:
    """One message on stderr, exit 2."""
    code, out, err = run("batches", "demo", *START, *arguments)
    assert (code, out) == (2, "")
    assert said in err


def test_the_house_in_circuit_and_report(run, house: Path, tariff: Path) -> None:
    """Contract and peak stand among the findings of both, and in the JSON of the circuit."""
    for command in (("circuit",), ("report", "--show", "circuit")):
        code, out, _ = run(*command, str(house), "--tariff", str(tariff), *START)
        assert code == 0
        assert "The house draws" in out
        assert "the supply drops" in " ".join(out.split())
        if command == "circuit":
            assert "The highest 15 minutes of the clock" in " ".join(out.split())
    _, out, _ = run("circuit", str(house), "--tariff", str(tariff), *START, "--json")
    found = json.loads(out)["house"]
    assert [finding["code"] for finding in found["findings"]] == ["contract", "month_peak"]
    assert found["contract"]["limit_w"] == pytest.approx(3300.0)
    (month,) = found["peak"]["months"]
    assert month["first_day"] == f"{START[1][:7]}-01"
    assert month["added"] > 0
    assert month["start"] in {window["start"] for window in found["peak"]["windows"]}
    assert max(window["kw"] for window in found["peak"]["windows"]) == month["peak_kw"]
    assert "capped" not in found["keeps_below"] or found["keeps_below"]["capped"] is None
    assert json.loads(run("circuit", "demo", *START, "--json")[1])["house"] is None


def test_the_house_without_a_circuit(run, house: Path) -> None:
    """A contract is judged although nothing is known of the circuit."""
    text = house.read_text(encoding="utf-8")
    head, _, rest = text.partition("[circuit]")
    bare = head + rest[rest.index("[[other_load]]") :]
    house.write_text(bare, encoding="utf-8")
    code, out, _ = run("report", str(house), *START, "--show", "circuit")
    assert code == 0
    assert "The house draws" in out


def test_spread_says_what_to_measure_and_how(run) -> None:
    """A table of what each input narrows, and the way to measure the best."""
    _, out, _ = run("spread", "demo", *START, "--draws", "100")
    assert "Once measured, narrows" in out
    assert "Measure next: " in out
    assert "Hold cap of the mash" in out
    _, out, _ = run("spread", "demo", *START, "--draws", "100", "--tariff", "demo", "--json")
    found = json.loads(out)
    assert {"input", "energy_kwh_frac", "hold_cap_w_frac"} <= set(found["narrows"][0])
    assert found["measure_next"] == "loss_factor"
    assert all(share <= 1 for row in found["narrows"] for key, share in row.items() if key.endswith("_frac"))
