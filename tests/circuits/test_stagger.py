"""Two days on one circuit: the least delay against a search by brute force."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.circuits.stagger import equal_caps_w, least_offset, shared_limit
from energyplan.physics.conductors import awg_mm2
from energyplan.physics.network import board_frac, connections
from energyplan.plan.lines import layout_of
from energyplan.plan.model import Circuit, Extension, OtherLoad

Builder = Callable[..., LoadProfile]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin

# A day in steps of whole minutes: (length, on or off), and the power of its vessel.
DAYS = st.tuples(
    st.lists(st.tuples(st.integers(1, 12), st.booleans()), min_size=1, max_size=6), st.sampled_from([1500, 2200, 3000])
)


def day(
    profile: Builder, steps: list[tuple[int, bool]], power_w: float, name: str = "Vessel", voltage_v: float = 230
) -> LoadProfile:
    """Make a profile of alternating steps."""
    edges = np.append(0, np.cumsum([length for length, _ in steps]))
    spans = [(float(a), float(b), 1.0 if on else 0.0) for a, b, (_, on) in zip(edges, edges[1:], steps, strict=False)]
    return profile(name, spans, power_w=power_w, voltage_v=voltage_v)


def delayed(load: LoadProfile, delay_s: float, line: str = "") -> LoadProfile:
    """Shift a profile."""
    return replace(load, name="Second", edges_s=load.edges_s + delay_s, line=load.line or line)


def hung(load: LoadProfile, layout: str, place: str, volts: float, power_w: float) -> LoadProfile:
    """The same day with all its elements in a place, with plates for the voltage there."""
    on = (load.heater_w_per_v2 > 0) * power_w
    siemens = on / (board_frac(layout, place) * volts) ** 2
    line = "L1" if place == "all" else place
    return replace(load, line=line, heater_w_per_v2=siemens, mean_w=on, by_line=((place, siemens),))


def fits(
    first: LoadProfile, second: LoadProfile, delay_min: float, circuit: Circuit, others: tuple[OtherLoad, ...]
) -> bool:
    """Ask the circuit check whether both days together pass the breaker (2 % are the slack of nameplates)."""
    result = check(
        [first, delayed(second, 60 * delay_min, "L1-L2" if circuit.rules == "nec" else "")],
        circuit,
        others,
        START,
        DUBLIN,
    )
    nominal = next(case for case in result.voltages if case.name == "nominal")
    within = circuit.breaker_a is not None and nominal.peak_a <= circuit.breaker_a * 1.02
    return within and not any(f.severity == "over" for f in result.findings if f.code == "continuous")


@given(first_day=DAYS, second_day=DAYS, kettle=st.booleans())
@settings(max_examples=60, deadline=None)
def test_least_delay_is_that_of_a_search(
    profile: Builder,
    *,
    first_day: tuple[list[tuple[int, bool]], int],
    second_day: tuple[list[tuple[int, bool]], int],
    kettle: bool,
) -> None:
    """On days of whole minutes the answer is the first minute at which the check finds nothing over."""
    first, second = day(profile, *first_day), day(profile, *second_day, "Second")
    others = (OtherLoad(name="Kettle", power_w=700.0, from_min=485, to_min=492),) if kettle else ()
    circuit = Circuit(voltage_v=230.0, breaker_a=16.0, dedicated=None)
    found = least_offset([first], [second], circuit, others, START, DUBLIN)
    last = int(first.edges_s[-1] // 60) + 20  # by then the first day and the kettle are over
    searched = next((minute for minute in range(last + 1) if fits(first, second, minute, circuit, others)), None)
    assert found.offset_min == searched
    if searched is not None:
        assert found.offset_s == pytest.approx(60.0 * searched)


SUPPLIES = [
    ({"voltage_v": 230.0, "layout": "three phase", "line": "L1"}, "three phase", 230.0),
    ({"voltage_v": 240.0, "rules": "nec"}, "split phase", 240.0),
    ({"voltage_v": 208.0, "rules": "nec"}, "two of three phases", 208.0),
]


@given(data=st.data(), first_day=DAYS, second_day=DAYS, supply=st.sampled_from(SUPPLIES))
@settings(max_examples=60, deadline=None)
def test_least_delay_of_days_on_some_lines_is_that_of_a_search(
    profile: Builder,
    data: st.DataObject,
    first_day: tuple[list[tuple[int, bool]], int],
    second_day: tuple[list[tuple[int, bool]], int],
    supply: tuple[dict[str, object], str, float],
) -> None:
    """Wherever either hangs, each line counts what it carries: the answer is the check's first minute."""
    entries, layout, volts = supply
    places = st.sampled_from(connections(layout))
    (first_steps, first_w), (second_steps, second_w) = first_day, second_day
    first = hung(day(profile, first_steps, first_w), layout, data.draw(places), volts, first_w)
    second = hung(day(profile, second_steps, second_w), layout, data.draw(places), volts, second_w)
    line = data.draw(st.sampled_from(("L1", "L2")))
    others = (OtherLoad(name="Kettle", power_w=700.0, from_min=485, to_min=492, line=line),)
    circuit = Circuit(breaker_a=data.draw(st.sampled_from([10.0, 16.0, 20.0, 25.0])), dedicated=None, **entries)
    found = least_offset([first], [second], circuit, others, START, DUBLIN)
    last = int(first.edges_s[-1] // 60) + 20
    searched = next((minute for minute in range(last + 1) if fits(first, second, minute, circuit, others)), None)
    assert found.offset_min == searched


def test_days_on_different_lines_need_no_delay(profile: Builder) -> None:
    """3 kW on L1 and 3 kW on L2 are 13 A on either of them, not 26 A; on the same line the second waits."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, layout="three phase", line="L1", breaker_a=16.0)
    ways = {line: least_offset([vessel], [replace(vessel, line=line)], circuit, (), START, DUBLIN)
            for line in ("L1", "L2", "L3")}  # fmt: skip
    assert {line: found.offset_min for line, found in ways.items()} == {"L1": 60, "L2": 0, "L3": 0}
    assert {line: found.each_w for line, found in ways.items()} == {"L1": 1840.0, "L2": None, "L3": None}


def test_what_nobody_placed_is_tried_on_every_line(profile: Builder) -> None:
    """Of a kettle beside a vessel on L2-L3 nobody said the line: at worst L2 or L3, never the idle L1."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=5000, voltage_v=400)  # 12.5 A
    circuit = Circuit(voltage_v=230.0, layout="three phase", line="L2-L3", breaker_a=16.0)
    kettle = OtherLoad(name="Kettle", power_w=1500.0, from_min=485, to_min=495)  # 6.5 A
    assert least_offset([vessel], [vessel], circuit, [kettle], START, DUBLIN).case == "first alone"
    later = OtherLoad(name="Kettle", power_w=1500.0, from_min=545, to_min=555)  # from minute 65
    assert least_offset([vessel], [vessel], circuit, [later], START, DUBLIN).offset_min == 75


def test_two_days_on_two_lines_load_three_conductors(profile: Builder) -> None:
    """1.5 mm2 in insulation carries 14.5 A with two loaded conductors, and 13 A with three (B.52.4, method A)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, layout="three phase", line="L1", cable_mm2=1.5, installation="A")
    limits_a = [least_offset([vessel], [replace(vessel, line=line)], circuit, (), START, DUBLIN).limit_a
                for line in ("L1", "L2")]  # fmt: skip
    assert limits_a == [14.5, 13.0]


def test_two_days_count_as_the_check_counts_them(profile: Builder) -> None:
    """A voltage above the nominal one counts as entered; under NFPA 70 the plates do, whatever the wires drop."""
    high = Circuit(voltage_v=241.0, breaker_a=25.0)
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2900, voltage_v=230)
    # 25.2 A at 230 V lie within 25 A and 2 %; 26.4 A at 241 V don't.
    assert least_offset([vessel], [vessel], high, (), START, DUBLIN).offset_min == 60
    far = Circuit(rules="nec", voltage_v=240.0, breaker_a=25.0, cable_mm2=awg_mm2(10), cable_length_m=60.0)
    plates = profile("Vessel", [(0, 60, 1)], power_w=3100, voltage_v=240)  # 25.8 A by the plates, 23.9 A in the wires
    assert least_offset([plates], [plates], far, (), START, DUBLIN).offset_min == 60
    for circuit, one in ((high, vessel), (far, plates)):
        found = check([one, delayed(one, 0.0, "L1-L2" if circuit.rules == "nec" else "")], circuit, (), START, DUBLIN)
        assert next(finding for finding in found.findings if finding.code == "breaker").severity == "over"


def test_half_minutes_are_exact(profile: Builder) -> None:
    """The second may begin when the first ends, after 37.5 min: 2250 s, and 38 whole minutes."""
    first = profile("Vessel", [(0, 37.5, 1)], power_w=3000, voltage_v=230)
    second = profile("Vessel", [(0, 30, 1)], power_w=2500, voltage_v=230)
    found = least_offset([first], [second], Circuit(voltage_v=230.0, breaker_a=16.0), (), START, DUBLIN)
    assert found.offset_s == pytest.approx(2250.0)
    assert found.offset_min == 38
    assert (found.limited_by, found.limit_a) == ("breaker", 16.0)


def test_second_slips_into_the_rest_of_the_first(profile: Builder) -> None:
    """A pause of the first from minute 30 to 60 takes the second's 20 min: 30 min, not 90."""
    first = profile("Vessel", [(0, 30, 1), (60, 90, 1)], power_w=3000, voltage_v=230)
    second = profile("Vessel", [(0, 20, 1)], power_w=3000, voltage_v=230)
    found = least_offset([first], [second], Circuit(voltage_v=230.0, breaker_a=16.0), (), START, DUBLIN)
    assert found.offset_min == 30


def test_no_delay_is_needed_on_a_large_circuit(profile: Builder) -> None:
    """Two of 3 kW on 32 A begin together."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    found = least_offset([vessel], [vessel], Circuit(voltage_v=230.0, breaker_a=32.0), (), START, DUBLIN)
    assert (found.offset_s, found.offset_min) == (0.0, 0)


def test_pulses_count_in_full(profile: Builder) -> None:
    """The first's hold at 5 % still pulses at full current: the second waits for its end."""
    first = profile("Vessel", [(0, 30, 1), (30, 90, 0.05)], power_w=3000, voltage_v=230)
    second = profile("Vessel", [(0, 20, 1)], power_w=3000, voltage_v=230)
    found = least_offset([first], [second], Circuit(voltage_v=230.0, breaker_a=16.0), (), START, DUBLIN)
    assert found.offset_min == 90


def test_other_loads_stay_at_their_hours(profile: Builder) -> None:
    """A kettle from 08:40 to 08:50, after the first day's end, keeps the second out until it has boiled."""
    first = profile("Vessel", [(0, 30, 1)], power_w=3000, voltage_v=230)
    second = profile("Vessel", [(0, 15, 1)], power_w=3000, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2200.0, from_min=520, to_min=530)
    found = least_offset([first], [second], Circuit(voltage_v=230.0, breaker_a=16.0), [kettle], START, DUBLIN)
    assert found.offset_min == 50


def test_no_delay_helps_beside_a_load_that_never_stops(profile: Builder) -> None:
    """2.5 kW and a fridge of 1.5 kW all day pass 16 A at any hour: no delay, although either vessel fits alone."""
    first = profile("Vessel", [(0, 30, 1)], power_w=1500, voltage_v=230)
    second = profile("Vessel", [(0, 30, 1)], power_w=2500, voltage_v=230)
    cooler = OtherLoad(name="Cold room", power_w=1500.0)
    found = least_offset([first], [second], Circuit(voltage_v=230.0, breaker_a=16.0), [cooler], START, DUBLIN)
    assert (found.offset_s, found.offset_min) == (None, None)
    assert found.case == "no delay"


def test_whole_minute_that_misses_a_tight_gap(profile: Builder) -> None:
    """A gap from 10.5 to 20.5 min takes 10 min exactly at 10.5; no whole minute does, so 31 is the first."""
    first = profile("Vessel", [(0, 10.5, 1), (20.5, 30.5, 1)], power_w=3000, voltage_v=230)
    second = profile("Vessel", [(0, 10, 1)], power_w=3000, voltage_v=230)
    found = least_offset([first], [second], Circuit(voltage_v=230.0, breaker_a=16.0), (), START, DUBLIN)
    assert found.offset_s == pytest.approx(630.0)
    assert found.offset_min == 31


@pytest.mark.parametrize("which", ["first", "second"])
def test_day_that_is_too_much_alone(profile: Builder, which: str) -> None:
    """No delay helps a day that passes the breaker by itself, and the reason says which."""
    small = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    large = profile("Vessel", [(0, 60, 1)], power_w=5000, voltage_v=230)
    pair = ([large], [small]) if which == "first" else ([small], [large])
    found = least_offset(*pair, Circuit(voltage_v=230.0, breaker_a=16.0), (), START, DUBLIN)
    assert (found.offset_s, found.offset_min) == (None, None)
    assert found.case == f"{which} alone"


def test_three_hours_of_both_together(profile: Builder) -> None:
    """NFPA 70, 15 A: two days of 100 min at 12.5 A can't overlap (25 A), nor follow at once, but after a minute.

    Back to back they are 200 min of 12.5 A, a continuous load that asks for 15.6 A.
    """
    vessel = profile("Vessel", [(0, 100, 1)], power_w=12.5 * 240, voltage_v=240)
    circuit = Circuit(rules="nec", voltage_v=240.0, breaker_a=15.0)
    found = least_offset([vessel], [vessel], circuit, (), START, DUBLIN)
    assert found.offset_min == 101
    assert found.case == "short gap"
    assert not fits(vessel, vessel, 100, circuit, ())
    assert fits(vessel, vessel, 101, circuit, ())


LONG_DAYS = st.lists(st.tuples(st.integers(10, 120), st.booleans()), min_size=1, max_size=5)


@given(LONG_DAYS, LONG_DAYS, st.sampled_from([20.0, 25.0, 30.0]))
@settings(max_examples=25, deadline=None)
def test_least_delay_under_the_three_hour_rule(
    profile: Builder, first_steps: list[tuple[int, bool]], second_steps: list[tuple[int, bool]], breaker_a: float
) -> None:
    """Under NFPA 70, too, no whole minute before the answer leaves the check without an overload."""
    first = day(profile, first_steps, 2800, voltage_v=240)
    second = day(profile, second_steps, 2000, "Second", voltage_v=240)
    circuit = Circuit(rules="nec", voltage_v=240.0, breaker_a=breaker_a)
    found = least_offset([first], [second], circuit, (), START, DUBLIN)
    assert found.offset_min is not None
    assert fits(first, second, found.offset_min, circuit, ())
    assert not any(fits(first, second, minute, circuit, ()) for minute in range(found.offset_min))


def test_three_hour_run_that_shrinks(profile: Builder) -> None:
    """NFPA 70: a second within the first's 5 h keeps 16 A going for 3 h until it begins late enough.

    First 8 A for 5 h, second 8 A for 4 h, 20 A breaker: together 16 A for as long as they overlap, which is 3 h or more
    until the second begins more than 2 h late; then 16 + 0.25 x 8 = 18 A instead of 20 A. Both fit 20 A; on a
    19 A cable limit only the late start does.
    """
    first = profile("Vessel", [(0, 300, 1)], power_w=8 * 240, voltage_v=240)
    second = profile("Vessel", [(0, 240, 1)], power_w=8 * 240, voltage_v=240)
    wide = least_offset([first], [second], Circuit(rules="nec", voltage_v=240.0, breaker_a=20.0), (), START, DUBLIN)
    assert wide.offset_s == 0.0
    tight = least_offset([first], [second], Circuit(rules="nec", voltage_v=240.0, breaker_a=19.0), (), START, DUBLIN)
    assert tight.offset_s == pytest.approx(7201.0)
    assert tight.offset_min == 121


def test_cable_can_be_the_limit(profile: Builder) -> None:
    """14.5 A of 1.5 mm2 in insulation lie below a 16 A breaker."""
    circuit = Circuit(voltage_v=230.0, breaker_a=16.0, cable_mm2=1.5, installation="A", cable_length_m=10.0)
    limit = shared_limit(circuit)
    assert limit is not None
    assert (limit.limit_a, limit.name) == (14.5, "cable")


def test_leads_and_other_lines_are_respected(profile: Builder) -> None:
    """The first's lead lowers its current; a kettle on another line does not count."""
    circuit = Circuit(voltage_v=230.0, breaker_a=13.0, layout="three phase", line="L1",
                      extension=Extension(cable_mm2=1.5, length_m=50.0))  # fmt: skip
    first = profile("Vessel", [(0, 30, 1)], power_w=3200, voltage_v=230)
    second = profile("Vessel", [(0, 30, 1)], power_w=2500, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=3000.0, line="L2")
    found = least_offset([first], [second], circuit, [kettle], START, DUBLIN)
    assert found.offset_min == 30  # 3.2 kW are 13.9 A without the lead's 1.5 ohm, and 12.7 A with it


def test_nothing_to_compare_with_is_an_error(profile: Builder) -> None:
    """Neither breaker nor cable: the message says what to enter."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    with pytest.raises(PlanError, match="neither breaker nor cable"):
        least_offset([vessel], [vessel], Circuit(voltage_v=230.0), (), START, DUBLIN)


def test_equal_caps() -> None:
    """16 A x 230 V less 2 A of fridge over two vessels: 1610 W each; under NFPA 70 as a lasting load; never below 0."""
    circuit = Circuit(voltage_v=230.0, breaker_a=16.0)
    assert equal_caps_w(circuit, 2, other_a=2.0) == pytest.approx(1610.0)
    assert equal_caps_w(circuit, 2, other_a=20.0) == 0.0
    split = Circuit(rules="nec", voltage_v=240.0, breaker_a=50.0)
    assert equal_caps_w(split, 2) == pytest.approx(4800.0)
    assert equal_caps_w(split, 2, place="L1") == pytest.approx(2400.0), "on a leg of 120 V"
    three = Circuit(voltage_between_lines_v=400.0, line="all", breaker_a=16.0)
    assert equal_caps_w(three, 2) == pytest.approx(16 * 3 * 230 / 2)
    assert equal_caps_w(three, 2, place="L1-L2") == pytest.approx(16 * 3**0.5 * 230 / 2)


def test_power_of_each_beside_the_other_loads(profile: Builder) -> None:
    """What hangs on the vessels' lines counts, at the voltage of its own place; what hangs elsewhere does not."""
    circuit = Circuit(rules="nec", voltage_v=240.0, breaker_a=50.0)
    vessel = profile("Vessel", [(0, 30, 1)], power_w=2400, voltage_v=240)
    iron = OtherLoad(name="Iron", power_w=1200.0, line="L2")  # 10 A on L2 to neutral
    oven = OtherLoad(name="Oven", power_w=2400.0, line="L1-L2")  # 10 A
    each_w = [least_offset([vessel], [vessel], circuit, others, START, DUBLIN).each_w
              for others in ((), (iron,), (iron, oven))]  # fmt: skip
    assert each_w == [pytest.approx((40 - beside_a) * 240 / 2) for beside_a in (0, 10, 20)]
    three = Circuit(voltage_v=230.0, layout="three phase", line="L1", breaker_a=16.0)
    assert least_offset([vessel], [vessel], three, (iron,), START, DUBLIN).each_w == pytest.approx(16 * 230 / 2)


LEAD = Extension(cable_mm2=1.5, length_m=20.0)
TOGETHER = [
    ({"voltage_v": 230.0}, 230.0, "L1"),
    ({"voltage_v": 230.0, "extension": LEAD}, 230.0, "L1"),
    ({"voltage_v": 240.0, "rules": "nec"}, 240.0, "L1-L2"),
    ({"voltage_v": 240.0, "rules": "nec", "line": "L1", "extension": LEAD}, 120.0, "L1"),
    ({"voltage_v": 208.0, "rules": "nec"}, 208.0, "L1-L2"),
    ({"voltage_between_lines_v": 400.0, "line": "L1-L2", "extension": LEAD}, 400.0, "L1-L2"),
    ({"voltage_between_lines_v": 400.0, "line": "L2"}, 230.0, "L2"),
    ({"voltage_between_lines_v": 400.0, "line": "all"}, 400.0, "all"),
]


@pytest.mark.parametrize(("supply", "plate_v", "place"), TOGETHER)
def test_two_days_fit_together_where_the_network_says_so(
    profile: Builder, supply: dict[str, object], plate_v: float, place: str
) -> None:
    """Of 3 kW with a pump and 2 kW, behind 200 m of 16 mm2: a breaker just below what the check finds is too small.

    Only the first vessel is on the lead. For "all" what both drop together in the cable is not credited.
    """
    first = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=plate_v, other_w=200)
    second = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=plate_v)
    if place == "all":
        first, second = (replace(one, by_line=(("all", one.heater_w_per_v2),)) for one in (first, second))
    circuit = Circuit(cable_mm2=16.0, cable_length_m=200.0, breaker_a=1.0, **supply)
    both = check(
        [first, replace(second, name="Second", line=place if place != "all" else "")], circuit, (), START, DUBLIN
    )
    most_a = max(case.peak_a for case in both.voltages if case.name in ("as entered", "nominal")) / 1.02
    if circuit.rules == "nec":  # by the plates
        other_v = board_frac(layout_of(circuit), place) * circuit.voltage_v
        most_a = (5000 / plate_v + 200 / other_v) / 1.02
    slack = 0.02 if place == "all" else 0.001
    for breaker_a, delay_min in ((most_a * (1 + slack), 0), (most_a * (1 - slack / 10), 60)):
        circuit = circuit.model_copy(update={"breaker_a": breaker_a})
        found = least_offset([first], [second], circuit, (), START, DUBLIN)
        assert (found.offset_min, found.limited_by) == (delay_min, "breaker")
