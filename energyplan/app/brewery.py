"""Your brewery: what stays the same from brew to brew, and what readings and logs teach about it."""

from energyplan.app import prices, vessel
from energyplan.app.desk import Desk
from energyplan.app.parts import chosen_part
from energyplan.app.setup import circuit_form, vessel_form

__all__ = ["PARTS", "page"]

PARTS = ("Vessel and place", "Circuit", "Prices")


def page(at_hand: Desk) -> None:
    """Show the page."""
    part = chosen_part("your-brewery", PARTS)
    if part == PARTS[2]:
        prices.page(at_hand)
    elif part == PARTS[1]:
        circuit_form(at_hand)
    else:
        vessel.page(at_hand)
        vessel_form(at_hand.work)
