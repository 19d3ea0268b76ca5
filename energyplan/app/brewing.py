"""The page of the day: the answer, the course, what comes when; batch and steps where their effect is seen."""

from energyplan.app import byclock, day
from energyplan.app.desk import Desk
from energyplan.app.parts import folded
from energyplan.app.setup import day_form

__all__ = ["page"]


def page(at_hand: Desk) -> None:
    """Show the page."""
    day.page(at_hand)
    if fold := folded("Batch and steps", "batch"):
        with fold:
            day_form(at_hand.work)
    if at_hand.answer is not None:
        byclock.page(at_hand.below())
