"""Breakers, fuses and outlets: their standard sizes, what they carry and when they trip."""

from typing import Literal

from energyplan.base.records import dataclass

__all__ = [
    "CARRIED_MULTIPLE",
    "IEC_SIZES_A",
    "MOTOR_START_MULTIPLE",
    "NEC_CONTINUOUS_FACTOR",
    "NEC_CONTINUOUS_S",
    "NEC_ONE_APPLIANCE_FRAC",
    "NEC_SIZES_A",
    "OUTLETS",
    "BreakerZone",
    "Outlet",
    "PlugFuse",
    "breaker_zone",
    "greatest_loop_ohm",
    "instantaneous_from_a",
    "nec_earth_awg",
    "outlets_for",
    "plug_fuse",
    "sizes_a",
]

BreakerZone = Literal["carried", "may trip within an hour", "trips within an hour", "trips within minutes"]


# IEC 60898-1, table 7 (RULES["iec breaker zones"]).
CARRIED_MULTIPLE = 1.13


_IEC_ZONES = (CARRIED_MULTIPLE, 1.45, 2.55)


# UL 489, from memory (RULES["nec breaker zones"]).
_NEC_ZONES = (1.0, 1.35, 2.0)


# IEC 60898-1, table 2 (RULES["iec breaker curves"]): lower end of the instantaneous zone, multiples of In.
_INSTANTANEOUS_FROM = {"B": 3.0, "C": 5.0, "D": 10.0}


# IEC 60898-1, 5.3.2, from memory (RULES["iec breaker sizes"]).
IEC_SIZES_A = (6.0, 10.0, 13.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0)


# NFPA 70, 240.6(A) (RULES["nec breaker sizes"]).
NEC_SIZES_A = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 125.0)


# NFPA 70, article 100 and 210.20(A) (RULES["nec load"]).
NEC_CONTINUOUS_S = 3 * 3600.0


NEC_CONTINUOUS_FACTOR = 1.25


# NFPA 70, 210.23(A)(1) (RULES["nec one appliance"]).
NEC_ONE_APPLIANCE_FRAC = 0.8


# Fuses: gG by IEC 60269-1, table 2 (16 to 63 A): carries 1.25 In, blows at 1.6 In within an hour; BS 3036: 1.5 and 2 In
# (both from memory).
_FUSE_ZONES = {"gG": (1.25, 1.6, 2.55), "BS 3036": (1.25, 1.5, 2.0)}


# BS 7671:2018 table 41.2, greatest Zs for 0.4 s at 230 V with its factor 0.95 [ohm], by rating [A]
# (RULES["iec fuse disconnection"]).
_FUSE_LOOP_OHM = {
    "gG": {6: 7.80, 10: 4.65, 16: 2.43, 20: 1.68, 25: 1.29, 32: 0.99, 40: 0.75, 50: 0.57, 63: 0.44},
    "BS 3036": {5: 9.10, 15: 2.43, 20: 1.68, 30: 1.04, 45: 0.56, 60: 0.40},
}
_LOOP_FACTOR = 0.95  # Cmin of BS 7671:2018, table 41.3


_INSTANTANEOUS_TO = {"B": 5.0, "C": 10.0, "D": 20.0}


# NFPA 70, table 250.122, copper: breaker up to [A], gauge (RULES["nec earth"]).
_NEC_EARTH_AWG = ((15.0, 14), (20.0, 12), (60.0, 10), (100.0, 8), (200.0, 6))


# RULES["motor start"].
MOTOR_START_MULTIPLE = 6.0


def breaker_zone(current_a: float, rating_a: float, rules: str = "iec", curve: str | None = None) -> BreakerZone:
    """Judge a steady current by the zones of the breaker's standard.

    Parameters
    ----------
    current_a : float
        Current through the breaker [A].
    rating_a : float
        Rated current In [A].
    rules : str
        "iec" (zones at 1.13, 1.45 and 2.55 In) or "nec" (at 1, 1.35 and 2 In).
    curve : str, optional
        "gG" or "BS 3036" for a fuse, which has zones of its own.

    Returns
    -------
    str
        For "iec" "carried" up to 1.13 In, "may trip within an hour" up to 1.45 In, then "trips within an hour",
        and from 2.55 In "trips within minutes".

    Notes
    -----
    The test starts cold and at 30 °C. A breaker that is warm from an earlier load, or from its neighbours,
    trips sooner. Valid to 63 A (above, the hour is two).

    References
    ----------
    IEC 60898-1:2015, table 7 (published reproduction); UL 489, calibration (from memory).

    Examples
    --------
    >>> breaker_zone(18.0, 16.0), breaker_zone(20.0, 16.0), breaker_zone(24.0, 16.0)
    ('carried', 'may trip within an hour', 'trips within an hour')
    """
    multiple = current_a / rating_a
    zones = _FUSE_ZONES.get(curve or "", _NEC_ZONES if rules == "nec" else _IEC_ZONES)
    carried, trips_in_an_hour, trips_in_minutes = zones
    if multiple <= carried + 1e-9:
        return "carried"
    if multiple < trips_in_an_hour:
        return "may trip within an hour"
    return "trips within an hour" if multiple < trips_in_minutes else "trips within minutes"


def instantaneous_from_a(rating_a: float, curve: str) -> float | None:
    """Smallest current that may trip the breaker at once; None where the standard gives no zone.

    Parameters
    ----------
    rating_a : float
        Rated current [A].
    curve : str
        "B", "C", "D"; an inverse-time breaker ("inverse") has no standard zone.

    Returns
    -------
    float or None
        Lower end of the instantaneous zone [A].

    References
    ----------
    IEC 60898-1:2015, table 2 (published reproduction).

    Examples
    --------
    >>> instantaneous_from_a(16.0, "B")
    48.0
    """
    multiple = _INSTANTANEOUS_FROM.get(curve)
    return None if multiple is None else multiple * rating_a


def greatest_loop_ohm(rating_a: float, curve: str | None, to_earth_v: float = 230.0) -> float | None:
    """Greatest impedance of the fault loop with which a breaker or fuse disconnects in 0.4 s.

    Parameters
    ----------
    rating_a : float
        Rated current [A].
    curve : str or None
        "B", "C", "D", "gG", "BS 3036".
    to_earth_v : float
        Nominal voltage to earth U0 [V]; the fuses' table is made for 230 V.

    Returns
    -------
    float or None
        Impedance at operating temperature [ohm]; None where the tables have none.

    Notes
    -----
    Zs = 0.95 U0 / Ia, Ia the upper end of the instantaneous zone: 5, 10, 20 In.

    References
    ----------
    BS 7671:2018, tables 41.2 and 41.3 (published reproductions).

    Examples
    --------
    >>> round(greatest_loop_ohm(32.0, "B"), 2), greatest_loop_ohm(32.0, "inverse")
    (1.37, None)
    """
    if curve in _INSTANTANEOUS_TO:
        return _LOOP_FACTOR * to_earth_v / (_INSTANTANEOUS_TO[curve] * rating_a)
    return _FUSE_LOOP_OHM.get(curve or "", {}).get(round(rating_a))


def nec_earth_awg(breaker_a: float) -> int | None:
    """Least gauge of the equipment grounding conductor behind a breaker; None beyond the table.

    Examples
    --------
    >>> nec_earth_awg(20.0), nec_earth_awg(50.0)
    (12, 10)
    """
    return next((gauge for most_a, gauge in _NEC_EARTH_AWG if breaker_a <= most_a), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlugFuse:
    """What a plug fuse carries for half an hour, and what blows it within half an hour [A]."""

    carries_a: float
    blows_a: float


def plug_fuse(rating_a: float) -> PlugFuse:
    """Conventional currents of a plug fuse.

    Parameters
    ----------
    rating_a : float
        Rated current [A].

    Returns
    -------
    PlugFuse
        1.6 and 1.9 times the rating.

    Notes
    -----
    Published for the 13 A fuse; taken as the same multiples for the smaller ones [assumption].

    References
    ----------
    BS 1362:1973 (published reproduction).

    Examples
    --------
    >>> fuse = plug_fuse(13.0)
    >>> round(fuse.carries_a, 1), round(fuse.blows_a, 1)
    (20.8, 24.7)
    """
    return PlugFuse(carries_a=1.6 * rating_a, blows_a=1.9 * rating_a)


def sizes_a(rules: str) -> tuple[float, ...]:
    """Breaker sizes that can be bought under a rule set, smallest first [A].

    Parameters
    ----------
    rules : str
        "iec" or "nec".

    Examples
    --------
    >>> sizes_a("nec")[:4]
    (15.0, 20.0, 25.0, 30.0)
    """
    return NEC_SIZES_A if rules == "nec" else IEC_SIZES_A


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """One kind of outlet: designation, rating, where it is met, how it is known, and how many lines it has."""

    designation: str
    rules: str
    rating_a: float
    where: str
    known: str
    lines: int = 1


# Nominal voltages between its conductors that an outlet is made for, by rules and lines (from memory).
_MADE_FOR_V = {
    ("iec", 1): (200.0, 260.0), ("iec", 3): (200.0, 440.0), ("nec", 1): (100.0, 130.0), ("nec", 2): (190.0, 260.0),
}  # fmt: skip


_LOCAL = "from memory"
_CHARTS = "published reproduction: charts of plug configurations"


# Common ratings for each rule set. Ratings of the IEC side from memory, except BS 1363 (teaching page).
OUTLETS = (
    Outlet(designation="AS/NZS 3112, 10 A", rules="iec", rating_a=10.0,
           where="Australia, New Zealand; also T13 in Switzerland and the 10 A outlet in Italy", known=_LOCAL),
    Outlet(designation="BS 1363, 13 A", rules="iec", rating_a=13.0,
           where="United Kingdom, Ireland", known="published reproduction: teaching page on plug fuses"),
    Outlet(designation="AS/NZS 3112, 15 A", rules="iec", rating_a=15.0,
           where="Australia, New Zealand", known=_LOCAL),
    Outlet(designation="CEE 7/3 or 7/5, 16 A", rules="iec", rating_a=16.0,
           where="most of continental Europe; also T23 in Switzerland", known=_LOCAL),
    Outlet(designation="IEC 60309, 16 A", rules="iec", rating_a=16.0,
           where="industrial, blue; made for loads that last for hours", known=_LOCAL),
    Outlet(designation="AS/NZS 3112, 20 A", rules="iec", rating_a=20.0,
           where="Australia, New Zealand", known=_LOCAL),
    Outlet(designation="IEC 60309, 32 A", rules="iec", rating_a=32.0,
           where="industrial, blue; made for loads that last for hours", known=_LOCAL),
    Outlet(designation="IEC 60309, 63 A", rules="iec", rating_a=63.0,
           where="industrial, blue", known=_LOCAL),
    Outlet(designation="IEC 60309, 16 A, five poles", rules="iec", rating_a=16.0, lines=3,
           where="industrial, red; three lines and neutral", known=_LOCAL),
    Outlet(designation="IEC 60309, 32 A, five poles", rules="iec", rating_a=32.0, lines=3,
           where="industrial, red; three lines and neutral", known=_LOCAL),
    Outlet(designation="IEC 60309, 63 A, five poles", rules="iec", rating_a=63.0, lines=3,
           where="industrial, red; three lines and neutral", known=_LOCAL),
    Outlet(designation="NEMA 5-15", rules="nec", rating_a=15.0,
           where="North America, ordinary", known=_CHARTS),
    Outlet(designation="NEMA 5-20", rules="nec", rating_a=20.0,
           where="North America, kitchens and workshops", known=_CHARTS),
    Outlet(designation="NEMA 6-15", rules="nec", rating_a=15.0, lines=2,
           where="North America, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA 6-20", rules="nec", rating_a=20.0, lines=2,
           where="North America, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA L6-30", rules="nec", rating_a=30.0, lines=2,
           where="North America, locking, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA 14-30", rules="nec", rating_a=30.0, lines=2,
           where="North America, 120/240 V with neutral", known=_CHARTS),
    Outlet(designation="NEMA 14-50", rules="nec", rating_a=50.0, lines=2,
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
    there = [outlet for outlet in OUTLETS if outlet.rules == rules and _is_made_for(outlet, voltage_v, poles)]
    fitting = [
        outlet for outlet in there if outlet.rating_a >= least_a and _may_stand(outlet, breaker_a, single=single)
    ]
    if rules == "nec":
        least = min((outlet.rating_a for outlet in fitting), default=0.0)
        return tuple(outlet for outlet in fitting if outlet.rating_a <= least)
    ends = [outlet.rating_a for outlet in fitting if outlet.designation.startswith("IEC 60309")]
    return tuple(outlet for outlet in fitting if outlet.rating_a <= min(ends, default=0.0))


def _is_made_for(outlet: Outlet, voltage_v: float, poles: int) -> bool:
    """American two-line outlets take one-line loads of their voltage too; industrial ones are made for three."""
    low_v, high_v = _MADE_FOR_V[outlet.rules, outlet.lines]
    has_lines = outlet.lines >= poles if outlet.rules == "nec" else (outlet.lines > 1) == (poles > 1)
    return has_lines and low_v <= voltage_v <= high_v


def _may_stand(outlet: Outlet, breaker_a: float, *, single: bool) -> bool:
    if outlet.rules == "nec" and not single:
        return outlet.rating_a in _NEC_BEHIND_A.get(breaker_a, ())
    if outlet.designation == _FUSED_PLUG:
        return breaker_a <= _FUSED_TO_A
    return outlet.rating_a >= breaker_a
