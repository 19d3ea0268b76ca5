"""A day, word for word and row for row: what it takes, its strike, wort, prices and slips; its tiles and sheets."""

import itertools
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from typing import Any, get_args

import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.kinds import CELSIUS, Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.circuits.findings import Finding
from energyplan.circuits.study import Rating
from energyplan.day.slips import DayNote, Slip, SlipCode
from energyplan.faces.frames import document
from energyplan.plan.file import read_plan
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.circuit import circuit_headline
from energyplan.telling.day import (
    boil_sentence,
    day_sentence,
    day_told,
    price_sentences,
    strike_sentence,
    switch_on_sentence,
    taught_sentence,
    wort_sentence,
)
from energyplan.telling.files import brew_day_told, calendar_told, file_told
from energyplan.telling.phases import appliances_table, at, bands_table, phases_table, slip_found, steps_table
from energyplan.telling.power import power_headline
from energyplan.telling.report import PARTS, day_tiles, notes_told, report_told, screen_told
from tests.telling.shown import Begun, Given, headings, seen_rows, titles


def euros(amount: float) -> Money:
    """An amount of money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency="EUR")


def priced(**more: Any) -> Given:
    """A day of 7.50 kWh for 2.00 EUR: 3 kWh at night, the rest by day."""
    bands = (Given(name="night", energy_kwh=3.0, cost=euros(0.5)), Given(name="day", energy_kwh=4.5, cost=euros(1.5)))
    total = Given(total=euros(2.0), bands=bands, tier_cost=euros(0.0), energy_kwh=7.5, imported_kwh=7.5)
    tariff = Given(name="Two rates", daily_charge=0, file=Given(own_generation=None), currency="EUR")
    return Given(**{"total": total, "line": Given(currency="EUR"), "ends": None, "tariff": tariff, "estimate": None,
                    **more})  # fmt: skip


RANGES = Given(energy_kwh=Given(p10=7.0, p50=7.5, p90=8.0), cost=Given(p10=1.9, p50=2.0, p90=2.2), failed_frac=0.0,
               minutes=Given(p10=320.0, p50=330.0, p90=350.0), lowest_mash_c=None)  # fmt: skip
DAY = Given(plan=read_plan("demo"), energy_kwh=7.5, duration_s=19800.0, strike=None, phases=(), evaporated_kg=3.2)


def found(**more: Any) -> Any:
    """An answer with that day: 7.50 kWh in five and a half hours, without prices."""
    return Begun(**{"day": DAY, "price": None, "learned": None, "house": None, "ranges": None, **more})


TAKES = "done at 14:00 if you start at 08:30 on Sat 5 Dec 2026."


@pytest.mark.parametrize(
    ("given", "ranges", "told"),
    [
        (found(), None, f"7.50 kWh, {TAKES}"),
        (found(price=priced()), None, f"7.50 kWh and 2.00 EUR, {TAKES}"),
        (found(price=priced(ends=(euros(1.9), euros(2.4)))), RANGES,
         f"7.50 kWh (7.0 to 8.0) and 1.90 to 2.40 EUR, {TAKES} In brackets: eight days of ten."),
        (found(price=priced()), RANGES,
         f"7.50 kWh (7.0 to 8.0) and 2.00 EUR (1.90 to 2.20), {TAKES} In brackets: eight days of ten."),
        (found(price=priced()), RANGES.but(cost=None),
         f"7.50 kWh (7.0 to 8.0) and 2.00 EUR, {TAKES} In brackets: eight days of ten."),
        (found(learned=Given(days=3)), RANGES,
         f"7.50 kWh (7.0 to 8.0), {TAKES} In brackets: eight days of ten, from 3 brewed days."),
        (found(), RANGES.but(failed_frac=0.03),
         f"7.50 kWh (7.0 to 8.0), {TAKES} In brackets: eight of ten days that can be brewed; 3 % can't as set."),
    ],
)  # fmt: skip
def test_what_a_day_takes(given: Any, ranges: Any, told: str) -> None:
    """How much, for how much, when it is done; where eight days of ten lie, and how many can't be brewed."""
    assert words(day_sentence(given, ranges)) == told


@pytest.mark.parametrize(
    ("strike", "told", "us"),
    [
        (None, None, None),
        (Given(planned_c=71.0, mash_c=67.6, wanted_c=None, rest_c=67.0), "Grain into 71 °C gives a mash of 67.6 °C.",
         "Grain into 159.8 °F gives a mash of 153.7 °F."),
        (Given(planned_c=71.0, mash_c=67.6, wanted_c=70.3, rest_c=None), "Grain into 71 °C gives a mash of 67.6 °C.",
         "Grain into 159.8 °F gives a mash of 153.7 °F."),
        (Given(planned_c=71.0, mash_c=67.6, wanted_c=70.3, rest_c=67.0),
         "Strike at 70.3 °C to land on 67 °C; 71 °C, as planned, gives a mash of 67.6 °C.",
         "Strike at 158.5 °F to land on 152.6 °F; 159.8 °F, as planned, gives a mash of 153.7 °F."),
        (Given(planned_c=71.0, mash_c=67.0, wanted_c=71.048, rest_c=67.0),
         "Strike at 71 °C: grain then lands on 67 °C.", "Strike at 159.9 °F: grain then lands on 152.6 °F."),
        (Given(planned_c=71.0, mash_c=67.0, wanted_c=70.948, rest_c=67.0),
         "Strike at 70.9 °C to land on 67 °C; 71 °C, as planned, gives a mash of 67 °C.",
         "Strike at 159.7 °F to land on 152.6 °F; 159.8 °F, as planned, gives a mash of 152.6 °F."),
    ],
)  # fmt: skip
def test_the_strike(strike: Any, told: str | None, us: str | None) -> None:
    """What lands on the rest, and what comes of what is planned; from a twentieth of a kelvin on they differ."""
    said = strike_sentence(found(day=DAY.but(strike=strike)))
    assert (said and words(said), said and words(said, Style("us"))) == (told, us)


def test_when_to_switch_on() -> None:
    """A local moment with its day."""
    assert words(switch_on_sentence(Begun().clock(-3600.0))) == "Switch on at 07:30 on Sat 5 Dec 2026."


BOILS = (Given(phase="boil", step="Boil", start_s=9000.0), Given(phase="ramp", step="Boil", start_s=8000.0),
         Given(phase="boil", step="Rinse", start_s=12000.0))  # fmt: skip


def test_the_boil_of_the_wort_begins() -> None:
    """That of a step that boils wort alone; none without a boil."""
    assert words(boil_sentence(found(day=DAY.but(phases=BOILS)))) == ("The boil begins at 11:00.")  # type: ignore[arg-type]
    assert boil_sentence(found()) is None
    twice = found(day=DAY.but(phases=(*BOILS, Given(phase="boil", step="Boil", start_s=10800.0))))
    assert words(boil_sentence(twice)) == "Boils begin: Boil at 11:00 and Boil at 11:30."  # type: ignore[arg-type]


WORT = Given(before_boil_l=29.8, end_l=26.3, gravity_before_boil=1.044, gravity_end=1.05, extract_kg=3.5,
             evaporated_kg=3.4, fullest_frac=0.7)  # fmt: skip


@pytest.mark.parametrize(
    ("worts", "told"),
    [
        ((WORT,), ("29.8 L before the boil, 26.3 L after it (cold, at 20 °C), gravity 1.044 to 1.050; 3.20 kg of "
         "steam go into the room.")),
        ((WORT.but(gravity_end=1.0),),
         "29.8 L before the boil, 26.3 L after it (cold, at 20 °C); 3.20 kg of steam go into the room."),
        ((WORT.but(gravity_end=1.0), WORT.but(gravity_end=1.0, end_l=25.0)),
         ("batch 1: 29.8 L before the boil, 26.3 L after it (cold, at 20 °C) and batch 2: 29.8 L before the boil, 25 "
         "L after it (cold, at 20 °C); 3.20 kg of steam go into the room.")),
    ],
)  # fmt: skip
def test_the_wort(worts: tuple[Given, ...], told: str) -> None:
    """Volumes cold, gravities where there is extract, batch by batch, and the steam."""
    assert words(wort_sentence(found(day=DAY.but(worts=worts)))) == told


SUN = Given(own_generation=Given())
BY_BAND = "Two rates: night 3.00 kWh for 0.50 EUR and day 4.50 kWh for 1.50 EUR."
TIER = priced().total.but(tier_cost=euros(0.2))


@pytest.mark.parametrize(
    ("price", "more", "told"),
    [
        (None, {}, []),
        (priced(), {}, [BY_BAND]),
        (priced(total=TIER), {}, [BY_BAND.replace(" and day", ", day").replace("1.50 EUR.", ("1.50 EUR and tiers "
                                                                                             "0.20 EUR."))]),
        (priced(tariff=priced().tariff.but(file=SUN), total=priced().total.but(imported_kwh=5.5)), {},
         [BY_BAND, "Own power gives 2.00 kWh of it, at what its export would pay, and the grid 5.50 kWh."]),
        (priced(ends=(euros(1.9), euros(2.4))), {},
         [BY_BAND, ("The tariff has steps by the month's use, which is not entered ([supply] month_kwh_so_far): 1.90 "
          "to 2.40 EUR.")]),
        (priced(tariff=priced().tariff.but(daily_charge=Fraction(61, 100))), {},
         [BY_BAND, "The daily charge of 0.61 EUR is no part of it."]),
        (priced(), {"house": Given(peak=Given(added=euros(0.0)))}, [BY_BAND]),
        (priced(), {"house": Given(peak=None)}, [BY_BAND]),
        (priced(), {"house": Given(peak=Given(added=euros(3.2)))},
         [BY_BAND, "Nor is what the day adds to the month's peak charge: 3.20 EUR."]),
    ],
)  # fmt: skip
def test_what_a_day_costs(price: Given | None, more: dict[str, Any], told: list[str]) -> None:
    """Band by band, with steps, own power, both ends, and the charges that are no part of it."""
    assert [words(one) for one in price_sentences(found(price=price, **more))] == told


@pytest.mark.parametrize(
    ("learned", "energy_kwh", "within", "told"),
    [
        (None, 6.0, None, False), (Given(days=0), 6.0, None, False), (Given(days=1), 7.5, None, False),
        (Given(days=1), 7.0, None, False), (Given(days=1), 8.0, None, False), (Given(days=1), 6.99, None, True),
        (Given(days=1), 8.01, None, True), (Given(days=1), 8.01, 0.4, True),
    ],
)  # fmt: skip
def test_what_brewed_days_teach_is_told_where_the_plan_lies_beyond_it(
    learned: Any, energy_kwh: float, within: float | None, *, told: bool
) -> None:
    """With the key to enter it; a half width that is entered goes out with it, and what was measured."""
    measured = within and 5.0
    vessel = read_plan("demo").vessel.model_copy(
        update={"heat_loss_w_per_k": 5.0, "heat_loss_within_w_per_k": within, "measured_at_l": None,
                "heat_loss_measured_w_per_k": measured}
    )  # fmt: skip
    plan = read_plan("demo").model_copy(update={"vessel": vessel})
    if learned is not None:
        learned.middle = lambda _: 1.2
    said = taught_sentence(found(learned=learned, ranges=RANGES, day=DAY.but(energy_kwh=energy_kwh, plan=plan)))
    assert (said is not None) == told
    if said is not None:
        out = "" if within is None else ", and take out [vessel] heat_loss_within and the loss as measured"
        assert words(said) == (
            f"The plan lies beyond that: brewed days teach a heat loss of 6.0 W/K; enter it as [vessel] heat_loss{out}."
        )
    assert taught_sentence(found(learned=learned, ranges=None, day=DAY.but(energy_kwh=energy_kwh))) is None


NOTES: dict[DayNote, str] = {
    "loss estimated": "The heat loss is estimated from the vessel's size, give or take 25 %; one cool-down with a "
    "thermometer measures it.",
    "no gravity": "No gravity is entered: the wort is counted as water.",
    "taken as mixed": "With the pump off the contents are taken as mixed; real ones are cooler at the bottom.",
    "air beyond": "Air outside 0 to 40 °C: the losses were checked against other relations only within it.",
    "vessel beyond": "A vessel outside 0.2 to 0.6 m: the losses of walls and lid were checked only within it.",
    "draught beyond": "A draught this strong is turbulent along the wall, which the relation does not know; the loss "
    "is too low.",
    "gravity beyond": (
        "A gravity above 1.130 lies beyond the extract tables; volumes and boiling point are extrapolated."
    ),
    "moisture beyond": "Malt moister than 8 % lies beyond the table of its heat of wetting; the value at 8 % is used.",
}


@pytest.fixture(scope="module")
def demo() -> Answer:
    """The packaged day, from night into day rate."""
    return answer(read_plan("demo"), load_tariff("demo"), datetime(2026, 12, 5, 5, 30, tzinfo=UTC))


def test_every_note_of_a_day_has_its_words(demo: Answer) -> None:
    """What the numbers rest on; brewed days take the place of the estimated loss."""
    assert set(NOTES) == set(get_args(DayNote))
    noted = replace(demo, day=replace(demo.day, notes=tuple(NOTES)))
    assert [words(one) for one in day_told(noted).cautions] == list(NOTES.values())
    said = notes_told(noted)
    assert (said.title, len(said.findings)) == ("What this rests on", len(demo.day.slips))
    assert words(said.sentences[-1]).startswith("The check compares the plan with the ratings you entered.")


SLIPS: list[tuple[Slip, str]] = [
    (Slip(code="grain in the boil", step="Boil"),
     '"Boil": the grain is still in the vessel when it boils; lift it out before.'),
    (Slip(code="power above the elements", step="Boil", value=3200.0),
     '"Boil": 3200 W are set, more than all elements together; they give what they can.'),
    (Slip(code="mash after mash-out", step="Rest", value=64.0),
     '"Rest": a rest at 64 °C with the grain in, after the mash-out; are the steps in their order?'),
    (Slip(code="grain after the boil", step="Late"),
     '"Late": grain goes in after the boil; are the steps in their order, or is the vessel to be emptied between?'),
    (Slip(code="cools by waiting", step="Chill", value=40.0),
     '"Chill": it cools by 40 K just by waiting; if it is chilled, say so (chill_to).'),
    (Slip(code="hot strike", step="Mash", value=88.0),
     '"Mash": grain goes into 88 °C; above 85 °C the enzymes suffer before they have done anything.'),
    (Slip(code="hot mash", step="Mash", value=79.5),
     '"Mash": the mash lands at 79.5 °C; above 78 °C the enzymes are soon gone.'),
    (Slip(code="thick mash", value=1.6),
     "a mash of 1.6 L/kg is thick, hard to stir and to pump; usual are 1.8 to 8 L/kg."),
    (Slip(code="thin mash", value=9.0), "a mash of 9 L/kg is thin; usual are 1.8 to 8 L/kg."),
    (Slip(code="hot tap water", value=65.0),
     "the water comes at 65 °C; taps give less than 60 °C. If it was heated elsewhere, that is not counted."),
    (Slip(code="no summer time", zone="Etc/GMT-1"),
     "The clock Etc/GMT-1 knows no summer time; where the clocks change, name a place, such as Europe/London."),
    (Slip(code="sparge without grain", step="Sparge"),
     '"Sparge": sparge water goes in with no grain to rinse; give it in the step that lifts it out, or as add water.'),
    (Slip(code="open ramp", step="Heat", value=1800.0),
     '"Heat": it heats for 30 min with the lid off; the lid on until it nearly boils saves time and kWh (lid).'),
]  # fmt: skip


@pytest.mark.parametrize(("slip", "told"), SLIPS, ids=lambda one: getattr(one, "code", ""))
def test_a_slip_has_its_words(slip: Slip, told: str) -> None:
    """A note, with the step and the value that gives it away."""
    said = slip_found(slip)
    assert words(said.said) == told
    assert (said.code, said.severity) == (slip.code.replace(" ", "_").replace("-", "_"), "note")


def test_every_slip_has_its_words() -> None:
    """None is left out above."""
    assert {slip.code for slip, _ in SLIPS} == set(get_args(SlipCode))


def test_phases_and_steps_show_the_numbers_of_the_day(demo: Answer) -> None:
    """Each phase with all of its numbers; steps with those that a row has room for; a ramp has no lowest."""
    phases, steps = phases_table(demo), steps_table(demo)
    assert headings(steps, 0, short=True) == ["Step", "", "from", "min", "°C", "set W", "advised", "kWh", "EUR"]
    assert headings(steps, 1)[-2:] == ["From, °C", "Lowest, °C"]
    assert headings(steps, 2)[-1] == "Mean, W"
    assert headings(phases, 0, short=True) == [
        "Step", "", "from", "Until", "min", "°C", "kWh", "Heat lost, kWh", "Evaporated, kg", "set W", "advised",
        "Draws, W", "Draws, A", "EUR",
    ]  # fmt: skip
    assert demo.price is not None
    for row, beside, phase in zip(phases, steps, demo.day.phases, strict=False):
        kwh = phase.energy_j / JOULES_PER_KWH
        assert (row["from_c"], row["to_c"], row["lowest_c"]) == (phase.from_c, phase.to_c, phase.lowest_c)
        assert (row["energy_kwh"], row["heat_lost_kwh"]) == (kwh, phase.heat_lost_j / JOULES_PER_KWH)
        assert (row["evaporated_kg"], row["mean_power_w"]) == (phase.evaporated_kg, phase.mean_w)
        assert row["minutes"] == beside["minutes"] == pytest.approx((phase.end_s - phase.start_s) / 60)
        assert row["cost"].units == beside["cost"].units == demo.price.of_phase(phase).units
        assert beside["lowest_c"] == (None if phase.phase == "ramp" else phase.lowest_c)
        assert beside["mean_power_w"] == pytest.approx(phase.mean_w, rel=1e-9)
        assert (beside["from_c"], beside["to_c"]) == (phase.from_c, phase.to_c)
        assert row["end"].at == demo.clock(round(phase.end_s))
    heater = demo.day.profiles[1]
    assert [row[:2] for row in seen_rows(steps)[-2:]] == [["Second heater", ""], ["The day", ""]]
    (beside,) = appliances_table(demo)
    assert beside["cost"].units == demo.price.beside_vessel.units == list(steps)[-1]["cost"].units
    assert beside["energy_kwh"] == heater.energy_kwh
    assert beside["minutes"] == pytest.approx((heater.edges_s[-1] - heater.edges_s[0]) / 60)
    assert beside["mean_power_w"] == pytest.approx(1500.0)  # as the plan has it
    assert headings(appliances_table(demo), 1) == [
        "Appliance", "From", "Until", "Time, min", "Energy, kWh", "Cost, EUR",
    ]  # fmt: skip
    assert headings(bands_table(demo), 0) == ["Band", "Energy, kWh", "Cost, EUR"]
    assert [row["cost"].units for row in bands_table(demo)] == [band.cost.units for band in demo.price.total.bands]


@pytest.mark.parametrize(
    ("most", "rows"),
    [(14, 14), (13, 8), (8, 8), (7, 7), (2, 2)],
)  # fmt: skip
def test_rows_are_made_fewer_as_room_gets_less(demo: Answer, most: int, rows: int) -> None:
    """Fourteen phases, else eight steps, else the first of them and the rest in one; the second heater is beside."""
    table = steps_table(demo, most)
    assert len(table.rows) == rows + 1
    phases = demo.day.phases
    first = table.rows[0]
    if rows < 14:
        assert first[1] == "ramp+hold"
        assert first[3] == pytest.approx((phases[1].end_s - phases[0].start_s) / 60)
        assert first[7] == pytest.approx((phases[0].energy_j + phases[1].energy_j) / JOULES_PER_KWH)
        assert first[11] == pytest.approx(
            (phases[0].energy_j + phases[1].energy_j) / (phases[1].end_s - phases[0].start_s)
        )
    if rows == 8:
        assert table.rows[7][:2] == ("Cleaning", "ramp+hold"), "the last step is itself while there is room for it"
    if rows < 8:
        last = table.rows[rows - 1]
        assert words(last[0]) == f"{9 - rows} more steps"
        later = [phase for phase in phases if phase.step in {step.name for step in demo.day.plan.steps[rows - 1 :]}]
        assert last[3] == pytest.approx((later[-1].end_s - later[0].start_s) / 60)
        assert last[11] == pytest.approx(sum(phase.energy_j for phase in later) / (later[-1].end_s - later[0].start_s))


def test_one_screen_has_the_answer_and_what_comes_after(demo: Answer) -> None:
    """Strike and boil on a line, the verdict, three tables of steps, the wort, prices and hands behind the strip."""
    said = screen_told(demo)
    strike, boil = strike_sentence(demo), boil_sentence(demo)
    assert words(said.sentences[0]) == f"{words(strike)} {words(boil)}"  # type: ignore[arg-type]
    assert words(said.sentences[1]).startswith("Within the ratings you entered: ")
    assert len(said.sentences) == 2
    assert [words(one) for one in said.cautions] == [
        (
            "Mains, water and 100 °C wort: leads dry and fully unwound, nothing that heats unattended; local codes "
            "rule, and a licensed electrician decides."
        )
    ]
    assert [len(table.rows) for table in said.tables] == [15, 9, 9]
    strip, after = said.parts
    assert (strip.key, after.key) == ("picture", "after")
    assert words(after.sentences[0]) == words(wort_sentence(demo))
    assert words(after.sentences[1]) == " ".join(words(one) for one in price_sentences(demo))
    assert words(after.sentences[2]).startswith("Hands are needed ")
    slips = tuple(slip for slip, _ in SLIPS[:3])
    many = screen_told(replace(demo, day=replace(demo.day, slips=slips)))
    assert [one.code for one in many.findings] == ["grain_in_the_boil", "power_above_the_elements"]


def test_the_day_s_totals_are_in_the_report(demo: Answer) -> None:
    """What ramps, holds and boils take; the rest; money and kWh of each litre; whatever is not there is blank."""
    told = document(report_told(demo))
    day, totals = demo.day, told["totals"]
    kinds = {kind: day.energy_of(kind) for kind in ("ramp", "hold", "boil")}  # type: ignore[arg-type]
    assert demo.price is not None
    assert {key: totals[key] for key in ("ramp_kwh", "hold_kwh", "boil_kwh", "other_kwh", "minutes", "currency",
                                         "imported_kwh", "kwh_per_hl", "carbon_g", "cost_per_l")} == {
        **{f"{kind}_kwh": kwh for kind, kwh in kinds.items()},
        "other_kwh": pytest.approx(day.energy_kwh - sum(kinds.values())),
        "minutes": day.duration_s / 60, "currency": "EUR", "imported_kwh": demo.price.total.imported_kwh,
        "kwh_per_hl": pytest.approx(100 * day.energy_kwh / day.wort.end_l), "carbon_g": None,
        "cost_per_l": pytest.approx(float(demo.price.total.total) / day.wort.end_l),
    }  # fmt: skip
    other = day.energy_kwh - sum(kinds.values())
    assert words(day_told(demo).sentences[3]) == (
        f"Ramps take {kinds['ramp']:.2f} kWh, holds {kinds['hold']:.2f} kWh, boils {kinds['boil']:.2f} kWh, all else "
        f"{other:.2f} kWh."
    )
    assert told["house"] is None
    assert told["wort"] == {
        "before_boil_l": day.wort.before_boil_l, "end_l": day.wort.end_l, "gravity_end": day.wort.gravity_end,
        "gravity_before_boil": day.wort.gravity_before_boil, "extract_kg": day.wort.extract_kg,
        "evaporated_kg": day.wort.evaporated_kg, "fullest_frac": day.wort.fullest_frac,
    }  # fmt: skip
    bare = answer(read_plan("demo").model_copy(update={"circuit": None}), None, demo.start)
    assert titles(day_told(demo)) == [demo.day.plan.title, "Phases", "Beside the vessel", "Prices"]
    assert document(report_told(bare))["circuit"] is None


BREAKER = Rating(code="breaker", name="breaker", limit_a=16.0, whole_circuit=True)
CHECKED = Given(ratings=(BREAKER,), peak_a=12.6, vessel_a=12.1)


def finding(code: str, severity: Any) -> Finding:
    """A finding of this weight."""
    return Finding(code=code, severity=severity, case=severity, rule="")


@pytest.mark.parametrize(
    ("given", "ranges", "tiles"),
    [
        (found(circuit=None, findings=()), None,
         [("7.50 kWh", None, "ok"), ("no prices", None, "ok"), ("14:00", None, "ok"),
          ("not checked", None, "unknown")]),
        (found(circuit=CHECKED, findings=(finding("isolation", "ok"),), price=priced()), RANGES,
         [("7.50 kWh", "7.0 to 8.0 kWh", "ok"),
          ("2.00 EUR", "1.90 to 2.20 EUR", "ok"),
          ("14:00", "13:50 to 14:20", "ok"),
          ("12.6 A of 16 A", "within the ratings you entered", "ok")]),
        (found(circuit=CHECKED, findings=(finding("plug_fuse", "over"), finding("ring", "over"),
                                          finding("place", "unknown")), price=priced(ends=(euros(1.9), euros(2.4))),
               learned=Given(days=2)), RANGES.but(cost=None),
         [("7.50 kWh", "7.0 to 8.0 kWh, from 2 brewed days", "ok"),
          ("2.00 EUR", "1.90 to 2.40 EUR, from 2 brewed days", "ok"),
          ("14:00", "13:50 to 14:20, from 2 brewed days", "ok"),
          ("12.6 A of 16 A", "plug fuse and ring; 1 thing is not known", "over")]),
    ],
)  # fmt: skip
def test_tiles(given: Any, ranges: Any, tiles: list[tuple[str, str | None, str]]) -> None:
    """Energy, money, end and current, each with its range or its verdict."""
    told = day_tiles(given, ranges)
    assert [(one.key, one.title) for one in told] == [
        ("energy", "Energy"), ("cost", "Cost"), ("done", "Done at"), ("current", "Current"),
    ]  # fmt: skip
    shown = [(words(one.value), None if one.note is None else words(one.note), one.severity) for one in told]
    assert shown == tiles


def test_the_page_of_the_brew_day_is_in_the_order_of_the_clock(demo: Answer) -> None:
    """What ends, what is done, the phase, the boil, what happens in it; the numbers of each phase; the sum last."""
    told = brew_day_told(demo)
    table = told.table("by_clock")
    assert headings(table, 0) == ["Clock", "Step, what to do", "Phase", "to, °C", "Set, W", "Advised, W", "Time, min",
                                  "Energy, kWh", "Cost, EUR", "Kind"]  # fmt: skip
    rows = list(table)
    assert [row["kind"] for row in rows[-2:]] == ["do", "beside"]
    order = ["end", "do", "phase", "boil", "within"]
    for before, after in itertools.pairwise(rows[:-1]):
        clocks = before["clock"].raw.at, after["clock"].raw.at
        same = order.index(before["kind"]) <= order.index(after["kind"])
        assert clocks[0] < clocks[1] or (clocks[0] == clocks[1] and same)
    phases = [row for row in rows if row["kind"] == "phase"]
    assert [row["energy_kwh"] for row in phases] == [
        row["energy_kwh"] for row in list(steps_table(demo))[: len(phases)]
    ]
    said = [words(row["words"]) for row in rows]
    assert "Done: switch off, read the meter" in said
    until = demo.clock(demo.day.profiles[1].edges_s[-1])
    assert f"Switch on: Second heater, 1500 W, until {until:%H:%M}" in said
    grain = next(one for one in said if one.startswith("Add the grain"))
    assert grain.startswith("Add the grain: 5.80 kg; Stir the grain in, until ")
    watch = next(row for row in rows if words(row["words"]).startswith("Watch for boil-over, from "))
    onset = next(one for one in demo.people.watches if one.watch == "onset")
    assert words(watch["words"]) == (
        f"Watch for boil-over, from {demo.clock(onset.earliest_s):%H:%M} at the earliest, until "
        f"{demo.clock(onset.ends_s):%H:%M}"
    )
    assert not any(one.startswith("Switch on the vessel") for one in said)
    assert table.total is not None
    assert table.total[7] == demo.day.energy_kwh
    assert titles(told) == [demo.day.plan.title, "By the clock"]
    assert [words(one) for one in told.sentences] == [words(strike_sentence(demo)), words(wort_sentence(demo))]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("ending", "key"), [(".pdf", "sheets"), (".ics", "calendar"), (".csv", "steps"), (".svg", "picture")]
)
def test_a_file_holds_what_its_ending_says(demo: Answer, ending: str, key: str) -> None:
    """Sheets, entries, steps; the picture for all others."""
    told = file_told(demo, ending)
    assert told.key == key
    if key == "sheets":
        assert told.title == "The sheets"
        assert [part.key for part in told.parts] == ["electrician", "brew_day", "lines", "picture"]


def test_a_phase_in_the_calendar_has_its_power_and_its_range(demo: Answer) -> None:
    """What is set, the mean and what it holds beside the elements; in a pause they are off; no reminder."""
    table = calendar_told(demo).table("entries")
    assert headings(table, 0) == ["From", "Until", "Kind", "Step", "What", "More", "Reminder before, min"]
    rows = [row for row in table if row["kind"] == "phase"]
    assert len(rows) == len(demo.day.phases)
    set_w = {("Strike", "ramp"): 2800, ("Strike", "hold"): 600, ("Mash-out", "ramp"): 2000, ("Boil", "boil"): 2200}
    for row, phase in zip(rows, demo.day.phases, strict=True):
        assert words(row["title"]) == f"{phase.step}: {phase.phase}"
        assert row["remind_min"] is None
        assert (row["start"].at, row["end"].at) == (
            demo.start + timedelta(seconds=round(phase.start_s)), demo.start + timedelta(seconds=round(phase.end_s)),
        )  # fmt: skip
        first, last = (words(CELSIUS(one)) for one in (phase.from_c, phase.to_c))
        ends = last if first == last else f"{first.removesuffix(' °C')} to {last}"
        if phase.phase == "pause":
            assert words(row["text"]) == f"{ends}; elements off"
        elif (phase.step, phase.phase) in set_w:
            beside = "standby" if phase.step == "Boil" else "pump and standby"
            assert words(row["text"]) == (
                f"{ends}; set {set_w[phase.step, phase.phase]} W, {phase.mean_w:.0f} W on average with {beside}"
            )
    assert document(calendar_told(demo))["start"] == "2026-12-05T05:30:00Z"
    assert str(calendar_told(demo).title) == demo.day.plan.title


def test_estimates_and_both_ends_of_a_cost_are_among_the_totals(demo: Answer) -> None:
    """For machines; without them the keys are not there."""
    assert demo.price is not None
    guess: Any = Given(error_per_kwh=0.031, begins=demo.start, weeks=2)
    price: Any = Given(**{name: getattr(demo.price, name) for name in ("total", "line", "tariff", "carbon_g",
                                                                       "beside_vessel", "of_phase")},
                       ends=(euros(1.9), euros(2.4)), estimate=guess)  # fmt: skip
    totals = document(day_told(replace(demo, price=price)))["totals"]
    assert {key: totals[key] for key in ("cost_low", "cost_high", "cost_is_estimate", "estimate_off_per_kwh")} == {
        "cost_low": 1.9, "cost_high": 2.4, "cost_is_estimate": True, "estimate_off_per_kwh": 0.031,
    }  # fmt: skip
    assert not {"cost_low", "cost_is_estimate"} & set(document(day_told(demo))["totals"])


@pytest.mark.parametrize(
    ("start", "told"),
    [
        (datetime(2026, 10, 24, 21, 30, tzinfo=UTC), "22:30 IST"),  # the clock moves three and a half hours later
        (datetime(2026, 10, 24, 16, 0, tzinfo=UTC), "17:00"),
        (datetime(2026, 10, 25, 3, 59, tzinfo=UTC), "03:59 GMT"),  # it moved not three hours before
        (datetime(2026, 10, 25, 4, 1, tzinfo=UTC), "04:01"),
    ],
)  # fmt: skip
def test_a_clock_names_its_zone_where_it_moves_around_the_day(start: datetime, told: str) -> None:
    """In Ireland at 01:00 UTC on 25 October; three hours before and after the day are looked at, for its people."""
    answered = Begun(day=DAY)
    answered.start = start
    assert words(at(answered, 0.0)) == told  # type: ignore[arg-type]


def test_parts_are_told_alone(demo: Answer, monkeypatch: pytest.MonkeyPatch) -> None:
    """The circuit without what the screen said; powers that may not do under the verdict; no strike, no numbers."""
    circuit = PARTS["circuit"](demo)
    assert (circuit.key, circuit.headline, circuit.cautions) == ("circuit", None, ())
    assert {key: PARTS[key](demo).key for key in PARTS} == {key: key for key in PARTS}
    weak = replace(demo.power, rows=(replace(demo.power.rows[0], set_holds_frac=0.5, works_down_to_c=None),))
    with monkeypatch.context() as patched:
        patched.setattr(Answer, "power", weak)
        said = [words(one) for one in screen_told(demo).sentences[1:]]
    assert said == [words(circuit_headline(demo)), words(power_headline(weak))]
    assert document(day_told(replace(demo, day=replace(demo.day, strike=None))))["strike"] is None
    bare = found(circuit=None, findings=(), price=priced())
    assert [words(one.value) for one in day_tiles(bare, RANGES.but(cost=None))][1] == "2.00 EUR"
    assert day_tiles(bare, RANGES.but(cost=None))[1].note is None
