"""Resistance of conductors against the tables of the standards."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.base.errors import PlanError
from energyplan.physics.conductors import awg_mm2, awg_of_mm2, resistance_ohm_per_m

# IEC 60228 table 2, plain copper, 20 °C; read in a published reproduction (cable engineer's reference page).
IEC_60228_CLASS_2 = [(1.5, 12.1), (2.5, 7.41), (4.0, 4.61), (6.0, 3.08), (10.0, 1.83)]
# IEC 60228 table 3, class 5; read in the same page.
IEC_60228_CLASS_5 = [(1.5, 13.3), (2.5, 7.98)]
# BS 7671 appendix 4, two-core copper 70 °C, mV/A/m; read in published reproductions (voltage-drop pages).
BS_7671_MV = [(1.5, 29.0), (2.5, 18.0), (4.0, 11.0), (6.0, 7.3), (10.0, 4.4)]
# NFPA 70 chapter 9 table 8, solid uncoated copper at 75 °C, ohm/kft; read in a published reproduction.
NEC_TABLE_8_SOLID = [(14, 3.07), (12, 1.93), (10, 1.21)]
# Same table, stranded; 8 AWG read in the same reproduction as 0.764 solid, stranded value from memory.
NEC_TABLE_8_STRANDED = [(14, 3.14), (12, 1.98), (10, 1.24), (8, 0.778), (6, 0.491), (4, 0.308)]
FEET_PER_KILOFOOT_M = 304.8


@pytest.mark.parametrize(("size_mm2", "ohm_per_km"), IEC_60228_CLASS_2)
def test_fixed_wiring_has_the_tabled_resistance(size_mm2: float, ohm_per_km: float) -> None:
    """Class 2 sizes return the value of IEC 60228 at 20 °C."""
    assert resistance_ohm_per_m(size_mm2, 20.0) * 1000 == pytest.approx(ohm_per_km, rel=1e-12)


@pytest.mark.parametrize(("size_mm2", "ohm_per_km"), IEC_60228_CLASS_5)
def test_flexible_leads_have_the_tabled_resistance(size_mm2: float, ohm_per_km: float) -> None:
    """Class 5 sizes return the value of IEC 60228 at 20 °C."""
    assert resistance_ohm_per_m(size_mm2, 20.0, flexible=True) * 1000 == pytest.approx(ohm_per_km, rel=1e-12)


@pytest.mark.parametrize(("size_mm2", "mv_per_a_m"), BS_7671_MV)
def test_hot_loop_reproduces_the_drop_tables(size_mm2: float, mv_per_a_m: float) -> None:
    """Both ways at 70 °C give BS 7671's mV/A/m; observed agreement 1.4 %."""
    assert 2 * resistance_ohm_per_m(size_mm2, 70.0) * 1000 == pytest.approx(mv_per_a_m, rel=0.02)


@pytest.mark.parametrize(("gauge", "ohm_per_kft"), NEC_TABLE_8_SOLID)
def test_solid_gauges_follow_from_geometry(gauge: int, ohm_per_kft: float) -> None:
    """Geometry, resistivity and 75 °C give NFPA 70's solid values; observed agreement 0.7 %."""
    ohm = resistance_ohm_per_m(awg_mm2(gauge), 75.0) * FEET_PER_KILOFOOT_M
    assert ohm == pytest.approx(ohm_per_kft, rel=0.01)


@pytest.mark.parametrize(("gauge", "ohm_per_kft"), NEC_TABLE_8_STRANDED)
def test_stranded_gauges_are_two_percent_longer(gauge: int, ohm_per_kft: float) -> None:
    """Stranded cords follow NFPA 70's stranded values within 1 %."""
    ohm = resistance_ohm_per_m(awg_mm2(gauge), 75.0, flexible=True) * FEET_PER_KILOFOOT_M
    assert ohm == pytest.approx(ohm_per_kft, rel=0.01)


def test_eight_gauge_is_taken_as_stranded() -> None:
    """Fixed 8 AWG lies above the solid 0.764 ohm/kft of NFPA 70 table 8 by the 2 % of its strands."""
    ohm = resistance_ohm_per_m(awg_mm2(8), 75.0) * FEET_PER_KILOFOOT_M
    assert ohm == pytest.approx(0.764 * 1.02, rel=0.01)


@pytest.mark.parametrize("size_mm2", [1.5, 2.5, 4.0, 6.0, 10.0, 16.0])
def test_tables_stay_near_the_resistivity_of_copper(size_mm2: float) -> None:
    """The largest allowed resistance is 1 to 8 % above rho/A (rho = 1/58 ohm mm2/m, IEC 60028, from memory)."""
    assert 1.01 < resistance_ohm_per_m(size_mm2, 20.0) / (1 / 58 / size_mm2) < 1.08


# Correction factors kt of IEC 60228 annex A, read in a cable maker's data page.
@pytest.mark.parametrize(("temperature_c", "factor"), [(5, 1.064), (30, 0.962), (50, 0.893), (70, 0.833), (90, 0.781)])
def test_temperature_correction_is_the_tabled_one(temperature_c: float, factor: float) -> None:
    """R20 over R(t) is kt; observed agreement 0.05 %."""
    ratio = resistance_ohm_per_m(4.0, 20.0) / resistance_ohm_per_m(4.0, temperature_c)
    assert ratio == pytest.approx(factor, rel=1e-3)


# ASTM B258 gauge sizes in mm2, from memory (common reference tables).
@pytest.mark.parametrize(("gauge", "mm2"), [(14, 2.08), (12, 3.31), (10, 5.26), (8, 8.37), (6, 13.3), (-3, 107.2)])
def test_gauges_have_their_printed_sizes(gauge: int, mm2: float) -> None:
    """The geometric definition gives the printed cross-sections to their last digit."""
    assert awg_mm2(gauge) == pytest.approx(mm2, rel=2e-3)
    assert awg_of_mm2(awg_mm2(gauge)) == gauge


@pytest.mark.parametrize("size_mm2", [1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0])
def test_metric_sizes_are_no_gauge(size_mm2: float) -> None:
    """No metric size of house wiring is mistaken for a gauge."""
    assert awg_of_mm2(size_mm2) is None


def test_untabled_metric_size_lies_between_its_neighbours() -> None:
    """1.25 mm2 flexible cord: product R A between 19.5 (1.0 mm2) and 19.95 (1.5 mm2)."""
    assert 19.5 < resistance_ohm_per_m(1.25, 20.0, flexible=True) * 1000 * 1.25 < 19.95


@given(size_mm2=st.floats(0.2, 239.0), flexible=st.booleans())
def test_thicker_copper_resists_less(*, size_mm2: float, flexible: bool) -> None:
    """15 % more copper never resists more than 1 % more, over tables, gauges and interpolation alike."""
    thicker_mm2 = min(size_mm2 * 1.15, 240.0)
    thick = resistance_ohm_per_m(thicker_mm2, 20.0, flexible=flexible)
    thin = resistance_ohm_per_m(size_mm2, 20.0, flexible=flexible)
    assert math.isfinite(thin)
    assert thick <= thin * 1.01


@pytest.mark.parametrize("bad", [0.0, -1.0, 300.0, math.nan])
def test_absurd_size_is_an_error(bad: float) -> None:
    """A size outside the range names itself."""
    with pytest.raises(PlanError, match="cross_section_mm2"):
        resistance_ohm_per_m(bad, 20.0)


@pytest.mark.parametrize("bad", [-300.0, 1000.0, math.nan])
def test_absurd_temperature_is_an_error(bad: float) -> None:
    """A temperature outside the range names itself."""
    with pytest.raises(PlanError, match="conductor_temperature_c"):
        resistance_ohm_per_m(2.5, bad)


def test_absurd_gauge_is_an_error() -> None:
    """A gauge outside the range names itself."""
    with pytest.raises(PlanError, match="gauge"):
        awg_mm2(99)
