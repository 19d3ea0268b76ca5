"""How much of the form is still what the demo gave."""

from functools import lru_cache

from energyplan.app.editing import entry_of, plan_tables
from energyplan.app.entries import SECTIONS
from energyplan.plan.model import Plan

__all__ = ["still_given"]


@lru_cache(maxsize=64)
def still_given(plan: Plan, given: Plan) -> dict[str, tuple[int, int]]:
    """Entries of each section that are still those of a given plan, and how many it gave.

    Examples
    --------
    >>> from energyplan.app.editing import with_entry
    >>> from energyplan.plan.file import read_plan
    >>> still_given(with_entry(read_plan("demo"), ("batch", "water"), "30 L"), read_plan("demo"))["Batch"]
    (5, 6)
    """
    now, before = plan_tables(plan), plan_tables(given)
    found = {}
    for section in SECTIONS:
        known = [entry.path for entry in section.entries if entry_of(before, entry.path) is not None]
        same = sum(entry_of(now, path) == entry_of(before, path) for path in known)
        found[section.title] = (same, len(known))
    return found
