"""The commands about tariffs and the hour."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from energyplan.plan.file import demo_plans

WEEK = ("--from", "2026-12-05", "--to", "2026-12-11")


def test_starts_finds_the_cheap_night(run):
    """With a night rate until eight the best start is at night, and its cost is the report's for that start."""
    code, out, _ = run("starts", "demo", "--tariff", "demo", *WEEK, "--json", "--start", "2026-12-05T09:00")
    found = json.loads(out)
    assert code == 0
    assert found["starts"] == 7 * 24 * 60
    assert found["best"]["cost"] < found["now"]["cost"] <= found["worst"]["cost"]
    _, out, _ = run("report", "demo", "--tariff", "demo", "--json", "--start", found["best"]["start"])
    assert json.loads(out)["totals"]["cost"] == pytest.approx(found["best"]["cost"], abs=1e-9)


def test_starts_keeps_the_limits(run):
    """Asked for an earliest and a finishing hour, not on Saturdays, every offered start keeps them."""
    limits = ("--earliest", "07:00", "--finish-by", "18:00", "--not-on", "sat")
    _, out, _ = run("starts", "demo", "--tariff", "demo", *WEEK, *limits, "--json")
    for option in json.loads(out)["best_per_day"]:
        start = datetime.fromisoformat(option["start"])
        assert start.hour >= 7
        assert start.weekday() != 5


def test_starts_picture_and_waiting(run):
    """The text shows the answer first, the picture by day and hour, and waiting only with its kWh and caution."""
    code, out, _ = run(
        "starts", "demo", "--tariff", "demo", *WEEK, "--mash-at", "2026-12-05T09:30", "--habit", "sat 09:00"
    )
    words = " ".join(out.split())
    assert code == 0
    assert out.startswith("Start at ")
    assert "darker is dearer" in words
    assert "more than the" in words
    assert "Fill in at" in words
    assert "nobody may be there" in words
    assert "brews at the usual time cost" in words
    assert max(len(line) for line in out.splitlines()) <= 80


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--from", "yesterday"), "no day"),
        (("--from", "2026-12-05", "--to", "2026-12-01"), "must follow"),
        (("--not-on", "noday"), "no weekday"),
        (("--attended", "08:00"), "write the hours as"),
        (("--habit", "often"), "write weekday and time"),
        (("--earliest", "25:00"), "25:00"),
    ],
)
def test_starts_says_what_it_does_not_understand(run, arguments, said):
    """Each odd word is named, with the way to write it."""
    code, out, err = run("starts", "demo", "--tariff", "demo", *arguments)
    assert (code, out) == (2, "")
    assert said in err


def test_starts_needs_a_tariff(run):
    """Without a tariff there is nothing to compare."""
    code, _, err = run("starts", "lakeside")
    assert code == 2
    assert "--tariff" in err


def test_tariff_check_draws_the_week(run):
    """Seven days of 48 half hours, and minutes that make whole days."""
    code, out, _ = run("tariff", "check", "three_band", "--date", "2026-12-05")
    assert code == 0
    assert "Sat 5 Dec" in out
    document = json.loads(run("tariff", "check", "three_band", "--date", "2026-12-05", "--json")[1])
    assert len({row["day"] for row in document["week"]}) == 7
    assert sum(row["minutes"] for row in document["week"]) == 7 * 24 * 60


def test_tariff_check_names_the_gap(run, tmp_path):
    """A tariff with a hole is drawn as a problem and gives exit 2."""
    file = tmp_path / "holed.toml"
    file.write_text(
        '[tariff]\nname = "Holed"\ncurrency = "EUR"\nprice_unit = "ct/kWh"\ntime_zone = "Europe/Dublin"\n'
        'prices_include_tax = true\n[[tariff.band]]\nname = "day"\nprice = 30\nfrom = "08:00"\nto = "23:00"\n'
    )
    code, out, _ = run("tariff", "check", str(file), "--date", "2026-12-05")
    assert code == 2
    assert "23:00" in out


def test_tariff_import_reads_the_open_schema(run, tmp_path):
    """A rate of the open schema becomes a tariff file that prices a day; what is lost is said."""
    rate = tmp_path / "rate.json"
    weekday = [[0] * 12 + [1] * 12] * 12
    rate.write_text(
        json.dumps(
            {
                "name": "Invented rate",
                "energyratestructure": [[{"rate": 0.10}], [{"rate": 0.20}]],
                "energyweekdayschedule": weekday,
                "energyweekendschedule": [[0] * 24] * 12,
                "fixedchargefirstmeter": 10,
                "fixedchargeunits": "$/month",
            }
        )
    )
    output = tmp_path / "rate.toml"
    code, _, _ = run("tariff", "import", str(rate), "--time-zone", "America/Chicago", "-o", str(output))
    assert code == 0
    assert run("report", "demo", "--tariff", str(output), "--start", "2026-12-04T06:00")[0] == 0
    assert run("tariff", "import", str(tmp_path / "none.json"), "--time-zone", "UTC")[0] == 2


def test_a_tariff_with_steps_tells_both_ends_until_the_month_is_known(run, tmp_path):
    """First step 0.10, above 300 kWh 0.60: without the month's use the cost is a range, with it one number."""
    file = tmp_path / "steps.toml"
    file.write_text(STEPS)
    call = ("report", "demo", "--tariff", str(file), "--start", "2026-12-05T08:30")
    totals = json.loads(run(*call, "--json")[1])["totals"]
    assert totals["cost_low"] == pytest.approx(0.1 * totals["energy_kwh"])
    assert totals["cost_high"] == pytest.approx(0.6 * totals["energy_kwh"])
    _, out, _ = run(*call)
    assert f"{totals['cost_low']:.2f} to {totals['cost_high']:.2f} EUR" in " ".join(out.split())
    assert "month_kwh_so_far" in out
    known = json.loads(run(*call, "--month-kwh", "900", "--json")[1])["totals"]
    assert known["cost"] == pytest.approx(0.6 * totals["energy_kwh"])
    assert "cost_low" not in known
    assert "month_kwh_so_far" in " ".join(run("starts", "demo", "--tariff", str(file), *WEEK)[1].split())


STEPS = (
    '[tariff]\nname = "Steps"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n'
    '[[tariff.band]]\nname = "all"\nprice = 0.1\n[[tariff.tier]]\nabove_kwh = 300\nprice = 0.5\n'
)
AT = ("--start", "2026-12-05T08:30")
PRICING = {
    "report": ("report", "demo", *AT),
    "starts": ("starts", "demo", *WEEK, "--mash-at", "2026-12-06T10:00", "--habit", "sat 09:00", "--brews", "3"),
    "savings": ("savings", "demo", *AT),
    "spread": ("spread", "demo", "--draws", "60", *AT),
    "compare": ("compare", "demo", "lakeside", *AT),
    "batches": ("batches", "demo", *AT),
    "power": ("power", "demo", "--best-for", "cost", *AT),
    "brewed": ("brewed", "demo", "--metered", "7.1 kWh", *AT),
    "compare --log": ("compare", "demo", "--log", "brew-day", *AT),
}


def amounts(document: object, path: str = "") -> dict[str, float]:
    """Every amount of money under a key that says cost, by its path."""
    if isinstance(document, dict):
        if document.get("key") == "cost" and "p50" in document:
            return {f"{path}/p50": document["p50"]}
        # Of a band the steps are a row of their own; a best start may run into the next month, which begins at zero.
        parts = {name: value for name, value in document.items() if name not in ("bands", "best_cost")}
        return {key: one for name, value in parts.items() for key, one in amounts(value, f"{path}/{name}").items()}
    if isinstance(document, list):
        return {key: one for at, value in enumerate(document) for key, one in amounts(value, f"{path}/{at}").items()}
    is_cost = path.rpartition("/")[2] in ("cost", "base_cost", "direct_cost", "usual_cost")
    return {path: document} if is_cost and isinstance(document, float) and document else {}


@pytest.mark.parametrize("command", PRICING)
def test_every_command_that_prices_obeys_the_month_s_use(run, tmp_path, command: str) -> None:
    """First step 0.10, above 300 kWh 0.60: with 900 kWh used every amount is six times that with none."""
    file = tmp_path / "steps.toml"
    file.write_text(STEPS)
    told = [
        amounts(json.loads(run(*PRICING[command], "--tariff", str(file), "--month-kwh", used, "--json")[1]))
        for used in ("0", "900")
    ]
    assert told[0]
    assert told[1].keys() == told[0].keys()
    for path, cost in told[0].items():
        assert told[1][path] == pytest.approx(6 * cost, rel=1e-6), path
    unknown, known = (
        " ".join(run(*PRICING[command], "--tariff", str(file), *month)[1].split())
        for month in ((), ("--month-kwh", "9"))
    )
    assert "month_kwh_so_far" in unknown
    assert "month_kwh_so_far" not in known


LIST = "Zeit;Preis (EUR/MWh)\n" + "\n".join(
    f"28.03.2026 {hour:02d}:00 - 28.03.2026 {hour + 1:02d}:00;{50 + hour},5" for hour in range(23)
)


def test_tariff_import_reads_a_list_as_it_comes(run, tmp_path):
    """Spans, decimal commas, adders by the clock and tax: read back, priced, and said how it was read."""
    given, output = tmp_path / "list.csv", tmp_path / "mine.toml"
    given.write_text(LIST, encoding="utf-8")
    adders = ("--adder", "levy: 2 ct/kWh", "--adder", "network: 6.1 ct/kWh 17:00-19:00")
    call = ("tariff", "import", str(given), "--time-zone", "Europe/Vienna", "--tax", "20", *adders)
    code, _, err = run(*call, "-o", str(output))
    assert code == 0
    assert "28.03.2026" not in err
    assert "Preis (EUR/MWh)" in err
    assert "It covers 00:00 on Sat 28 Mar 2026 to 23:00 on Sat 28 Mar 2026." in err
    document = json.loads(run("tariff", "check", str(output), "--date", "2026-03-28", "--json")[1])
    prices = {row["from_min"]: row["price_per_kwh"] for row in document["week"] if row["day"] == "2026-03-28"}
    assert prices[0] == pytest.approx((0.0505 + 0.02) * 1.2)
    assert prices[17 * 60] == pytest.approx((0.0675 + 0.02 + 0.061) * 1.2)
    assert run("report", "demo", "--tariff", str(output), "--start", "2026-03-28T08:00")[0] == 0
    code, _, err = run("report", "demo", "--tariff", str(output), "--start", "2026-03-28T20:00")
    assert code == 2
    assert "23:00" in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "give -o FILE.toml"),
        (("-o", "x.toml", "--tax", "much"), "write a percentage"),
        (("-o", "x.toml", "--adder", "a lot"), "write a price with its unit"),
        (("-o", "x.toml", "--unit", "GBP/kWh", "--currency", "EUR"), "is no money of EUR"),
        (("-o", "x.toml", "--unit", "ct/kWh"), "--currency EUR"),
    ],
)
def test_tariff_import_says_what_is_missing(run, tmp_path, monkeypatch, arguments, said):
    """Where to, odd taxes and adders, a unit of another money."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "list.csv").write_text(LIST, encoding="utf-8")
    code, _, err = run("tariff", "import", "list.csv", "--time-zone", "Europe/Vienna", *arguments)
    assert code == 2
    assert said in err


def test_tariff_compare_ranks_and_fits_the_screen(run):
    """The cheapest year first, 80 columns, and the same in JSON."""
    call = ("tariff", "compare", "demo", "two_rate", "three_band", "--start", "2026-12-05T08:30")
    code, out, _ = run(*call)
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    rows = json.loads(run(*call, "--json")[1])["tariffs"]
    assert rows[0]["together"] <= rows[1]["together"]
    assert rows[0]["together"] == pytest.approx(rows[0]["year"] + rows[0]["charges"])
    assert run("tariff", "compare", "demo", "two_rate")[0] == 2
    assert run("tariff", "compare", "demo", "two_rate", "dear_evening")[0] == 2


@pytest.fixture
def ended(tmp_path: Path) -> Path:
    """A plan in a brewery whose list of prices covers the first eight days of October 2026."""
    hours = (datetime(2026, 10, 1, tzinfo=UTC) + timedelta(hours=number) for number in range(8 * 24))
    (tmp_path / "list.csv").write_text("start,price\n" + "".join(f"{hour:%Y-%m-%dT%H:%MZ},90\n" for hour in hours))
    (tmp_path / "list.toml").write_text(
        '[tariff]\nname = "By the list"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n'
        '[tariff.prices]\nfile = "list.csv"\nunit = "EUR/MWh"\nstep_minutes = 60\n'
    )
    brewed = (
        '\n[[brewed]]\ndate = 2026-10-{0}\nplan = "stout.toml"\nstart = 2026-10-{0}T09:00:00\nmetered = "7.1 kWh"\n'
    )
    (tmp_path / "stout.toml").write_text(
        'tariff = "list.toml"\n' + demo_plans()["demo"] + brewed.format("05") + brewed.format("20")
    )
    return tmp_path / "stout.toml"


@pytest.mark.parametrize(
    "command",
    [
        ("spread",), ("compare", "demo"), ("savings",), ("batches",), ("brewed", "--metered", "7.2 kWh", "--write"),
        ("compare", "--log", "brew-day"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_prices_that_ended_cost_no_answer(run, ended: Path, command: tuple[str, ...]) -> None:
    """Where the brewery's list of prices ends before the day, kWh are told, no money, and why; within it both are."""
    name, *rest = command
    for day, priced in (("2026-10-06", True), ("2026-11-03", False)):
        code, out, err = run(name, str(ended), *rest, "--start", f"{day}T09:00")
        assert code == 0, err
        assert "kWh" in out
        assert ("EUR" in out) == priced
        assert ("No cost: no price from" in " ".join(out.split())) != priced
    if "--write" in rest:
        assert ended.read_text(encoding="utf-8").count("[[brewed]]") == 4
    if name != "brewed":
        code, _, err = run(
            name, str(ended), *rest, "--start", "2026-11-03T09:00", "--tariff", str(ended.parent / "list.toml")
        )
        assert (code, "no price from" in err) == (2, True), "prices that were named must reach it"


def test_the_year_prices_what_it_can(run, ended: Path) -> None:
    """One of two brewed days lies beyond the list: the sum is of the other, and says so."""
    code, out, err = run("brewed", str(ended))
    assert code == 0, err
    assert "0.64" in out, "7.1 kWh at 90 EUR/MWh"
    assert "1 of 2 days has no price; its money is not in the sums." in " ".join(out.split())
