"""Each thing a brewer could change, alone and together, by simulation: kWh, money, minutes."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Literal

from energyplan.advice.batches import ROOM_FRAC
from energyplan.advice.measures import BOIL_POWER, MEASURES, Group, Measure, MeasureChoice, with_boil_power_of
from energyplan.advice.pricing import Pricing
from energyplan.advice.variants import EqualWort, WhyNot
from energyplan.base.errors import EnergyPlanError, PlanError, TariffError
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.model import Hours, Plan

__all__ = ["START", "Objective", "Saving", "Savings", "group_of", "saving_of", "savings"]

Objective = Literal["energy", "cost"]

START = "start"  # the measure that moves nothing but the clock
NO_GAIN = 1e-6  # kWh or units of currency: what a measure must be worth to stay in the combination


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Saving:
    """What one change, or several together, saves on one brew that ends with the same wort.

    ``saved_kwh`` and ``saved_money`` are negative where it takes more; for a batch of another size they are counted
    for the planned litres, a share of ``per_brew_share`` of its day. ``saved_min`` is how much shorter the whole day
    is. ``water_change_l`` is how much more water goes in at the start. ``payback_brews`` is after how many brews a
    price is earned (None: no price, no tariff, or it never is). ``is_gift`` says that something else pays for the
    heat. ``day`` is the day that was simulated, at ``start``.
    """

    keys: tuple[str, ...]
    saved_kwh: float
    saved_money: Money | None
    saved_min: float
    water_change_l: float
    per_brew_share: float
    price: float | None
    payback_brews: float | None
    is_gift: bool
    day: BrewDay
    start: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Savings:
    """Everything that could be changed, ranked, and the best of it together.

    ``rows`` are the changes alone; ``together`` is the best combination (None: nothing helps), and ``added_up_kwh``
    and ``added_up_money`` what the same changes alone would add up to. ``left_out`` has what can't be changed, with
    the reason. ``hours`` are those that another start keeps (None: the start is not up for choice), ``start`` is the
    planned one on the local clock (None: without prices).
    """

    base: BrewDay
    choice: MeasureChoice
    zone: str
    hours: Hours | None
    start: datetime | None
    base_cost: Money | None
    objective: Objective
    brews_per_year: float
    rows: tuple[Saving, ...]
    together: Saving | None
    added_up_kwh: float
    added_up_money: float | None
    left_out: tuple[tuple[str, WhyNot], ...]

    def per_year_kwh(self, saving: Saving) -> float:
        """Energy that a change saves in a year [kWh]."""
        return saving.saved_kwh * self.brews_per_year

    def per_year_money(self, saving: Saving) -> Money | None:
        """Money that a change saves in a year."""
        money = saving.saved_money
        if money is None:
            return None
        return Money(units=round(money.units * self.brews_per_year), currency=money.currency)


def savings(
    plan: Plan,
    *,
    choice: MeasureChoice | None = None,
    pricing: Pricing | None = None,
    brews_per_year: float = 20.0,
    prices: Mapping[str, float] | None = None,
    objective: Objective | None = None,
) -> Savings:
    """Work out what each possible change is worth.

    Parameters
    ----------
    plan : Plan
        The plan.
    choice : MeasureChoice, optional
        How far each measure goes.
    pricing : Pricing, optional
        Prices and start; without it there is no money and no other start.
    brews_per_year : float
        How often such a day is brewed.
    prices : mapping, optional
        What a change costs once, in the currency of the prices, by the key of its measure.
    objective : {"energy", "cost"}, optional
        What the best combination saves most of; by default money where there are prices, else energy.

    Raises
    ------
    BrewDayError, TariffError
        If the plan itself can't be brewed, or has no price.
    PlanError
        If a price belongs to no measure, or an objective needs prices.

    Notes
    -----
    Every variant is a simulated day that ends with the same volume, and with the same extract: where a change boils
    off less, less water goes in at the start, and neither its heating nor its steam is paid for. Savings of several
    changes are simulated together, because they don't add up.
    """
    known, chosen = {measure.key for measure in MEASURES} | {START}, choice or MeasureChoice()
    asked = {"prices for": set(prices or {}), "for nothing:": chosen.for_nothing}
    for words, keys in asked.items():
        if unknown := sorted(keys - known):
            raise PlanError(f"{words} {', '.join(unknown)}: no such measure; they are {', '.join(sorted(known))}")
    goal: Objective = objective or ("cost" if pricing else "energy")
    if goal == "cost" and pricing is None:
        raise PlanError('objective = "cost" needs prices; give a tariff, or ask for "energy"')
    return _Search(plan, chosen, pricing, prices or {}).savings(brews_per_year, goal)


def group_of(key: str) -> Group:
    """What a change takes: a setting at the vessel, something to do, something to buy."""
    return next((measure.group for measure in MEASURES if measure.key == key), "set")


def saving_of(
    plan: Plan,
    keys: Iterable[str],
    *,
    choice: MeasureChoice | None = None,
    pricing: Pricing | None = None,
    prices: Mapping[str, float] | None = None,
) -> Saving | WhyNot:
    """What some changes are worth together, simulated as one day; or why they don't go together.

    Parameters
    ----------
    plan : Plan
        The plan as it is.
    keys : iterable of str
        Keys of measures; `START` takes the cheapest start that the day then has.
    choice, pricing, prices
        As in `savings`.

    Raises
    ------
    BrewDayError, TariffError
        If the plan itself can't be brewed, or has no price.
    """
    search, wanted = _Search(plan, choice or MeasureChoice(), pricing, prices or {}), set(keys)
    taken = tuple(measure for measure in MEASURES if measure.key in wanted)
    day = search.day(taken) if taken else search.base
    if isinstance(day, WhyNot):
        return day
    return search.saving(taken, day, search.best_start(day) if START in wanted else None)


class _Search:
    """The base day and the variants of it that were simulated."""

    def __init__(self, plan: Plan, choice: MeasureChoice, pricing: Pricing | None, prices: Mapping[str, float]) -> None:
        self.plan, self.choice, self.pricing, self.prices = plan, choice, pricing, prices
        self.base = simulate(plan)
        self.equal = EqualWort(self.base.wort.extract_kg)
        self.base_cost = pricing.cost(self.base) if pricing else None

    def savings(self, brews_per_year: float, goal: Objective) -> Savings:
        rows, left_out = [], []
        for measure in MEASURES:
            found = self.day((measure,))
            if isinstance(found, WhyNot):
                left_out.append((measure.key, found))
            else:
                rows.append(self.saving((measure,), found))
        moved = self._start_alone()
        usable = {row.keys[0] for row in rows if not row.is_gift or row.keys[0] in self.choice.for_nothing}
        together = self._together(goal, usable, moves=bool(moved))
        rows += [row for row in moved if row.saved_money is not None and float(row.saved_money) > 0]
        alone = [row for row in rows if together and row.keys[0] in together.keys]
        return Savings(
            base=self.base,
            choice=self.choice,
            zone=self.pricing.clock if self.pricing else self.plan.site.time_zone or "UTC",
            hours=self.pricing.hours if self.pricing and self.pricing.may_move else None,
            start=self.pricing.local_start if self.pricing else None,
            base_cost=self.base_cost,
            objective=goal,
            brews_per_year=brews_per_year,
            rows=tuple(sorted(rows, key=lambda row: -_rank(row, goal))),
            together=together,
            added_up_kwh=sum(row.saved_kwh for row in alone),
            added_up_money=sum(float(row.saved_money) for row in alone if row.saved_money) if self.pricing else None,
            left_out=tuple(left_out),
        )

    def _changed(self, measures: Iterable[Measure]) -> tuple[Plan, float] | WhyNot:
        """The plan with some measures taken, and its size over the planned one."""
        plan, size, why_not = self.plan, 1.0, None
        for measure in measures:
            changed = measure.change(plan, self.choice)
            if isinstance(changed, WhyNot):
                why_not = changed  # in a combination another measure may have done its work already
                continue
            plan, size = changed, size if measure.combines else size * self.choice.batch_frac
        return why_not if why_not and plan is self.plan else (plan, size)

    def day(self, measures: Iterable[Measure]) -> BrewDay | WhyNot:
        """The day with some measures taken and the planned wort at its end, or why there is none."""
        changed = self._changed(measures)
        if isinstance(changed, WhyNot):
            return changed
        plan, size = changed
        try:
            day = self.equal.day(plan, self.base.wort.end_l * size, extract_kg=self.equal.extract_kg * size)
        except EnergyPlanError as error:
            return WhyNot(code="no_brew", error=error)
        full, room = day.wort.fullest_frac, max(ROOM_FRAC, self.base.wort.fullest_frac + NO_GAIN)
        return day if size <= 1 or full <= room else WhyNot(code="no_room", value=full, other=room)

    def saving(self, taken: tuple[Measure, ...], day: BrewDay, start: datetime | None = None) -> Saving:
        share = self.base.wort.end_l / day.wort.end_l if any(not measure.combines for measure in taken) else 1.0
        money = self._money_saved(day, share, start)
        keys = tuple(measure.key for measure in taken) + ((START,) if start else ())
        priced = [self.prices[key] for key in keys if key in self.prices]
        paid = sum(priced) if priced else None
        return Saving(
            keys=keys,
            saved_kwh=self.base.energy_kwh - day.energy_kwh * share,
            saved_money=money,
            saved_min=(self.base.duration_s - day.duration_s) / 60,
            water_change_l=day.plan.batch.water_l - self.plan.batch.water_l,
            per_brew_share=share,
            price=paid,
            payback_brews=_payback_brews(paid, money) if len(keys) == 1 else None,
            is_gift=any(measure.gift for measure in taken),
            day=day,
            start=start or (self.pricing.start if self.pricing else None),
        )

    def _money_saved(self, day: BrewDay, share: float, start: datetime | None) -> Money | None:
        if self.pricing is None or self.base_cost is None:
            return None
        cost = self.pricing.cost(day, start)
        if share != 1.0:
            cost = Money(units=round(cost.units * share), currency=cost.currency)
        return self.base_cost - cost

    def _start_alone(self) -> list[Saving]:
        start = self.best_start(self.base)
        return [] if start is None else [self.saving((), self.base, start)]

    def best_start(self, day: BrewDay) -> datetime | None:
        """The cheapest start in the brewer's hours; None where none of them costs less than the planned one."""
        if self.pricing is None:
            return None
        try:
            search = self.pricing.starts(day)
        except TariffError:
            return None
        if search is None:
            return None
        best = search.best.start
        return best if self.pricing.cost(day, best).units < self.pricing.cost(day).units else None

    def _together(self, goal: Objective, usable: set[str], *, moves: bool) -> Saving | None:
        """The best combination: all of them, then without each one that is worth nothing beside the others."""
        chosen = [measure for measure in MEASURES if measure.combines and measure.key in usable]
        day = self.day(chosen) if chosen else self.base
        if isinstance(day, WhyNot):
            return None
        worth = self._worth(day, goal, moves=moves)
        while chosen:
            fewer = {left.key: self._worth_without(left, chosen, day, worth) for left in chosen}
            key = max(fewer, key=lambda name: fewer[name])
            shrunk = self.day([measure for measure in chosen if measure.key != key])
            if fewer[key] < worth - NO_GAIN or isinstance(shrunk, WhyNot):
                break
            chosen = [measure for measure in chosen if measure.key != key]
            day, worth = shrunk, self._worth(shrunk, goal, moves=moves)
        if not (chosen or moves):
            return None
        return self.saving(tuple(chosen), day, self.best_start(day) if moves else None)

    def _worth_without(self, left: Measure, chosen: list[Measure], day: BrewDay, worth: float) -> float:
        """About what the combination is worth without one of its measures, its boil at the power it has in it."""
        rest = [measure for measure in chosen if measure is not left and measure.key != BOIL_POWER]
        changed = self._changed(rest)
        if isinstance(changed, WhyNot):
            return -float("inf")
        plan = changed[0] if left.key == BOIL_POWER else with_boil_power_of(changed[0], day.plan)
        plan = plan.model_copy(update={"batch": plan.batch.model_copy(update={"water_l": day.plan.batch.water_l})})
        try:
            energy_kwh = self.equal.energy_kwh(plan, self.base.wort.end_l)
        except EnergyPlanError:
            return -float("inf")
        return worth * energy_kwh / day.energy_kwh

    def _worth(self, day: BrewDay, goal: Objective, *, moves: bool) -> float:
        if goal == "energy" or self.pricing is None:
            return -day.energy_kwh
        return -float(self.pricing.cost(day, self.best_start(day) if moves else None))


def _rank(row: Saving, goal: Objective) -> float:
    return float(row.saved_money) if goal == "cost" and row.saved_money else row.saved_kwh


def _payback_brews(paid: float | None, money: Money | None) -> float | None:
    if paid is None or money is None or float(money) <= 0:
        return None
    return paid / float(money)
