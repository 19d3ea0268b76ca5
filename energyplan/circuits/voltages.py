"""Supply voltage: what is nominal, how far it may stray, how much a cable may lose."""

from energyplan.base.records import dataclass

__all__ = ["ELEMENT_HIGH", "ELEMENT_LOW", "DropLimit", "VoltageBand", "drop_limit", "voltage_band"]

# IEC 60335-1, 10.1, from memory (RULES["nameplate"]): input of a heating appliance against its plate.
ELEMENT_HIGH = 1.05
ELEMENT_LOW = 0.90

# RULES["iec voltage"] and RULES["nec voltage"]: shares above and below nominal.
_IEC_BAND = (0.10, 0.10)
_NEC_BAND = (0.05, 0.05)
# IEC 60038 and ANSI C84.1, from memory: nominal voltages between the conductors of a final circuit.
_IEC_NOMINAL_V = (230.0,)
_NEC_NOMINAL_V = (120.0, 208.0, 240.0, 277.0, 480.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltageBand:
    """Nominal voltage of a supply and the ends of its band [V]; whether it is one of those the rules are made for."""

    nominal_v: float
    low_v: float
    high_v: float
    is_known: bool = True


def voltage_band(rules: str, entered_v: float) -> VoltageBand:
    """Band of the supply that an entered voltage belongs to.

    Parameters
    ----------
    rules : str
        "iec" or "nec".
    entered_v : float
        Voltage at the board as entered or measured [V].

    Returns
    -------
    VoltageBand
        The standard nominal voltage whose band holds the entered one, with that band. A voltage that belongs to no
        supply of these rules (100 V, 127 V, 110 V from a centre tap) is taken as nominal itself, and not known.

    References
    ----------
    EN 50160 (+10/-10 %), ANSI C84.1 range A (+5/-5 %); the statutory band of the United Kingdom, +10/-6 %
    (216.2 to 253 V), lies inside the former.

    Examples
    --------
    >>> voltage_band("iec", 245.0).nominal_v, voltage_band("nec", 240.0).high_v
    (230.0, 252.0)
    """
    up, down = _NEC_BAND if rules == "nec" else _IEC_BAND
    known = _NEC_NOMINAL_V if rules == "nec" else _IEC_NOMINAL_V
    near = [v for v in known if v * (1 - down) - 1e-9 <= entered_v <= v * (1 + up) + 1e-9]
    nominal_v = min(near, key=lambda v: abs(v - entered_v)) if near else entered_v
    low_v, high_v = nominal_v * (1 - down), nominal_v * (1 + up)
    return VoltageBand(
        nominal_v=nominal_v, low_v=min(low_v, entered_v), high_v=max(high_v, entered_v), is_known=bool(near)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DropLimit:
    """Largest share of the voltage that the cable may lose, and whether that is a rule or advice."""

    limit_frac: float
    binding: bool


def drop_limit(rules: str) -> DropLimit:
    """Limit of the voltage drop for heating loads.

    Parameters
    ----------
    rules : str
        "iec" (5 %, 3 % for lighting) or "nec" (3 % on the branch circuit, an informational note).

    References
    ----------
    BS 7671:2018, appendix 4, section 6.4; NFPA 70, 210.19(A), informational note (published reproductions).

    Examples
    --------
    >>> drop_limit("iec").limit_frac
    0.05
    """
    return DropLimit(limit_frac=0.03, binding=False) if rules == "nec" else DropLimit(limit_frac=0.05, binding=True)
