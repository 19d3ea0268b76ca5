"""Circuit breakers and plug fuses: when they trip, and which sizes exist."""

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
    "BreakerZone",
    "PlugFuse",
    "breaker_zone",
    "greatest_loop_ohm",
    "instantaneous_from_a",
    "nec_earth_awg",
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
# BS 7671:2018 table 41.2, greatest Zs for 0.4 s at 230 V with its factor 0.95 [ohm], by rating [A] (from memory).
_FUSE_LOOP_OHM = {
    "gG": {6: 7.80, 10: 4.65, 16: 2.43, 20: 1.68, 25: 1.29, 32: 0.99},
    "BS 3036": {5: 9.10, 15: 2.43, 20: 1.68, 30: 1.04},
}
_LOOP_FACTOR = 0.95  # Cmin of BS 7671:2018, table 41.3
_INSTANTANEOUS_TO = {"B": 5.0, "C": 10.0, "D": 20.0}
# NFPA 70, table 250.122, copper: breaker up to [A], gauge (from memory).
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
    BS 7671:2018, tables 41.2 and 41.3 (published reproductions of the latter).

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
