"""What fixed cables and flexible leads carry: tables of two rule sets and their correction factors."""

from functools import lru_cache

from energyplan.base.records import dataclass
from energyplan.physics.conductors import awg_mm2, awg_of_mm2

__all__ = [
    "BURIED_FRAC",
    "IEC_METHODS",
    "NEC_COLUMNS",
    "ambient_factor",
    "breaker_cap_a",
    "cable_capacity_a",
    "cable_name",
    "cable_sizes_mm2",
    "flexible_capacity_a",
    "grouping_factor",
    "wound_capacity_a",
]

IEC_METHODS = ("A", "B", "C", "E")
NEC_COLUMNS = ("60", "75", "90")

# RULES["iec cable"]: two loaded conductors, copper, 70 °C, ambient 30 °C [A], by mm2.
# BS 7671 table 4D5 for A and C to 16 mm2, table 4D2A for B and E and above. Read in reproductions: C to 10 mm2
# (the two pages differ at 10 mm2, 64 and 65 A; the lower stands here), A, B, C at 1 and 1.5, A at 2.5 mm2; the rest
# from memory.
_IEC_CAPACITY_A = {
    1.0: {"A": 11.5, "B": 13.0, "C": 16.0, "E": 17.0},
    1.5: {"A": 14.5, "B": 16.5, "C": 20.0, "E": 22.0},
    2.5: {"A": 20.0, "B": 23.0, "C": 27.0, "E": 30.0},
    4.0: {"A": 26.0, "B": 30.0, "C": 37.0, "E": 40.0},
    6.0: {"A": 32.0, "B": 38.0, "C": 47.0, "E": 51.0},
    10.0: {"A": 44.0, "B": 52.0, "C": 64.0, "E": 70.0},
    16.0: {"A": 57.0, "B": 69.0, "C": 85.0, "E": 94.0},
    25.0: {"A": 75.0, "B": 90.0, "C": 112.0, "E": 119.0},
    35.0: {"A": 92.0, "B": 111.0, "C": 138.0, "E": 148.0},
}
# The same cables with three loaded conductors (BS 7671 table 4D2A, as IEC 60364-5-52 table B.52.4; to 16 mm2 read in a
# reproduction of SANS 10142-1 table 6.3(a), which has the same values; above that from memory).
_IEC_THREE_LOADED_A = {
    1.0: {"A": 10.0, "B": 11.5, "C": 13.5, "E": 14.5},
    1.5: {"A": 13.0, "B": 15.0, "C": 17.5, "E": 18.5},
    2.5: {"A": 17.5, "B": 20.0, "C": 24.0, "E": 25.0},
    4.0: {"A": 23.0, "B": 27.0, "C": 32.0, "E": 34.0},
    6.0: {"A": 29.0, "B": 34.0, "C": 41.0, "E": 43.0},
    10.0: {"A": 39.0, "B": 46.0, "C": 57.0, "E": 60.0},
    16.0: {"A": 52.0, "B": 62.0, "C": 76.0, "E": 80.0},
    25.0: {"A": 68.0, "B": 80.0, "C": 96.0, "E": 101.0},
    35.0: {"A": 83.0, "B": 99.0, "C": 119.0, "E": 126.0},
}
# Aluminium over copper of the same size, the least ratio of tables B.52.2 and 310.16 (from memory).
_ALUMINIUM = {"iec": 0.74, "nec": 0.72}
BURIED_FRAC = 0.5  # of method C: flat cable wholly in insulation (BS 7671 523.9 and method 103; from memory)
# RULES["nec cable"]: NFPA 70 table 310.16, copper, by gauge (1/0 to 4/0 as 0 to -3).
_NEC_AMPACITY_A = {
    14: {"60": 15.0, "75": 20.0, "90": 25.0},
    12: {"60": 20.0, "75": 25.0, "90": 30.0},
    10: {"60": 30.0, "75": 35.0, "90": 40.0},
    8: {"60": 40.0, "75": 50.0, "90": 55.0},
    6: {"60": 55.0, "75": 65.0, "90": 75.0},
    4: {"60": 70.0, "75": 85.0, "90": 95.0},
    3: {"60": 85.0, "75": 100.0, "90": 115.0},
    2: {"60": 95.0, "75": 115.0, "90": 130.0},
    1: {"60": 110.0, "75": 130.0, "90": 145.0},
    0: {"60": 125.0, "75": 150.0, "90": 170.0},
    -1: {"60": 145.0, "75": 175.0, "90": 195.0},
    -2: {"60": 165.0, "75": 200.0, "90": 225.0},
    -3: {"60": 195.0, "75": 230.0, "90": 260.0},
}
# RULES["nec small conductors"]: largest breaker by gauge [A].
_NEC_BREAKER_CAP_A = {14: 15.0, 12: 20.0, 10: 30.0}
_NEC_ALUMINIUM_CAP_A = {12: 15.0, 10: 25.0}

# RULES["iec ambient"]: upper end of the step [°C] -> factor; BS 7671 gives nothing above 1.03.
_IEC_AMBIENT = ((25, 1.03), (30, 1.0), (35, 0.94), (40, 0.87), (45, 0.79), (50, 0.71), (55, 0.61), (60, 0.50))
# RULES["nec ambient"]: upper end of the step [°C] -> factors of the 60, 75 and 90 °C columns.
_NEC_AMBIENT = (
    (10, 1.29, 1.20, 1.15), (15, 1.22, 1.15, 1.12), (20, 1.15, 1.11, 1.08), (25, 1.08, 1.05, 1.04),
    (30, 1.00, 1.00, 1.00), (35, 0.91, 0.94, 0.96), (40, 0.82, 0.88, 0.91), (45, 0.71, 0.82, 0.87),
    (50, 0.58, 0.75, 0.82), (55, 0.41, 0.67, 0.76), (60, 0.0, 0.58, 0.71), (65, 0.0, 0.47, 0.65),
    (70, 0.0, 0.33, 0.58), (75, 0.0, 0.0, 0.50), (80, 0.0, 0.0, 0.41), (85, 0.0, 0.0, 0.29),
)  # fmt: skip
# RULES["iec grouping"]: number of circuits up to which -> factor.
_IEC_GROUPING = (
    (1, 1.0), (2, 0.80), (3, 0.70), (4, 0.65), (5, 0.60), (6, 0.57), (7, 0.54), (8, 0.52), (9, 0.50), (12, 0.45),
    (16, 0.41), (20, 0.38),
)  # fmt: skip
# RULES["nec grouping"]: number of current-carrying conductors up to which -> factor.
_NEC_GROUPING = ((3, 1.0), (6, 0.80), (9, 0.70), (20, 0.50), (30, 0.45), (40, 0.40))

# RULES["iec flexible"] [A] by mm2, and its ambient steps (60 °C cords).
_IEC_FLEXIBLE_A = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.25: 13.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0}
# Three loaded conductors: BS 7671 table 4F3A, read in a wholesaler's technical page; 1.25 mm2 as 1 mm2.
_IEC_FLEXIBLE_THREE_A = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.25: 10.0, 1.5: 16.0, 2.5: 20.0, 4.0: 25.0}
_FLEXIBLE_AMBIENT = ((30, 1.0), (35, 0.91), (40, 0.82), (45, 0.71), (50, 0.58), (55, 0.41))
# RULES["nec flexible"] [A] by gauge, two current-carrying conductors.
_NEC_FLEXIBLE_A = {18: 10.0, 17: 12.0, 16: 13.0, 14: 18.0, 12: 25.0, 10: 30.0, 8: 40.0}
_NEC_FLEXIBLE_THREE_A = {18: 7.0, 17: 9.0, 16: 10.0, 14: 15.0, 12: 20.0, 10: 25.0, 8: 35.0}  # from memory
# RULES["nec extension"]: cord sets [A] by gauge, to 50 ft and beyond. Read as quoted in a code forum: 16 AWG both, and
# the short 14 and 12 AWG, the long 12 and 10 AWG; the long 14 AWG and the short 10 AWG from memory.
_NEC_CORD_SET_A = {16: (13.0, 10.0), 14: (15.0, 13.0), 12: (20.0, 15.0), 10: (25.0, 20.0)}
_FIFTY_FEET_M = 15.24
# RULES["iec drum"]: the worst of the tabled cases, four layers; a household reel has as many or more.
_WOUND_FRAC = 0.35

_SAME_SIZE = 1.005
_SAME_STEP_K = 0.05  # 86 °F is 30 °C, whatever the last digit of the conversion says


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A cable of a table: its cross-section and what it carries."""

    size_mm2: float
    capacity_a: float


def cable_name(cross_section_mm2: float) -> str:
    """Name of a cable as it is sold.

    Examples
    --------
    >>> cable_name(2.5), cable_name(awg_mm2(12)), cable_name(awg_mm2(-1))
    ('2.5 mm²', '12 AWG', '2/0 AWG')
    """
    gauge = awg_of_mm2(cross_section_mm2)
    if gauge is None:
        return f"{cross_section_mm2:g} mm²"
    return f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"


def cable_sizes_mm2(rules: str) -> tuple[float, ...]:
    """Sizes of fixed cable in a rule set's table, smallest first [mm2].

    Examples
    --------
    >>> cable_sizes_mm2("iec")[:3]
    (1.0, 1.5, 2.5)
    """
    return tuple(awg_mm2(gauge) for gauge in _NEC_AMPACITY_A) if rules == "nec" else tuple(_IEC_CAPACITY_A)


@lru_cache(maxsize=256)
def cable_capacity_a(
    rules: str, cross_section_mm2: float, method: str, *, loaded: int = 2, aluminium: bool = False
) -> float | None:
    """Tabled capacity of fixed cable at 30 °C, alone.

    Parameters
    ----------
    rules : str
        "iec" or "nec".
    cross_section_mm2 : float
        Cross-section [mm2]. A size between two rows counts as the smaller one.
    method : str
        "A" conduit in an insulated wall, "B" conduit on a wall, "C" clipped to a surface, "E" in free air;
        for "nec" the temperature column "60", "75", "90".
    loaded : int
        Loaded conductors, 2 or 3; the American table is made for up to three.
    aluminium : bool
        Aluminium instead of copper.

    Returns
    -------
    float or None
        Capacity [A]; None for a cable thinner than the table.

    References
    ----------
    BS 7671:2018, tables 4D5 and 4D2A; NFPA 70, table 310.16. How each value is known: beside the tables.

    Examples
    --------
    >>> cable_capacity_a("iec", 2.5, "C"), cable_capacity_a("nec", awg_mm2(10), "75")
    (27.0, 35.0)
    >>> cable_capacity_a("iec", 2.5, "C", loaded=3)
    24.0
    """
    if rules == "nec":
        rows = [_Row(size_mm2=awg_mm2(gauge), capacity_a=row[method]) for gauge, row in _NEC_AMPACITY_A.items()]
    else:
        table = _IEC_THREE_LOADED_A if loaded > 2 else _IEC_CAPACITY_A
        rows = [_Row(size_mm2=size_mm2, capacity_a=row[method]) for size_mm2, row in table.items()]
    found_a = _largest_not_above(rows, cross_section_mm2)
    return found_a * _ALUMINIUM[rules] if aluminium and found_a is not None else found_a


def _largest_not_above(rows: list[_Row], cross_section_mm2: float) -> float | None:
    fitting = [row for row in rows if row.size_mm2 <= cross_section_mm2 * _SAME_SIZE]
    return max(fitting, key=lambda row: row.size_mm2).capacity_a if fitting else None


def ambient_factor(rules: str, ambient_c: float, column: str = "70") -> float:
    """Factor on the capacity for an ambient temperature.

    Parameters
    ----------
    rules : str
        "iec" or "nec".
    ambient_c : float
        Temperature of the air around the cable [°C].
    column : str
        Temperature column of the conductor for "nec".

    Returns
    -------
    float
        Factor; 0 where the table ends because the insulation is at its limit.

    References
    ----------
    BS 7671:2018, table 4B1; NFPA 70, table 310.15(B)(1).

    Examples
    --------
    >>> ambient_factor("iec", 35.0), ambient_factor("nec", 38.0, "60")
    (0.94, 0.82)
    """
    if rules == "nec":
        index = NEC_COLUMNS.index(column)
        return next((row[1 + index] for row in _NEC_AMBIENT if ambient_c <= row[0] + _SAME_STEP_K), 0.0)
    return next((factor for end_c, factor in _IEC_AMBIENT if ambient_c <= end_c + _SAME_STEP_K), 0.0)


def grouping_factor(rules: str, circuits: int, loaded: int = 2) -> float:
    """Factor on the capacity for circuits that run bunched together.

    Parameters
    ----------
    rules : str
        "iec" or "nec" (where each circuit counts with its current-carrying conductors).
    circuits : int
        Number of loaded circuits in the bunch, this one included, 1 to 20.
    loaded : int
        Current-carrying conductors of each, 2 or 3.

    References
    ----------
    BS 7671:2018, table 4C1; NFPA 70, table 310.15(C)(1).

    Examples
    --------
    >>> grouping_factor("iec", 3), grouping_factor("nec", 3)
    (0.7, 0.8)
    """
    table, count = (_NEC_GROUPING, loaded * circuits) if rules == "nec" else (_IEC_GROUPING, circuits)
    return next((factor for end, factor in table if count <= end), 0.35)  # 41 and more conductors


def breaker_cap_a(cross_section_mm2: float, *, aluminium: bool = False) -> float | None:
    """Largest breaker on a small conductor under NFPA 70; None where only the ampacity counts.

    Parameters
    ----------
    cross_section_mm2 : float
        Cross-section [mm2].
    aluminium : bool
        Aluminium instead of copper.

    References
    ----------
    NFPA 70, 240.4(D) (published reproduction).

    Examples
    --------
    >>> breaker_cap_a(awg_mm2(12)), breaker_cap_a(awg_mm2(8))
    (20.0, None)
    """
    table = _NEC_ALUMINIUM_CAP_A if aluminium else _NEC_BREAKER_CAP_A
    rows = [_Row(size_mm2=awg_mm2(gauge), capacity_a=cap_a) for gauge, cap_a in table.items()]
    if cross_section_mm2 >= awg_mm2(8) / _SAME_SIZE:
        return None
    return _largest_not_above(rows, cross_section_mm2) or 0.0


def flexible_capacity_a(
    rules: str, cross_section_mm2: float, length_m: float, ambient_c: float, *, loaded: int = 2
) -> float:
    """Capacity of a flexible extension lead, laid out straight.

    Parameters
    ----------
    rules : str
        "iec" or "nec".
    cross_section_mm2 : float
        Cross-section [mm2].
    length_m : float
        Length [m]; it counts in UL 817 only.
    ambient_c : float
        Temperature of the air around it [°C].
    loaded : int
        Loaded conductors, 2 or 3.

    Returns
    -------
    float
        Capacity [A]; 0 for a cord thinner than the table or above its temperature.

    References
    ----------
    BS 7671:2018, table 4F3A; NFPA 70, table 400.5(A)(1); UL 817, table 115.

    Examples
    --------
    >>> flexible_capacity_a("iec", 1.5, 25.0, 20.0), flexible_capacity_a("nec", awg_mm2(14), 10.0, 25.0)
    (16.0, 15.0)
    """
    three = loaded > 2
    if rules == "nec":
        cords = _NEC_FLEXIBLE_THREE_A if three else _NEC_FLEXIBLE_A
        rows = [_Row(size_mm2=awg_mm2(g), capacity_a=min(a, _cord_set_a(g, length_m, a))) for g, a in cords.items()]
    else:
        leads = _IEC_FLEXIBLE_THREE_A if three else _IEC_FLEXIBLE_A
        rows = [_Row(size_mm2=size_mm2, capacity_a=capacity_a) for size_mm2, capacity_a in leads.items()]
    factor = next((factor for end_c, factor in _FLEXIBLE_AMBIENT if ambient_c <= end_c + _SAME_STEP_K), 0.0)
    return (_largest_not_above(rows, cross_section_mm2) or 0.0) * factor


def _cord_set_a(gauge: int, length_m: float, other_a: float) -> float:
    short_a, long_a = _NEC_CORD_SET_A.get(gauge, (other_a, other_a))
    return short_a if length_m <= _FIFTY_FEET_M else long_a


def wound_capacity_a(unwound_a: float) -> float:
    """Capacity of a lead that is left wound on its reel.

    Parameters
    ----------
    unwound_a : float
        Capacity laid out straight [A].

    Returns
    -------
    float
        Capacity on the drum [A]: 35 %, the factor for four layers. What is printed on the reel goes before.

    References
    ----------
    BS 7671:2018, table 4F1A, note 2 (published reproduction).

    Examples
    --------
    >>> round(wound_capacity_a(16.0), 1)
    5.6
    """
    return _WOUND_FRAC * unwound_a
