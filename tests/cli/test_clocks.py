"""One clock, the brewer's: where a plan names its place, no command reads or shows another one beside a tariff's."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

import energyplan
from energyplan.app.answers import TariffText, start_of
from energyplan.app.desk import _on_the_clock_of
from energyplan.plan.file import read_plan
from energyplan.tariffs.tariff import zone_name

DEMO = Path(energyplan.__file__).parent / "demo"

#: Six hours behind the prices of the demo, which are Dublin's.
PLACE = "America/Chicago"
SAID, MEANT = "2026-12-05T08:30", datetime(2026, 12, 5, 14, 30, tzinfo=UTC)


@pytest.fixture
def days(tmp_path: Path) -> dict[str, str]:
    """The demo's day in another place, and in none that is named."""
    found = {}
    for name, line in (("there", f'time_zone = "{PLACE}"'), ("nowhere", "")):
        brewery = tmp_path / f"{name}-brewery.toml"
        brewery.write_text((DEMO / "demo-brewery.toml").read_text().replace('time_zone = "Europe/Dublin"', line))
        plan = tmp_path / f"{name}.toml"
        plan.write_text((DEMO / "demo.toml").read_text().replace("demo-brewery.toml", brewery.name))
        found[name] = str(plan)
    return found


def document(run: Any, *args: str) -> dict[str, Any]:
    """What a command says as JSON."""
    code, out, err = run(*args, "--json")
    assert code == 0, err
    return json.loads(out)


def test_a_start_is_read_on_the_clock_of_the_place(run: Any, days: dict[str, str]) -> None:
    """And costs what the same moment costs on the clock of the prices, in every command that has a price."""
    charged = ("--tariff", "demo", "--start")
    here = document(run, "report", days["there"], *charged, SAID)
    same = document(run, "report", days["nowhere"], *charged, "2026-12-05T14:30")
    assert (here["start"], here["time_zone"]) == ("2026-12-05T14:30:00Z", PLACE)
    assert (same["start"], same["time_zone"]) == ("2026-12-05T14:30:00Z", "Europe/Dublin")
    assert here["totals"]["cost"] == same["totals"]["cost"]
    cost = here["totals"]["cost"]
    assert document(run, "savings", days["there"], *charged, SAID)["base_cost"] == pytest.approx(cost)
    several = document(run, "tariff", "compare", days["there"], "demo", "demo", "--start", SAID)
    assert [one["day"] for one in several["tariffs"]] == pytest.approx([cost] * 2)
    beside = document(run, "compare", days["there"], days["there"], *charged, SAID)
    assert beside["days"][0]["cost"] == pytest.approx(cost)


def test_hours_are_kept_on_the_clock_of_the_place(run: Any, days: dict[str, str]) -> None:
    """Starts, days and the habit's year are of that clock; the prices keep their own."""
    found = document(
        run, "starts", days["there"], "--tariff", "demo", "--from", "2026-12-05", "--to", "2026-12-07",
        "--earliest", "07:00", "--finish-by", "20:00", "--start", SAID,
    )  # fmt: skip
    assert found["time_zone"] == PLACE
    assert found["now"]["start"] == "2026-12-05T14:30:00Z"
    starts = [datetime.fromisoformat(one["start"]).astimezone(ZoneInfo(PLACE)) for one in found["best_per_day"]]
    assert [one.day for one in starts] == [5, 6, 7]
    assert all(7 <= one.hour < 20 for one in starts)
    cheap = document(run, "tariff", "compare", days["there"], "demo", "demo", "--start", SAID)["tariffs"][0]
    assert datetime.fromisoformat(cheap["best_start"]).astimezone(ZoneInfo(PLACE)).date().day == 5


@pytest.mark.parametrize("command", ["unattended", "report"])
def test_without_a_place_every_command_has_the_clock_of_the_prices(
    run: Any, days: dict[str, str], command: str
) -> None:
    """Also those that need no price: the same day must not lie at two times."""
    told = document(run, command, days["nowhere"], "--tariff", "demo", "--start", "2026-07-04T08:30")
    assert (told["start"], told["time_zone"]) == ("2026-07-04T07:30:00Z", "Europe/Dublin")


def test_the_app_reads_the_same_clock(days: dict[str, str]) -> None:
    """Also where prices that don't reach the day are left aside."""
    prices = TariffText(name="demo", is_packaged=True)
    wall = datetime.fromisoformat(SAID)
    there, nowhere = read_plan(days["there"]), read_plan(days["nowhere"])
    assert start_of(there, prices, wall) == MEANT
    assert start_of(nowhere, prices, wall) == MEANT.replace(hour=8)
    assert zone_name(_on_the_clock_of(there, prices).site, None) == PLACE
    assert zone_name(_on_the_clock_of(nowhere, prices).site, None) == "Europe/Dublin"
