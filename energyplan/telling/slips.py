"""Slips of a plan in words: what is hardly meant, with the step's name and what would mend it."""

from collections.abc import Callable

from energyplan.base.errors import Place
from energyplan.base.kinds import CELSIUS, KELVIN, KEY, LITRES_PER_KG, MINUTES, WATTS, WRITTEN
from energyplan.base.sentence import Sentence, Span
from energyplan.day.slips import (
    HOTTEST_MASH_C,
    HOTTEST_STRIKE_C,
    HOTTEST_TAP_C,
    THICKEST_L_PER_KG,
    THINNEST_L_PER_KG,
    Slip,
    SlipCode,
)
from energyplan.telling.told import Found

__all__ = ["slip_found"]


def slip_found(slip: Slip) -> Found:
    """A slip as a note.

    Examples
    --------
    >>> print(slip_found(Slip(code="grain in the boil", step="Boil")).said)
    "Boil": the grain is still in the vessel when it boils; lift it out before.
    """
    said = _SAID[slip.code](slip)
    whole = Sentence('"{step}": {said}', step=WRITTEN(slip.step), said=said) if slip.step else said
    return Found(code=slip.code.replace(" ", "_").replace("-", "_"), severity="note", said=whole)


def _key(name: str) -> "Sentence":
    return Sentence("{key}", key=KEY(Place("", name)))


_SAID: dict[SlipCode, Callable[[Slip], Sentence]] = {
    "grain in the boil": lambda _: Sentence("the grain is still in the vessel when it boils; lift it out before."),
    "power above the elements": lambda slip: Sentence(
        "{set} are set, more than all elements together; they give what they can.", set=WATTS(slip.value)
    ),
    "mash after mash-out": lambda slip: Sentence(
        "a rest at {target} with the grain in, after the mash-out; are the steps in their order?",
        target=CELSIUS(slip.value),
    ),
    "grain after the boil": lambda _: Sentence(
        "grain goes in after the boil; are the steps in their order, or is the vessel to be emptied between?"
    ),
    "cools by waiting": lambda slip: Sentence(
        "it cools by {cools} just by waiting; if it is chilled, say so ({key}).",
        cools=KELVIN(slip.value), key=_key("chill_to"),
    ),
    "hot strike": lambda slip: Sentence(
        "grain goes into {strike}; above {most} the enzymes suffer before they have done anything.",
        strike=CELSIUS(slip.value), most=CELSIUS(HOTTEST_STRIKE_C),
    ),
    "hot mash": lambda slip: Sentence(
        "the mash lands at {mash}; above {most} the enzymes are soon gone.",
        mash=CELSIUS(slip.value), most=CELSIUS(HOTTEST_MASH_C),
    ),
    "thick mash": lambda slip: _thickness("thick, hard to stir and to pump", slip),
    "thin mash": lambda slip: _thickness("thin", slip),
    "hot tap water": lambda slip: Sentence(
        "the water comes at {water}; taps give less than {most}. If it was heated elsewhere, that is not counted.",
        water=CELSIUS(slip.value), most=CELSIUS(HOTTEST_TAP_C),
    ),
    "no summer time": lambda slip: Sentence(
        "The clock {zone} knows no summer time; where the clocks change, name a place, such as Europe/London.",
        zone=WRITTEN(slip.zone),
    ),
    "sparge without grain": lambda _: Sentence(
        "sparge water goes in with no grain to rinse; give it in the step that lifts it out, or as add water."
    ),
    "open ramp": lambda slip: Sentence(
        "it heats for {lasts} with the lid off; the lid on until it nearly boils saves time and kWh ({key}).",
        lasts=MINUTES(slip.value / 60), key=_key("lid"),
    ),
}  # fmt: skip


def _thickness(how: str, slip: Slip) -> Sentence:
    return Sentence(
        f"a mash of {{found}} is {how}; usual are {{usual}}.",
        found=LITRES_PER_KG(slip.value),
        usual=Span(LITRES_PER_KG, THICKEST_L_PER_KG, THINNEST_L_PER_KG),
    )
