"""Supply and protection as entered, with a line to fill in where something is not known."""

from energyplan.base.units import Display
from energyplan.circuits.cables import cable_name
from energyplan.circuits.loads import layout_of
from energyplan.plan.model import Circuit

__all__ = ["supply_list"]

_METHODS = {
    "A": "method A, in a conduit in an insulated wall",
    "B": "method B, in a conduit on a wall",
    "C": "method C, clipped to a wall",
    "E": "method E, in free air",
    "60": "60 °C column",
    "75": "75 °C column",
    "90": "90 °C column",
}
_FEEDS = {True: "the vessel's outlet alone", False: "other outlets too", None: None}
_RULES = {"iec": "IEC 60364 family, tables of BS 7671", "nec": "NFPA 70"}


def supply_list(circuit: Circuit | None, voltage_v: float, show: Display) -> list[tuple[str, str | None]]:
    """Names and what was entered; None where nothing was, so that it can be written in by hand.

    Parameters
    ----------
    circuit : Circuit or None
        The circuit as entered.
    voltage_v : float
        Voltage at the board [V]; without a circuit that of the first element.
    show : Display
        Units of lengths and temperatures.
    """
    if circuit is None:
        unknown = ("Breaker", "Residual current device", "Outlet and plug", "Cable", "Laid", "Circuit feeds")
        return [("Supply", f"{voltage_v:.0f} V, from the plate of the element"), *((name, None) for name in unknown)]
    rows: list[tuple[str, str | None]] = [
        ("Supply", f"{voltage_v:.0f} V, {_layout(circuit)}"),
        ("Breaker", _breaker(circuit)),
        ("Residual current device", {True: "yes", False: "no", None: None}[circuit.residual_current_device]),
        ("Outlet and plug", None if circuit.outlet_a is None else f"{circuit.outlet_a:g} A"),
        ("Cable", _cable(circuit, show)),
        ("Laid", _laid(circuit, show)),
        ("Extension lead", _lead(circuit, show)),
        ("Circuit feeds", _FEEDS[circuit.dedicated]),
        ("Judged by", _RULES[circuit.rules]),
    ]
    if circuit.plug_fuse_a is not None:
        rows.insert(4, ("Fuse in the plug", f"{circuit.plug_fuse_a:g} A"))
    return rows


def _layout(circuit: Circuit) -> str:
    line = {None: "", "all": ", on all lines"}.get(circuit.line, f", on {circuit.line}")
    return f"{layout_of(circuit)}{line}"


def _breaker(circuit: Circuit) -> str | None:
    if circuit.breaker_a is None:
        return None
    named = {None: "curve not known", "inverse": "inverse time"}
    return f"{circuit.breaker_a:g} A, {named.get(circuit.breaker_curve, f'curve {circuit.breaker_curve}')}"


def _cable(circuit: Circuit, show: Display) -> str | None:
    if circuit.cable_mm2 is None:
        return None
    way = "round the ring" if circuit.ring else "one way"
    length = f"{show.length(circuit.cable_length_m)} {way}" if circuit.cable_length_m else "length not known"
    return f"{cable_name(circuit.cable_mm2)}, {length}"


def _laid(circuit: Circuit, show: Display) -> str | None:
    if circuit.installation is None:
        return None
    others = circuit.grouped_circuits - 1
    beside = f", beside {others} other{'s' if others > 1 else ''}" if others else ""
    return f"{_METHODS[circuit.installation]}; {show.temperature(circuit.ambient_c, 0)} around it{beside}"


def _lead(circuit: Circuit, show: Display) -> str:
    lead = circuit.extension
    if lead is None:
        return "none"
    rating = f", marked {lead.rating_a:g} A" if lead.rating_a is not None else ""
    wound = "" if lead.unwound else ", left wound up"
    return f"{cable_name(lead.cable_mm2)}, {show.length(lead.length_m)}{rating}{wound}"
