"""Resistance of conductors: the tables of IEC 60228, the geometry of American gauges.

A size that IEC 60228 lists has its tabled (largest allowed) resistance; an American gauge has that of
its geometry; any other size lies between its neighbours in the table.
"""

import math

from energyplan.base.errors import PlanError

__all__ = [
    "awg_mm2",
    "awg_of_mm2",
    "resistance_ohm_per_m",
]

# IEC 60228, tables 1 and 2 (class 1 and 2, plain) and 3 (class 5, plain): largest resistance at 20 °C [ohm/km].
# Read in published reproductions (two cable makers' data pages and a cable engineer's reference page, which agree).
_CLASS_2_OHM_PER_KM = {
    0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08, 10.0: 1.83, 16.0: 1.15,
    25.0: 0.727, 35.0: 0.524, 50.0: 0.387, 70.0: 0.268, 95.0: 0.193, 120.0: 0.153, 150.0: 0.124, 185.0: 0.0991,
    240.0: 0.0754,
}  # fmt: skip
_CLASS_5_OHM_PER_KM = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91, 16.0: 1.21,
    25.0: 0.780, 35.0: 0.554, 50.0: 0.386, 70.0: 0.272, 95.0: 0.206, 120.0: 0.161, 150.0: 0.129, 185.0: 0.106,
    240.0: 0.0801,
}  # fmt: skip

# IEC 60028: resistivity of annealed copper at 20 °C, 1/58 ohm mm2/m (from memory; the usual 0.017241).
_COPPER_OHM_MM2_PER_M = 1.0 / 58.0
# IEC 60228, annex A, rounded form kt = 250/(230 + t); the printed table of kt agrees (cable maker's data page).
_ZERO_RESISTANCE_BELOW_C = 230.0
# NFPA 70, chapter 9, table 8: stranded over solid, 3.14/3.07 for 14 AWG (from memory: lay of the strands, ASTM B8).
_STRANDED_FACTOR = 1.02
_LARGEST_SOLID_MM2 = 5.27  # 10 AWG: thicker building wire is stranded (NFPA 70, 310.106(C) / 310.3(C); from memory)

# IEC 60228, table 2: aluminium over copper of the same size, 1.91/1.15 at 16 mm2, 1.20/0.727 at 25 mm2 (from memory).
_ALUMINIUM_FACTOR = 1.66

_SAME_SIZE_FRAC = 0.005
_GAUGES = range(-3, 31)  # 4/0 (counted as -3) to 30 AWG


def awg_mm2(gauge: int) -> float:
    """Cross-section of an American wire gauge [mm2].

    Parameters
    ----------
    gauge : int
        Gauge number; 1/0, 2/0, 3/0 and 4/0 are 0, -1, -2 and -3.

    Returns
    -------
    float
        Cross-section [mm2].

    Raises
    ------
    PlanError
        If the gauge is not between 4/0 (-3) and 30.

    Notes
    -----
    d = 0.127 mm x 92^((36 - n)/39). Valid for 4/0 to 40 AWG by definition.

    References
    ----------
    ASTM B258-18, geometric definition of the gauge (from memory).

    Examples
    --------
    >>> round(awg_mm2(12), 2)
    3.31
    """
    if gauge not in _GAUGES:
        raise PlanError(f"gauge = {gauge!r}: expected a wire gauge from -3 (4/0) to 30; enter the cable in mm2 instead")
    diameter_mm = 0.127 * math.pow(92.0, (36 - gauge) / 39)
    return math.pi / 4 * diameter_mm**2


def awg_of_mm2(cross_section_mm2: float) -> int | None:
    """American wire gauge of a cross-section, if it is one.

    Parameters
    ----------
    cross_section_mm2 : float
        Cross-section [mm2].

    Returns
    -------
    int or None
        Gauge number (1/0 to 4/0 as 0 to -3); None when no gauge has this cross-section within 0.5 %.

    Examples
    --------
    >>> awg_of_mm2(awg_mm2(10)), awg_of_mm2(2.5)
    (10, None)
    """
    for gauge in _GAUGES:
        if math.isclose(awg_mm2(gauge), cross_section_mm2, rel_tol=_SAME_SIZE_FRAC):
            return gauge
    return None


def resistance_ohm_per_m(
    cross_section_mm2: float, conductor_temperature_c: float, *, flexible: bool = False, aluminium: bool = False
) -> float:
    """Resistance of one conductor per metre.

    Parameters
    ----------
    cross_section_mm2 : float
        Nominal cross-section [mm2].
    conductor_temperature_c : float
        Temperature of the copper [°C], not of the air.
    flexible : bool
        Fine-stranded (class 5: leads, flexible cords) instead of solid or stranded (class 1 and 2: fixed wiring).
    aluminium : bool
        Aluminium instead of copper.

    Returns
    -------
    float
        Resistance [ohm/m].

    Raises
    ------
    PlanError
        If the size is outside 0.2 to 240 mm2 or the temperature outside -40 to 150 °C.

    Notes
    -----
    R(t) = R20 (230 + t)/250. R20 is the tabled largest resistance of a listed size; for an American gauge
    rho/A of its geometry (2 % more when stranded); for another size the product R20 A between its neighbours.
    Skin effect and reactance are left out: below 1 % up to 50 mm2 at 60 Hz.

    References
    ----------
    IEC 60228:2004, tables 1 to 3 and annex A; IEC 60028; ASTM B258.

    Examples
    --------
    >>> round(1000 * resistance_ohm_per_m(2.5, 20.0), 3)
    7.41
    >>> round(1000 * resistance_ohm_per_m(1.5, 20.0, flexible=True), 3)
    13.3
    """
    if not 0.2 <= cross_section_mm2 <= 240.0:
        raise PlanError(f"cross_section_mm2 = {cross_section_mm2!r}: expected 0.2 to 240 mm2; check the cable's size")
    if not -40.0 <= conductor_temperature_c <= 150.0:
        shown = f"conductor_temperature_c = {conductor_temperature_c!r}"
        raise PlanError(f"{shown}: expected -40 to 150 °C; enter the temperature of the copper")
    warmer = (_ZERO_RESISTANCE_BELOW_C + conductor_temperature_c) / (_ZERO_RESISTANCE_BELOW_C + 20.0)
    metal = _ALUMINIUM_FACTOR if aluminium else 1.0
    return metal * _resistance_at_20_ohm_per_km(cross_section_mm2, flexible=flexible) / 1000.0 * warmer


def _resistance_at_20_ohm_per_km(cross_section_mm2: float, *, flexible: bool) -> float:
    table = _CLASS_5_OHM_PER_KM if flexible else _CLASS_2_OHM_PER_KM
    for size_mm2, resistance_ohm_per_km in table.items():
        if math.isclose(size_mm2, cross_section_mm2, rel_tol=1e-4):
            return resistance_ohm_per_km
    if awg_of_mm2(cross_section_mm2) is not None:
        stranded = flexible or cross_section_mm2 > _LARGEST_SOLID_MM2
        return 1000.0 * _COPPER_OHM_MM2_PER_M / cross_section_mm2 * (_STRANDED_FACTOR if stranded else 1.0)
    return _between_neighbours(table, cross_section_mm2)


def _between_neighbours(table: dict[float, float], cross_section_mm2: float) -> float:
    """Interpolate R A, which hardly varies, and extend its first value below the smallest size."""
    sizes_mm2 = list(table)
    upper = next((i for i, size_mm2 in enumerate(sizes_mm2) if size_mm2 > cross_section_mm2), len(sizes_mm2) - 1)
    if upper == 0:
        return sizes_mm2[0] * table[sizes_mm2[0]] / cross_section_mm2
    low_mm2, high_mm2 = sizes_mm2[upper - 1], sizes_mm2[upper]
    share = (cross_section_mm2 - low_mm2) / (high_mm2 - low_mm2)
    product = (1 - share) * low_mm2 * table[low_mm2] + share * high_mm2 * table[high_mm2]
    return product / cross_section_mm2
