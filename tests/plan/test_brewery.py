"""A brewery kept apart from its days: merged, blamed by its own name, changed where a value stands."""

import difflib
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from energyplan.base.errors import FileError, PlanError
from energyplan.plan.brewery import BrewedDay
from energyplan.plan.file import parse_plan, read_plan, read_plan_files
from energyplan.plan.writing import write_brewed, write_copy, write_plan

GARAGE = """\
# Our garage, measured in spring.
tariff = "two_rate.toml"        # the supplier's leaflet

[vessel]
diameter = "47 cm"              # inside
height = "60 cm"
pump = "30 W"

# on the plate under the base
[[vessel.element]]
power = "3.5 kW"
voltage = "230 V"

[second_heater]
power = "1500 W"
ready_at_step = "Sparge"

[site]
air = "18 degC"
time_zone = "Europe/Dublin"

[[task]]
name = "Skim"
at_step = "Boil"
takes = "5 min"
"""
STOUT = """\
uses = "garage.toml"
title = "Stout"

[site]
air = "9 degC"                  # a cold morning

[batch]
water = "27,5 L"                # as our jug says
water_temperature = "12 degC"

[[step]]
name = "Heat"
target = "66 degC"
ramp_power = "2 kW"             # gently
hold = "60 min"
"""


@pytest.fixture
def stout(tmp_path: Path) -> Path:
    """The stout's file, beside its brewery's."""
    (tmp_path / "garage.toml").write_text(GARAGE, encoding="utf-8")
    (tmp_path / "stout.toml").write_text(STOUT, encoding="utf-8")
    return tmp_path / "stout.toml"


def changed_lines(before: str, after: str) -> list[str]:
    """Lines that were taken out or put in."""
    return [line for line in difflib.ndiff(before.splitlines(), after.splitlines()) if line[0] in "+-"]


# Reading -------------------------------------------------------------------------------------------------------------


def test_tables_merge_key_by_key_and_the_plan_wins(stout: Path) -> None:
    """The vessel is the brewery's, the air of the day the plan's, the clock the brewery's."""
    plan = read_plan(stout)
    assert plan.vessel.diameter_m == 0.47
    assert (plan.site.air_c, plan.site.time_zone) == (9.0, "Europe/Dublin")
    assert plan.batch.water_l == 27.5


def test_a_list_is_the_plan_s_if_it_has_one(stout: Path) -> None:
    """Its elements replace the brewery's."""
    stout.write_text(STOUT + '[[vessel.element]]\npower = "2 kW"\nvoltage = "230 V"\n')
    assert [element.power_w for element in read_plan(stout).vessel.elements] == [2000.0]


def test_the_day_has_only_what_it_has_the_water_and_the_step_for(stout: Path) -> None:
    """No sparge water: no second heater; no step of a task's name: not that task."""
    plan = read_plan(stout)
    assert plan.second_heater is None
    assert plan.tasks == ()
    sparged = STOUT.replace("[batch]\n", '[batch]\nsparge_water = "5 L"\n')
    stout.write_text(sparged + '[[step]]\nname = "Sparge"\nbefore = ["add sparge water"]\npause = "10 min"\n')
    heater = read_plan(stout).second_heater
    assert heater is not None
    assert heater.ready_at_step == "Sparge"


def test_the_tariff_lies_beside_the_file_that_names_it(stout: Path) -> None:
    """A path of the brewery's folder; the plan's own word wins; a packaged name is a name."""
    assert read_plan_files(stout).tariff == str(stout.parent / "two_rate.toml")
    stout.write_text(STOUT.replace("title", 'tariff = "demo"\ntitle'))
    assert read_plan_files(stout).tariff == "demo"


GARAGE_FILE, STOUT_FILE = "garage.toml", "stout.toml"
WRONG = {
    "in the brewery": (GARAGE_FILE, '"3.5 kW"', '"3.5 kg"', 'garage.toml: [[vessel.element]] no. 1 power = "3.5 kg"'),
    "in the plan": (STOUT_FILE, '"9 degC"', '"9 L"', '\n  [site] air = "9 L"'),
    "unknown in the brewery": (GARAGE_FILE, "pump =", "pumpp =", 'garage.toml: [vessel] pumpp = "30 W": unknown key'),
    "missing in the brewery": (GARAGE_FILE, 'height = "60 cm"\n', "", "garage.toml: [vessel] height: missing"),
    "missing in the plan": (
        STOUT_FILE,
        'water_temperature = "12 degC"\n',
        "",
        "\n  [batch] water_temperature: missing",
    ),
    "a rule": (GARAGE_FILE, 'pump = "30 W"', 'element_top = "70 cm"', "garage.toml: [vessel] element_top = 70 cm"),
    "a table of a plan": (GARAGE_FILE, "[site]", "[batch]\n[site]", "garage.toml: [batch]: belongs"),
    "a chain": (GARAGE_FILE, "tariff", 'uses = "house.toml"\ntariff', "garage.toml: uses: belongs into the plan"),
    "a brewed day": (GARAGE_FILE, "[site]", "[[brewed]]\ndate = 'x'\n[site]", "garage.toml: [[brewed]] no. 1 date = "),
    "a newer file": (GARAGE_FILE, "tariff", "schema = 3\ntariff", "garage.toml: schema = 3"),
}


@pytest.mark.parametrize("case", WRONG)
def test_errors_name_the_file_in_which_the_value_stands(stout: Path, case: str) -> None:
    """The plan's own without a name, for its name stands in the first line."""
    name, old, new, words = WRONG[case]
    file = stout.parent / name
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(PlanError) as refused:
        read_plan(stout)
    assert words.replace("garage.toml", str(stout.parent / "garage.toml")) in str(refused.value)


@pytest.mark.parametrize("used", ["3", '""', "true", '"a\\u0000b"', '["x"]'])
def test_what_is_no_file_s_name(stout: Path, used: str) -> None:
    """The mend shows how it is written."""
    stout.write_text(STOUT.replace('"garage.toml"', used, 1))
    with pytest.raises(PlanError, match=r'uses = "garage.toml"'):
        read_plan(stout)


def test_a_missing_brewery_is_named_with_the_plan_that_uses_it(stout: Path) -> None:
    """Path and plan in one sentence; no TOML at all names the brewery's file."""
    (stout.parent / "garage.toml").write_text("[vessel")
    with pytest.raises(PlanError, match=r"garage\.toml: not valid TOML"):
        read_plan(stout)
    (stout.parent / "garage.toml").unlink()
    with pytest.raises(FileError, match=r"garage\.toml: no such file; expected the brewery that stout\.toml uses"):
        read_plan(stout)


def test_an_upload_reads_nothing_but_what_was_handed_in(tmp_path: Path) -> None:
    """The brewery's file comes along, by its name; a path out of the folder is never followed."""
    assert parse_plan(STOUT, beside={"garage.toml": GARAGE}).vessel.diameter_m == 0.47
    (tmp_path / "garage.toml").write_text(GARAGE)
    for used in ("garage.toml", f"{tmp_path}/garage.toml", "../garage.toml"):
        with pytest.raises(PlanError, match=r"hand in garage\.toml together with it"):
            parse_plan(STOUT.replace('"garage.toml"', f'"{used}"'))


# Writing -------------------------------------------------------------------------------------------------------------


def test_each_change_goes_into_the_file_in_which_its_value_stands(stout: Path) -> None:
    """Two values, two files; each keeps the person's unit, comments and order, and nothing else moves."""
    files = read_plan_files(stout)
    step = files.plan.steps[0].model_copy(update={"ramp_power_w": 1500.0, "hold_power_w": 400.0})
    vessel = files.plan.vessel
    element = vessel.elements[0].model_copy(update={"power_w": 3350.0})
    vessel = vessel.model_copy(update={"heat_loss_w_per_k": 4.812, "elements": (element,)})
    after = files.plan.model_copy(update={"steps": (step,), "vessel": vessel})
    assert [path.name for path in write_plan(files, after)] == ["stout.toml", "garage.toml"]
    assert changed_lines(STOUT, stout.read_text(encoding="utf-8")) == [
        '- ramp_power = "2 kW"             # gently', '+ ramp_power = "1.5 kW"             # gently',
        '+ hold_power = "400 W"',
    ]  # fmt: skip
    assert changed_lines(GARAGE, (stout.parent / "garage.toml").read_text(encoding="utf-8")) == [
        '+ heat_loss = "4.812 W/K"', '- power = "3.5 kW"', '+ power = "3.35 kW"',
    ]  # fmt: skip
    assert read_plan(stout) == after


BOTH = 'heat_loss = "4.8 W/K"\nheat_loss_within = "0.3 W/K"\n'


def test_how_well_a_loss_is_known_stands_beside_it(stout: Path) -> None:
    """Where the plan has a loss of its own, how far it may be off goes there, and not to what others brew with."""
    garage = stout.parent / "garage.toml"
    stout.write_text(STOUT.replace("[site]", '[vessel]\nheat_loss = "5 W/K"\n\n[site]'), encoding="utf-8")
    files = read_plan_files(stout)
    measured = {"heat_loss_w_per_k": 4.8, "heat_loss_within_w_per_k": 0.3, "measured_at_l": 26.0}
    after = files.plan.model_copy(update={"vessel": files.plan.vessel.model_copy(update=measured)})
    assert [path.name for path in write_plan(files, after)] == ["stout.toml"]
    assert read_plan(stout) == after
    assert garage.read_text(encoding="utf-8") == GARAGE
    stout.write_text(STOUT, encoding="utf-8")
    files = read_plan_files(stout)
    after = files.plan.model_copy(update={"vessel": files.plan.vessel.model_copy(update=measured)})
    assert [path.name for path in write_plan(files, after)] == ["garage.toml"]
    assert read_plan(stout) == after


@pytest.mark.parametrize("within", [None, "0.4 W/K"])
def test_another_loss_is_not_known_as_well_as_the_brewerys(stout: Path, within: str | None) -> None:
    """A plan's own loss comes without half width and filling of the brewery's; measured anew it gets its own."""
    garage = stout.parent / "garage.toml"
    measured = 'heat_loss_measured = "4.8 W/K"\nmeasured_at = "26 L"\n'
    garage.write_text(GARAGE.replace("[vessel]\n", f"[vessel]\n{BOTH}{measured}"), encoding="utf-8")
    assert read_plan(stout).vessel.heat_loss_within_w_per_k == 0.3
    own = 'heat_loss = "6 W/K"\n' + (f'heat_loss_within = "{within}"\n' if within else "")
    stout.write_text(STOUT.replace("[site]", f"[vessel]\n{own}\n[site]"), encoding="utf-8")
    files = read_plan_files(stout)
    vessel = files.plan.vessel
    assert (vessel.heat_loss_w_per_k, vessel.heat_loss_within_w_per_k) == (6.0, 0.4 if within else None)
    assert (vessel.heat_loss_measured_w_per_k, vessel.measured_at_l) == (None, None)
    anew = {"heat_loss_w_per_k": 5.5, "heat_loss_within_w_per_k": 0.35, "heat_loss_measured_w_per_k": 5.5}
    after = files.plan.model_copy(update={"vessel": vessel.model_copy(update=anew)})
    assert [path.name for path in write_plan(files, after)] == ["stout.toml"]
    assert read_plan(stout) == after
    assert BOTH in garage.read_text(encoding="utf-8")


def test_nothing_is_written_for_no_change(stout: Path) -> None:
    """The files keep their bytes and their times."""
    files = read_plan_files(stout)
    assert write_plan(files, files.plan) == ()


def test_a_write_that_fails_leaves_both_files_as_they_were(stout: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second file can't take its name: the first gets its old content back, nothing stays beside them."""
    files = read_plan_files(stout)
    step = files.plan.steps[0].model_copy(update={"ramp_power_w": 1500.0})
    vessel = files.plan.vessel.model_copy(update={"heat_loss_w_per_k": 4.8})
    replace, done = Path.replace, []

    def second_fails(self: Path, target: Path) -> Path:
        done.append(target)
        if len(done) == 2:
            raise PermissionError(13, "Permission denied")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", second_fails)
    with pytest.raises(FileError, match="Permission denied"):
        write_plan(files, files.plan.model_copy(update={"steps": (step,), "vessel": vessel}))
    assert stout.read_text(encoding="utf-8") == STOUT
    assert (stout.parent / "garage.toml").read_text(encoding="utf-8") == GARAGE
    assert sorted(path.name for path in stout.parent.iterdir()) == ["garage.toml", "stout.toml"]


def test_a_brewed_day_is_kept_in_the_brewery(stout: Path) -> None:
    """One more table at its end; the second one below the first; what was read back is what was written."""
    day = BrewedDay(
        date=date(2026, 11, 28), plan="stout.toml", start=datetime(2026, 11, 28, 8, 30), readings={"Heat": 2.0},  # noqa: DTZ001
        air_c=9.0, boil_began_min=701, boiled_off_l=2.9,
    )  # fmt: skip
    assert write_brewed(read_plan_files(stout), day).name == "garage.toml"
    later = BrewedDay(date=date(2026, 12, 5), plan="stout.toml", metered_kwh=7.1)
    write_brewed(read_plan_files(stout), later)
    text = (stout.parent / "garage.toml").read_text(encoding="utf-8")
    assert text.startswith(GARAGE)
    assert 'boil_began = "11:41"' in text
    assert read_plan_files(stout).brewery.brewed == (day, later)
    assert stout.read_text(encoding="utf-8") == STOUT


def test_a_copy_goes_on_using_the_brewery(stout: Path, tmp_path: Path) -> None:
    """Elsewhere too, by the way there; what differs from the brewery is said in the copy."""
    files = read_plan_files(stout)
    vessel = files.plan.vessel.model_copy(update={"heat_loss_w_per_k": 4.8})
    after = files.plan.model_copy(update={"vessel": vessel})
    (tmp_path / "sub").mkdir()
    copy = tmp_path / "sub" / "copy.toml"
    write_copy(files, after, copy)
    assert 'uses = "../garage.toml"' in copy.read_text()
    assert "# as our jug says" in copy.read_text()
    assert read_plan(copy) == after
    with pytest.raises(FileError, match="already there"):
        write_copy(files, after, copy)
    assert (tmp_path / "garage.toml").read_text() == GARAGE


def test_what_is_packaged_stays_as_it_is(tmp_path: Path) -> None:
    """Only a copy can be changed."""
    files = read_plan_files("demo")
    warm = files.plan.model_copy(update={"site": files.plan.site.model_copy(update={"air_c": 21.0})})
    with pytest.raises(FileError, match="name a file for a copy"):
        write_plan(files, warm)
    write_copy(files, warm, tmp_path / "copy.toml")
    assert read_plan(tmp_path / "copy.toml") == warm


remarks = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=20)
spaces = st.sampled_from(["", " ", "   ", "\t"])


@st.composite
def dressed(draw: st.DrawFn, text: str) -> str:
    """A text with remarks, blank lines and spaces wherever TOML allows them."""
    lines = []
    for line in text.splitlines():
        bare = line.partition("   #")[0]
        if draw(st.booleans()):
            lines.append(draw(st.sampled_from(["", "# " + draw(remarks)])))
        if "=" in bare and draw(st.booleans()):
            key, _, value = bare.partition("=")
            bare = f"{draw(spaces)}{key.rstrip()}{draw(spaces)}={draw(spaces)}{value.strip()}"
        lines.append(bare + draw(st.sampled_from(["", "  ", "  # " + draw(remarks)])))
    return "\n".join(lines) + draw(st.sampled_from(["", "\n", "\n\n"]))


values = st.fixed_dictionaries(
    {},
    optional={
        "ramp_power_w": st.sampled_from([None, 1500.0, 1234.5]),
        "hold_power_w": st.sampled_from([400.0, 612.0]),
        "heat_loss_w_per_k": st.floats(2.0, 9.0).map(lambda value: round(value, 3)),
        "pump_w": st.sampled_from([0.0, 25.0]),
        "power_w": st.sampled_from([3500.0, 3333.3]),
    },
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=40)
@given(own=dressed(STOUT), shared=dressed(GARAGE), change=values)
def test_comments_and_spelling_survive_every_write(
    tmp_path_factory: pytest.TempPathFactory, own: str, shared: str, change: dict[str, Any]
) -> None:
    """Whatever the files look like: every line that holds no changed value is there as it was, in its order."""
    folder = tmp_path_factory.mktemp("written")
    stout, garage = folder / "stout.toml", folder / "garage.toml"
    stout.write_bytes(own.encode())
    garage.write_bytes(shared.encode())
    files = read_plan_files(stout)
    step = files.plan.steps[0].model_copy(update={k: v for k, v in change.items() if k.startswith(("ramp", "hold_"))})
    vessel = files.plan.vessel.model_copy(update={k: v for k, v in change.items() if k.startswith(("heat", "pump"))})
    element = vessel.elements[0].model_copy(update={k: v for k, v in change.items() if k == "power_w"})
    vessel = vessel.model_copy(update={"elements": (element,)})
    after = files.plan.model_copy(update={"steps": (step,), "vessel": vessel})
    write_plan(files, after)
    assert read_plan(stout) == after
    for path, before in ((stout, own), (garage, shared)):
        gone = [line for line in changed_lines(before, path.read_bytes().decode()) if line[0] == "-"]
        assert all(line[1:].strip().split("=")[0].strip() in ("ramp_power", "pump", "power") for line in gone), gone
    written = garage.read_bytes().decode()
    first, second, again = (
        BrewedDay(date=date(2026, 11, day), plan="stout.toml", metered_kwh=kwh)
        for day, kwh in ((1, 7.1), (8, 7.2), (1, 7.3))
    )
    for day in (first, second, again):
        write_brewed(read_plan_files(stout), day)
    assert read_plan_files(stout).brewery.brewed == (second, again)
    lines = changed_lines(written, garage.read_bytes().decode())
    assert not [line for line in lines if line[0] == "-" and line[1:].strip()]
