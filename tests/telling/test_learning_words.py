"""What a log tells of a vessel, word for word: its numbers, why others can't be told, what to do next."""

from typing import Any

import numpy as np
import pytest

from energyplan.base.kinds import WATTS_PER_KELVIN, Style
from energyplan.base.sentence import words
from energyplan.day.kettle import heat_loss_w_per_k
from energyplan.faces.frames import document
from energyplan.learning.readings import Remark
from energyplan.learning.result import Measured, Stretch
from energyplan.plan.file import read_plan
from energyplan.telling.learning import calibration_told, dry_loss_told, estimate_headline, fit_table, remark_said
from tests.telling.shown import Given, headings, seen_rows, titles


@pytest.mark.parametrize(
    ("remark", "told", "us"),
    [
        (Remark("averaged", count=3), "3 readings share their time with another one; they are averaged.", ""),
        (Remark("gap", count=1, longest_min=6.0), "There is a gap in the log, of 6 min.", ""),
        (Remark("gaps", count=2, longest_min=90.0), "There are 2 gaps in the log, the longest of 90 min.", ""),
        (Remark("lid open inside", from_min=12.0, to_min=20.0, factor=2.5),
         ("From minute 12 to 20 the vessel loses 2.50 times as much as in the rest of this cool-down: was the lid "
         "open? Only the part with the smaller loss is used."), ""),
        (Remark("loss odd, high", factor=np.inf, against="estimated"),
         ("The heat loss is many times the estimate from its size, which is odd, however well it fits: was the lid "
         "on, is the jacket as entered, was there a draught, was the pump running? Look before you plan with it."), ""),
        (Remark("loss enough", reference_c=65.0, factor=1.02, against="measured"),
         ("The heat loss is meant at 65 °C and is 1.02 times the measured one in the plan: known well enough to plan "
          "with."),
         ("The heat loss is meant at 149 °F and is 1.02 times the measured one in the plan: known well enough to "
          "plan with.")),
        (Remark("weak power, some alone", found_w=1790.0, planned_w=2800.0, alone_w=(1800.0, 1000.0)),
         ("the elements gave 1790 W at most where 2800 W are planned; it is what 1800 W and 1000 W alone would give: "
         "either a cap was set, or an element is dead; a heat-up at full power would tell the two apart"), ""),
        (Remark("stored unclear", water_l=20.0, planned_j_per_k=90_000.0),
         ("temperatures alone tell heat loss and power only per stored heat, so these can't be told apart; the scale "
         "is set by 20 L of water and the vessel's mass as entered (90 kJ/K). A heat-up with a plug-in meter beside "
         "it would measure it"),
         ("temperatures alone tell heat loss and power only per stored heat, so these can't be told apart; the scale "
         "is set by 5.28 gal of water and the vessel's mass as entered (50 kJ/°F). A heat-up with a plug-in meter "
         "beside it would measure it")),
        (Remark("air as entered", air_c=12.0, warmer_k=1.0, more_frac=0.02),
         "The air is taken as 12 °C; 1 K warmer makes the heat loss 2 % larger.",
         "The air is taken as 53.6 °F; 1.8 °F warmer makes the heat loss 2 % larger."),
        (Remark("pump as running", less_w_per_k=0.35),
         "The pump is taken as running; if it was off, the heat loss is 0.35 W/K less.", ""),
        (Remark("log ends", step="Boil [b]"),
         "The log ends, or can't be followed, from “Boil [b]” on; what comes after it isn't compared.", ""),
        (Remark("boil-off rough", half_w=120.0, walls_w=300.0),
         ("120 W remain open where base and wall take 300 W: the estimate is as good. A longer boil with a meter "
         "beside it narrows it, a cool-down does more"), ""),
    ],
)  # fmt: skip
def test_a_remark_has_its_numbers_in_their_units(remark: Remark, told: str, us: str) -> None:
    """Kelvin, watts, litres, minutes, shares, counts: each by the name of the value."""
    assert words(remark_said(remark)) == told
    if us:
        assert words(remark_said(remark), Style("us")) == us


LOSS = Measured(value=4.8, low=4.5, high=5.1)
OFF, ALONE = Remark("elements off"), Remark("stored unclear", water_l=20.0, planned_j_per_k=90_000.0)
STRETCHES = (Stretch(kind="cool-down", stage="water", lid="on", start_s=600.0, end_s=6000.0, from_c=75.0, to_c=62.0),)


def calibrated(**more: Any) -> Any:
    """A cool-down that tells the heat loss alone."""
    residuals = Given(times_s=np.arange(3) * 60.0, measured_c=np.array([75.0, 74.0, 73.0]), stretch=np.array([0, 0, 1]),
                      fitted_c=np.array([75.1, 73.9, 73.0]))  # fmt: skip
    given = {
        "heat_loss_w_per_k": LOSS, "stored_heat_j_per_k": Measured(why=ALONE),
        "vessel_heat_j_per_k": Measured(why=ALONE), "element_power_w": Measured(why=OFF),
        "open_surface_factor": Measured(why=Remark("no open")), "interval_min": 1.0,
        "rmse_k": 0.05, "reference_c": 65.0, "scale": "volume", "stretches": STRETCHES, "residuals": residuals,
        "notes": (Remark("sorted"),), "next_tests": ("heat-up", "cool-down", "plain heat-up"),
    }  # fmt: skip
    return Given(**{**given, **more})


def test_a_calibration_has_its_values_reasons_and_next_tests() -> None:
    """Each reason once, the open surface only for whoever marked it."""
    told = calibration_told(calibrated())
    assert words(told.headline) == "Measured: 4.8 W/K with the lid on (4.5 to 5.1 W/K)."  # type: ignore[arg-type]
    assert [words(one) for one in told.sentences] == [
        f"Stored heat, all: {words(remark_said(ALONE))}.",
        (
            "Element power: the elements were off, and a cool-down can't tell power from stored heat; a heat-up at "
            "full power would measure it."
        ),
        (
            "Next: Heat-up: a measured volume of cold water, full power, lid on, a plug-in meter beside it, to about "
            "80 °C."
        ),
        "Next: Cool-down: water near 75 °C, elements off, lid on, pump on, 60 to 90 min.",
        "Next: Heat-up: a measured volume of cold water, full power without a break, lid on, to about 80 °C.",
    ]
    assert [words(one) for one in told.cautions] == ["The rows were not in the order of time; they are sorted."]
    values, stretches = told.tables
    assert titles(told) == [
        "What the log tells", "The vessel's own numbers, with 95 % intervals", "Stretches that were fitted",
    ]  # fmt: skip
    assert fit_table(calibrated()).title == "Readings and the fit"
    assert headings(values, 0) == ["", "Value", "95 % from", "to"]
    assert seen_rows(values) == [
        ["Heat loss, lid on", "4.8 W/K", "4.5 W/K", "5.1 W/K"],
        ["Stored heat, all", "can't be told", "", ""], ["Stored heat, vessel", "can't be told", "", ""],
        ["Element power", "can't be told", "", ""], ["Open surface, times the model", "can't be told", "", ""],
    ]  # fmt: skip
    assert headings(stretches, 0) == ["What", "Contents", "Lid", "From, min", "To, min", "From, °C", "To, °C"]
    assert seen_rows(stretches) == [["cool-down", "water", "on", "10", "100", "75.0", "62.0"]]
    facts = document(told)
    assert facts["heat_loss_w_per_k"] == {"value": 4.8, "low": 4.5, "high": 5.1, "why": None}
    assert facts["element_power_w"] == {
        "value": None, "low": None, "high": None, "why": words(remark_said(OFF)),
    }  # fmt: skip
    assert (facts["rmse_k"], facts["reference_c"], facts["scale"], facts["interval_min"]) == (0.05, 65.0, "volume", 1.0)
    nothing = calibration_told(calibrated(heat_loss_w_per_k=Measured()))
    assert words(nothing.headline) == "This log does not tell the heat loss."  # type: ignore[arg-type]
    assert document(nothing)["heat_loss_w_per_k"] == {"value": None, "low": None, "high": None, "why": None}


@pytest.mark.parametrize(("points", "rows"), [(0, 0), (1, 1), (250, 250), (251, 250), (1000, 250)])
def test_a_fit_has_at_most_so_many_rows(points: int, rows: int) -> None:
    """The first and the last among them, each with its minute, both temperatures and its stretch."""
    at = np.arange(float(points))
    residuals = Given(times_s=60 * at, measured_c=20 + at, fitted_c=21 + at, stretch=at // 100)
    table = fit_table(calibrated(residuals=residuals))
    assert len(table.rows) == rows
    if rows:
        assert table.rows[0] == (0.0, 20.0, 21.0, 0)
        assert table.rows[-1] == (points - 1, 19.0 + points, 20.0 + points, (points - 1) // 100)
    assert headings(table, 1) == ["Minute, min", "Measured, °C", "Fitted, °C", "Stretch"]


def boiled(**more: Any) -> Any:
    """A boil-off of 2.2 kW."""
    given = {
        "dry_loss_w": Measured(value=310.0, low=250.0, high=370.0), "heat_loss_w_per_k": LOSS, "planned_w": 300.0,
        "heat_w": 2200.0, "steam_w": 1890.0, "metered": True, "filled_l": 27.0, "notes": (),
    }  # fmt: skip
    return Given(**{**given, **more})


ODD = Remark("boil-off odd, high", dry_w=900.0, planned_w=300.0)


@pytest.mark.parametrize(
    ("found", "headline", "said"),
    [
        (boiled(), "Measured: 310 W leave at the boil without steam (250 to 370 W); the plan counts 300 W.",
         ["Of 2200 W into the vessel (by the meter) 1890 W left as steam."]),
        (boiled(metered=False), ("Measured: 310 W leave at the boil without steam (250 to 370 W); the plan counts "
                                 "300 W."),
         ["Of 2200 W into the vessel (by the elements' plates) 1890 W left as steam."]),
        (boiled(dry_loss_w=Measured(why=ODD), heat_loss_w_per_k=Measured(why=ODD)),
         "This boil-off is odd; nothing is taken from it.",
         ["Of 2200 W into the vessel (by the meter) 1890 W left as steam.",
          ("Loss at the boil without steam: 900 W would leave without steam where the plan counts 300 W: likeliest "
          "not all that time was at the boil at this power, else the lid was on, or not all litres that left "
          "were counted.")]),
        (boiled(dry_loss_w=Measured()), "This boil-off does not tell what is lost beside the steam.",
         ["Of 2200 W into the vessel (by the meter) 1890 W left as steam."]),
        (boiled(dry_loss_w=Measured(why=Remark("boil-off rough", half_w=120.0, walls_w=300.0))),
         "This boil-off does not tell what is lost beside the steam.",
         ["Of 2200 W into the vessel (by the meter) 1890 W left as steam.",
          ("Loss at the boil without steam: 120 W remain open where base and wall take 300 W: the estimate is as "
          "good. A longer boil with a meter beside it narrows it, a cool-down does more.")]),
    ],
)  # fmt: skip
def test_a_boil_off_tells_what_leaves_without_steam(found: Any, headline: str, said: list[str]) -> None:
    """Beside the plan's; by the meter or the plates; or why not."""
    told = dry_loss_told(found)
    assert words(told.headline) == headline  # type: ignore[arg-type]
    assert titles(told) == ["What the boil-off tells", "The vessel's own numbers, with 95 % intervals"]
    assert [words(one) for one in told.sentences] == said
    facts = document(told)
    assert {key: facts[key] for key in ("planned_w", "heat_w", "steam_w", "filled_l", "metered")} == {
        "planned_w": 300.0, "heat_w": 2200.0, "steam_w": 1890.0, "filled_l": 27.0, "metered": found.metered,
    }  # fmt: skip


def test_without_a_log_the_loss_is_entered_or_estimated() -> None:
    """With its half width where that is known; a quarter either way where it is estimated."""
    plan = read_plan("demo")

    def entered(**fields: Any) -> Any:
        return plan.model_copy(update={"vessel": plan.vessel.model_copy(update=fields)})

    assert words(estimate_headline(entered(heat_loss_w_per_k=5.0))) == "The plan has a measured heat loss of 5.0 W/K."
    assert words(estimate_headline(entered(heat_loss_w_per_k=5.0, heat_loss_within_w_per_k=0.4))) == (
        "The plan has a measured heat loss of 5.0 W/K (4.6 to 5.4 W/K)."
    )
    assert words(estimate_headline(None)) == (
        "The heat loss is estimated, give or take 25 %. One cool-down with a thermometer measures it."
    )


def test_a_loss_that_is_estimated_has_a_quarter_either_way() -> None:
    """Of the size of the vessel."""
    plan = read_plan("demo")
    estimate = heat_loss_w_per_k(plan)
    low, high = words(WATTS_PER_KELVIN(0.75 * estimate)), words(WATTS_PER_KELVIN(1.25 * estimate))
    assert words(estimate_headline(plan)) == (
        f"Estimated: {words(WATTS_PER_KELVIN(estimate))} with the lid on ({low.removesuffix(' W/K')} to {high}). One "
        "cool-down measures it."
    )


FIGURES = [
    (Remark("no temperature", count=4), "4 rows without a temperature are left out."),
    (Remark("meter reset", count=2), "The meter began again from 0 (2 in all); that is taken out."),
    (Remark("read every", interval_min=10.0),
     "Read every 10 min: what is shorter than that, a log like this can't show."),
    (Remark("lid open outside", from_min=12.0, to_min=60.0, factor=3.0),
     ("Before minute 12 and after minute 60 the vessel loses 3.00 times as much as between them: was the lid open? "
     "Only the part with the smaller loss is used.")),
    (Remark("pulses unread", interval_min=5.0),
     ("The elements pulse faster than their power was read, every 5 min: that stretch is left out, for what it took "
     "is open. A meter that counts kWh tells it.")),
    (Remark("cool-down too short", from_c=70.0, to_c=68.0, drop_k=2.0, lasted_min=20.0, low_c=55.0, high_c=80.0,
            least_k=3.0, least_min=40.0),
     ("the cool-down from 70 °C to 68 °C is too short near mash temperature: 2 K in 20 min between 55 °C and 80 °C, "
     "where at least 3 K and 40 min are due (hotter, vapour escapes)")),
    (Remark("spikes", count=2), "2 single readings that leap far off and back are left out."),
    (Remark("leapt"), ("It does not go on as before over a gap: was the clock set, was it heated? Both sides are read "
     "apart.")),
    (Remark("metered too short", lasted_min=4.0), "the metered stretch is too short: 4 min"),
    (Remark("heat-up too short", rise_k=5.0, lasted_min=4.0), "the heat-up is too short: 5 K in 4 min"),
    (Remark("nothing found", low_c=20.0, high_c=80.0, lasted_min=90.0),
     ("between 20 °C and 80 °C over 90 min nothing cools by itself, heats at full power or is metered for long "
     "enough to tell heat loss, stored heat and power apart; are the times in minutes?")),
    (Remark("loss scatters", half_frac=0.3),
     "the scatter of the readings leaves the heat loss open by ±30 %; a longer cool-down would tell"),
    (Remark("vessel unclear", stored_j_per_k=90_000.0, contents_j_per_k=88_000.0),
     ("90 kJ/K in all less 88 kJ/K for the contents leaves too little to tell the vessel's own share: a smaller, well "
     "measured volume of water in the heat-up would")),
    (Remark("power unclear", half_frac=0.2),
     ("the heat-up is too short to tell the element power from the heat loss (±20 %); a longer one at full power, or a "
     "cool-down beside it, would")),
    (Remark("weak power", found_w=1500.0, planned_w=2800.0),
     ("the elements gave 1500 W at most where 2800 W are planned: either a cap was set, or an element is dead; a "
     "heat-up at full power would tell the two apart")),
    (Remark("strong power", found_w=3500.0, planned_w=2800.0),
     ("the elements gave 3500 W where 2800 W are planned, which is odd: likeliest an element is missing in the plan "
     "or the water is not as entered, else the meter sees more than the vessel")),
    (Remark("boil-off odd, low", steam_w=2100.0, heat_w=2200.0),
     ("steam took 2100 W of 2200 W, which leaves base and wall less than half of what the plan counts: likeliest not "
     "all these litres left as steam or they were measured hot, else it boiled longer or stronger")),
    (Remark("boil-off near odd", factor=1.6),
     ("Base and wall take 1.60 times what the plan counts, which is odd: did it boil all that time at this power? "
     "Look before you plan with it.")),
    (Remark("boil-off unclear", steam_w=2150.0, heat_w=2200.0, half_w=80.0),
     ("the steam took 2150 W of 2200 W, give or take 80 W: nothing is left that could be told; a longer boil with a "
     "meter beside it would tell")),
    (Remark("scale by water", water_l=20.0),
     "The water as entered (20 L) sets the scale: 1 % more water makes heat loss and power 1 % larger."),
    (Remark("loss rough", reference_c=65.0, factor=1.2, against="estimated"),
     ("The heat loss is meant at 65 °C and is 1.20 times the estimate from its size; a longer cool-down would "
      "narrow it.")),
    (Remark("loss odd, low", factor=0.4, against="estimated"),
     ("The heat loss is 0.40 times the estimate from its size, which is odd, however well it fits: is the water as "
     "entered, were the elements really off, is the thermometer in the water? Look before you plan with it.")),
    (Remark("open surface odd", factor=2.0),
     ("The open surface takes 2.00 times what the model expects, which is odd: was there a draught, was the lid off "
     "all that time, is the diameter as entered?")),
    (Remark("stored more", more_frac=0.12),
     "The stored heat is 12 % more than water and vessel as entered: check volume, empty mass and meter."),
    (Remark("stored less", more_frac=0.12),
     "The stored heat is 12 % less than water and vessel as entered: check volume, empty mass and meter."),
    (Remark("read seldom", interval_min=15.0),
     "Read every 15 min: borders are told to that, and what is shorter, or leaves no trace, is not told."),
]  # fmt: skip


@pytest.mark.parametrize(("remark", "told"), FIGURES, ids=lambda one: getattr(one, "code", ""))
def test_a_remark_says_its_figures(remark: Remark, told: str) -> None:
    """How long, how much, how far off: what somebody needs to do better next time."""
    assert words(remark_said(remark)) == told
