"""Keep: days in this browser by name, side by side, files in and out, sheets."""

from energyplan.app import sidebyside, takealong
from energyplan.app.desk import Desk
from energyplan.app.drawer import drawer
from energyplan.app.pieces import chosen_part

__all__ = ["PARTS", "page"]

PARTS = ("Days", "Sheets and files", "Side by side")


def page(at_hand: Desk) -> None:
    """Show the page."""
    part = chosen_part("keep", PARTS)
    if part == PARTS[0]:
        drawer(at_hand)
    elif part == PARTS[1]:
        takealong.page(at_hand)
    else:
        sidebyside.page(at_hand)
