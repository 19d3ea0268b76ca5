"""Outlets by their generic designations."""

from dataclasses import dataclass

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


_LOCAL = "from memory"
_CHARTS = "published reproduction: charts of plug configurations"

# Seven common ratings for each rule set. Ratings of the IEC side from memory, except BS 1363 (teaching page).
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
    Outlet(designation="NEMA 5-15", rules="nec", rating_a=15.0, low_v=100, high_v=130,
           where="North America, ordinary", known=_CHARTS),
    Outlet(designation="NEMA 5-20", rules="nec", rating_a=20.0, low_v=100, high_v=130,
           where="North America, kitchens and workshops", known=_CHARTS),
    Outlet(designation="NEMA 6-15", rules="nec", rating_a=15.0, low_v=190, high_v=260,
           where="North America, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA 6-20", rules="nec", rating_a=20.0, low_v=190, high_v=260,
           where="North America, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA L6-30", rules="nec", rating_a=30.0, low_v=190, high_v=260,
           where="North America, locking, 240 V without neutral", known=_CHARTS),
    Outlet(designation="NEMA 14-30", rules="nec", rating_a=30.0, low_v=190, high_v=260,
           where="North America, 120/240 V with neutral", known=_CHARTS),
    Outlet(designation="NEMA 14-50", rules="nec", rating_a=50.0, low_v=190, high_v=260,
           where="North America, 120/240 V with neutral", known=_CHARTS),
)  # fmt: skip
"""Common outlets, smallest rating first within each rule set."""


def outlets_for(rules: str, voltage_v: float, least_a: float) -> tuple[Outlet, ...]:
    """Outlets that are enough, from the smallest rating to the first one that is made for hours of load.

    Parameters
    ----------
    rules : str
        "iec" or "nec".
    voltage_v : float
        Voltage between the conductors of the circuit [V].
    least_a : float
        Rating needed [A].

    Returns
    -------
    tuple of Outlet
        "iec": all up to the smallest sufficient industrial one, since which of them is met depends on the country.
        "nec": those of the smallest sufficient rating. Empty when none of the table is enough.

    Examples
    --------
    >>> [outlet.designation for outlet in outlets_for("nec", 240.0, 28.0)]
    ['NEMA L6-30', 'NEMA 14-30']
    >>> [outlet.designation for outlet in outlets_for("iec", 230.0, 14.0)]
    ['AS/NZS 3112, 15 A', 'CEE 7/3 or 7/5, 16 A', 'IEC 60309, 16 A']
    """
    enough = [o for o in OUTLETS if o.rules == rules and o.low_v <= voltage_v <= o.high_v and o.rating_a >= least_a]
    ends = [outlet.rating_a for outlet in enough if rules == "nec" or outlet.designation.startswith("IEC 60309")]
    return tuple(outlet for outlet in enough if outlet.rating_a <= min(ends, default=0.0))
