"""The page of powers: per step what is needed, advised and set; below it, on demand, what else is worth changing."""

from energyplan.app import power, worth
from energyplan.app.desk import Desk
from energyplan.app.pieces import folded

__all__ = ["page"]


def page(at_hand: Desk) -> None:
    """Show the page."""
    power.page(at_hand)
    if at_hand.answer is not None and (fold := folded("What else is worth changing", "worth")):
        with fold:
            worth.page(at_hand.below())
