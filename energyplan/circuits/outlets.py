"""Outlets by their generic designations."""

from energyplan.base.records import dataclass

__all__ = ["OUTLETS", "Outlet", "outlets_for"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """One kind of outlet: designation, rating, nominal voltages it is made for, where it is met."""

    designation: str
    rules: str
    rating_a: float
    low_v: float
    high_v: float
    where: str
    known: str
    lines: int = 1


_LOCAL = "from memory"
_CHARTS = "published reproduction: charts of plug configurations"

# Common ratings for each rule set. Ratings of the IEC side from memory, except BS 1363 (teaching page).
OUTLETS = (
    Outlet(designation="AS/NZS 3112, 10 A", rules="iec", rating_a=10.0, low_v=200, high_v=260,
           where="Australia, New Zealand; also T13 in Switzerland and the 10 A outlet in Italy", known=_LOCAL),
    Outlet(designation="BS 1363, 13 A", rules="iec", rating_a=13.0, low_v=200, high_v=260,
           where="United Kingdom, Ireland", known="published reproduction: teaching page on plug fuses"),
    Outlet(designation="AS/NZS 3112, 15 A", rules="iec", rating_a=15.0, low_v=200, high_v=260,
           where="Australia, New Zealand", known=_LOCAL),
    Outlet(designation="CEE 7/3 or 7/5, 16 A", rules="iec", rating_a=16.0, low_v=200, high_v=260,
           where="most of continental Europe; also T23 in Switzerland", known=_LOCAL),
    Outlet(designation="IEC 60309, 16 A", rules="iec", rating_a=16.0, low_v=200, high_v=260,
           where="industrial, blue; made for loads that last for hours", known=_LOCAL),
    Outlet(designation="AS/NZS 3112, 20 A", rules="iec", rating_a=20.0, low_v=200, high_v=260,
           where="Australia, New Zealand", known=_LOCAL),
    Outlet(designation="IEC 60309, 32 A", rules="iec", rating_a=32.0, low_v=200, high_v=260,
           where="industrial, blue; made for loads that last for hours", known=_LOCAL),
    Outlet(designation="IEC 60309, 63 A", rules="iec", rating_a=63.0, low_v=200, high_v=260,
           where="industrial, blue", known=_LOCAL),
    Outlet(designation="IEC 60309, 16 A, five poles", rules="iec", rating_a=16.0, low_v=200, high_v=440, lines=3,
           where="industrial, red; three lines and neutral", known=_LOCAL),
    Outlet(designation="IEC 60309, 32 A, five poles", rules="iec", rating_a=32.0, low_v=200, high_v=440, lines=3,
           where="industrial, red; three lines and neutral", known=_LOCAL),
    Outlet(designation="IEC 60309, 63 A, five poles", rules="iec", rating_a=63.0, low_v=200, high_v=440, lines=3,
           where="industrial, red; three lines and neutral", known=_LOCAL),
    Outlet(designation="NEMA 5-15", rules="nec", rating_a=15.0, low_v=100, high_v=130,
           where="North America, ordinary", known=_CHARTS),
    Outlet(designation="NEMA 5-20", rules="nec", rating_a=20.0, low_v=100, high_v=130,
           where="North America, kitchens and workshops", known=_CHARTS),
    Outlet(designation="NEMA 6-15", rules="nec", rating_a=15.0, low_v=190, high_v=260, lines=2,
           where="North America, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA 6-20", rules="nec", rating_a=20.0, low_v=190, high_v=260, lines=2,
           where="North America, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA L6-30", rules="nec", rating_a=30.0, low_v=190, high_v=260, lines=2,
           where="North America, locking, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA 14-30", rules="nec", rating_a=30.0, low_v=190, high_v=260, lines=2,
           where="North America, 120/240 V with neutral", known=_CHARTS),
    Outlet(designation="NEMA 14-50", rules="nec", rating_a=50.0, low_v=190, high_v=260, lines=2,
           where="North America, 120/240 V with neutral", known=_CHARTS),
)  # fmt: skip
"""Common outlets, smallest rating first within each rule set."""


# NFPA 70, table 210.21(B)(3): ratings of outlets, if there are several, behind a breaker (published reproduction).
_NEC_BEHIND_A = {15.0: (15.0,), 20.0: (15.0, 20.0), 30.0: (30.0,), 40.0: (40.0, 50.0), 50.0: (50.0,)}
_FUSED_PLUG = "BS 1363, 13 A"
_FUSED_TO_A = 32.0


def outlets_for(
    rules: str, voltage_v: float, least_a: float, breaker_a: float, *, poles: int = 1, single: bool = False
) -> tuple[Outlet, ...]:
    """Outlets that are enough and may stand behind a breaker, smallest rating first.

    Parameters
    ----------
    rules : str
        "iec" or "nec".
    voltage_v : float
        Voltage between the conductors of the outlet [V].
    least_a : float
        Rating needed [A].
    breaker_a : float
        Breaker in front of it [A].
    poles : int
        Lines that it must have; all outlets of the table with more than two are industrial.
    single : bool
        Whether it is the only outlet of its circuit.

    Returns
    -------
    tuple of Outlet
        "iec": rated as the breaker or more, or with a fuse in the plug and a breaker of at most 32 A; from the smallest
        to the first industrial one, since which of them is met depends on the country. "nec": as table 210.21(B)(3)
        allows. Empty when none of the table is enough.

    Examples
    --------
    >>> [outlet.designation for outlet in outlets_for("nec", 240.0, 28.0, 30.0)]
    ['NEMA L6-30', 'NEMA 14-30']
    >>> [outlet.designation for outlet in outlets_for("iec", 230.0, 14.0, 16.0)]
    ['CEE 7/3 or 7/5, 16 A', 'IEC 60309, 16 A']
    >>> [outlet.designation for outlet in outlets_for("iec", 400.0, 14.0, 16.0, poles=3)]
    ['IEC 60309, 16 A, five poles']
    """
    there = [o for o in OUTLETS if o.rules == rules and _has_lines(o, poles) and o.low_v <= voltage_v <= o.high_v]
    fitting = [
        outlet for outlet in there if outlet.rating_a >= least_a and _may_stand(outlet, breaker_a, single=single)
    ]
    if rules == "nec":
        least = min((outlet.rating_a for outlet in fitting), default=0.0)
        return tuple(outlet for outlet in fitting if outlet.rating_a <= least)
    ends = [outlet.rating_a for outlet in fitting if outlet.designation.startswith("IEC 60309")]
    return tuple(outlet for outlet in fitting if outlet.rating_a <= min(ends, default=0.0))


def _has_lines(outlet: Outlet, poles: int) -> bool:
    """American two-line outlets take one-line loads of their voltage too; industrial ones are made for three."""
    return outlet.lines >= poles if outlet.rules == "nec" else (outlet.lines > 1) == (poles > 1)


def _may_stand(outlet: Outlet, breaker_a: float, *, single: bool) -> bool:
    if outlet.rules == "nec" and not single:
        return outlet.rating_a in _NEC_BEHIND_A.get(breaker_a, ())
    if outlet.designation == _FUSED_PLUG:
        return breaker_a <= _FUSED_TO_A
    return outlet.rating_a >= breaker_a
