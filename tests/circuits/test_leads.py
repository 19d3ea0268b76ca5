"""Rings and extension leads: each side of every border."""

from collections.abc import Callable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit, Extension
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin


# --- rings: BS 7671 433.1.204 (forums), 2 kW and more for long: appendix 15 (from memory); 30 min is our choice ---
@pytest.mark.parametrize(("changes", "severity"), [
    ({"breaker_a": 30.0}, "note"), ({"breaker_a": 32.0}, "note"), ({"breaker_a": 25.0}, "over"),
    ({"breaker_a": 40.0}, "over"), ({"cable_mm2": 1.5}, "over"), ({"cable_mm2": 2.49}, "note"),
    ({"cable_mm2": 2.45}, "over"), ({"cable_mm2": 4.0}, "note"), ({"breaker_a": None}, "unknown"),
    ({"cable_mm2": None}, "unknown"), ({"cable_mm2": None, "breaker_a": 16.0}, "over"),
])  # fmt: skip
def test_what_a_ring_is_made_of(profile: Builder, ring: Circuits, changes: dict[str, float], severity: str) -> None:
    """2.5 mm2 or more behind 30 or 32 A; one wrong part is enough, one unknown part too."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2200, voltage_v=230)
    found = find(check([vessel], ring(**changes), (), START, DUBLIN), "ring")
    assert found.severity == severity
    assert ("leave [circuit] ring out" in found.mend) is (severity == "over")


@pytest.mark.parametrize(("power_w", "minutes", "severity"), [
    (2000, 60, "ok"), (2001, 60, "note"), (2200, 30, "ok"), (2200, 31, "note"),
])  # fmt: skip
def test_a_long_load_on_one_point_of_a_ring(
    profile: Builder, ring: Circuits, power_w: int, minutes: int, severity: str
) -> None:
    """More than 2 kW for more than half an hour is best fed by a circuit of its own."""
    vessel = profile("Vessel", [(0, minutes, 1)], power_w=power_w, voltage_v=230)
    found = find(check([vessel], ring(), (), START, DUBLIN), "ring")
    assert (found.severity, "a circuit of its own" in found.message) == (severity, severity == "note")
    assert f"{power_w} W on one point of a ring from 08:00 for {minutes} min" in found.message


# --- leads ---
@pytest.mark.parametrize(("changes", "severity", "words"), [
    ({"breaker_a": 16.0, "plug_fuse_a": None}, "ok", "The 16 A before it protects a lead of 16 A"),
    ({"breaker_a": 32.0, "plug_fuse_a": 13.0}, "ok", "The 13 A before it protects"),
    ({"breaker_a": 20.0, "plug_fuse_a": None}, "note", "The 20 A before it does not trip at what is too much for"),
    ({"breaker_a": None, "plug_fuse_a": None}, "unknown", "Nothing that would trip at the lead's 16 A was entered"),
])  # fmt: skip
def test_what_stands_before_a_lead(
    profile: Builder, sixteen: Circuits, changes: dict[str, float | None], severity: str, words: str
) -> None:
    """1.5 mm2 of lead carries 16 A (BS 7671 table 4F3A): breaker or plug fuse, whichever is less, has to mind it."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    circuit = sixteen(extension=Extension(cable_mm2=1.5, length_m=5.0), **changes)
    found = find(check([vessel], circuit, (), START, DUBLIN), "lead_protection")
    assert (found.severity, words in found.message) == (severity, True)
    assert found.mend == ("Plug nothing else into the lead." if severity == "note" else "")
    assert "433.1.1" in found.standard


@pytest.mark.parametrize(("lead", "words", "rule"), [
    ({}, "which by the table, since its printed rating was not entered, carries 16 A unwound", "4F3A"),
    ({"rating_a": 12.0}, "which carries 12 A unwound. Unwind it wholly: left on a reel it carries about 4.2 A", "4F3A"),
    ({"rating_wound_a": 4.0}, "left on a reel it carries about 4 A", "4F3A"),
    ({"unwound": False}, "carries 5.6 A wound on its reel. Wound up it can't give off its heat", "4F1A"),
])  # fmt: skip
def test_a_lead_is_told_as_it_lies(
    profile: Builder, sixteen: Circuits, lead: dict[str, float], words: str, rule: str
) -> None:
    """1.5 mm2: 16 A by the table, 35 % of it or of its label on the reel, or what the reel says."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    circuit = sixteen(extension=Extension(cable_mm2=1.5, length_m=5.0, **lead))
    found = find(check([vessel], circuit, (), START, DUBLIN), "extension")
    assert words in found.message
    assert rule in found.standard


# 14 AWG is 2.08 mm2, 16 AWG 1.31 mm2 (ASTM B258, from memory): 15 + 10 x 0.58 m and 10 + 5 x 0.06/0.25 m.
@pytest.mark.parametrize(
    ("cable_mm2", "longest_m"),
    [(1.0, 10.0), (1.25, 10.0), (1.5, 15.0), (2.5, 25.0), (awg_mm2(14), 20.8), (awg_mm2(16), 11.15)],
)
def test_a_lead_of_just_the_usual_length_says_nothing(
    profile: Builder, ring: Circuits, cable_mm2: float, longest_m: float
) -> None:
    """Common practice, no source: up to that length nothing, above it a note, unless it is overloaded anyway.

    A size between two counts with its own cross-section.
    """
    for power_w, length_m, said in ((1000, longest_m, False), (1000, longest_m + 0.1, True), (6500, 40.0, False)):
        vessel = profile("Vessel", [(0, 60, 1)], power_w=power_w, voltage_v=230)
        lead = Extension(cable_mm2=cable_mm2, length_m=length_m)
        codes = {one.code for one in check([vessel], ring(extension=lead), (), START, DUBLIN).findings}
        assert ("lead_length" in codes) is said
