"""Each thing a brewer could change, alone and together, by simulation: kWh, money, minutes."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from energyplan.advice.measures import Lever, LeverChoice, levers
from energyplan.advice.pricing import Pricing
from energyplan.advice.variants import with_end_volume
from energyplan.base.errors import EnergyPlanError, PlanError
from energyplan.base.money import Money
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.model import Plan

__all__ = ["START", "Objective", "Saving", "Savings", "savings"]

Objective = Literal["energy", "cost"]

START = "start"  # the lever that moves nothing but the clock
NO_GAIN = 1e-6  # kWh or units of currency: what a lever must be worth to stay in the combination


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Saving:
    """What one change, or several together, saves on one brew that ends with the same wort.

    ``saved_kwh``, ``saved_money`` and ``saved_min`` are negative where it takes more. ``water_change_l`` is how much
    more water goes in at the start. ``payback_brews`` is after how many brews a price is earned (None: no price, no
    tariff, or it never is). ``day`` is the day that was simulated, at ``start``.
    """

    keys: tuple[str, ...]
    name: str
    saved_kwh: float
    saved_money: Money | None
    saved_min: float
    water_change_l: float
    per_brew_share: float
    price: float | None
    payback_brews: float | None
    risk: str
    day: BrewDay
    start: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Savings:
    """Everything that could be changed, ranked, and the best of it together.

    ``rows`` are the changes alone; ``together`` is the best combination (None: nothing helps), and ``added_up_kwh``
    and ``added_up_money`` what the same changes alone would add up to. ``left_out`` has what can't be changed, with
    the reason.
    """

    base: BrewDay
    base_cost: Money | None
    objective: Objective
    brews_per_year: float
    rows: tuple[Saving, ...]
    together: Saving | None
    added_up_kwh: float
    added_up_money: float | None
    left_out: tuple[tuple[str, str], ...]

    def per_year_kwh(self, saving: Saving) -> float:
        """Energy that a change saves in a year [kWh]."""
        return saving.saved_kwh * self.brews_per_year

    def per_year_money(self, saving: Saving) -> float | None:
        """Money that a change saves in a year."""
        return None if saving.saved_money is None else float(saving.saved_money) * self.brews_per_year

    def per_year_h(self, saving: Saving) -> float:
        """Hours that a change saves in a year."""
        return saving.saved_min * self.brews_per_year / 60


def savings(
    plan: Plan,
    *,
    choice: LeverChoice | None = None,
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
    choice : LeverChoice, optional
        How far each lever is moved.
    pricing : Pricing, optional
        Prices and start; without it there is no money and no other start.
    brews_per_year : float
        How often such a day is brewed.
    prices : mapping, optional
        What a change costs once, in the currency of the prices, by the key of its lever.
    objective : {"energy", "cost"}, optional
        What the best combination saves most of; by default money where there are prices, else energy.

    Raises
    ------
    BrewDayError, TariffError
        If the plan itself can't be brewed, or has no price.
    PlanError
        If a price belongs to no lever, or an objective needs prices.

    Notes
    -----
    Every variant is a simulated day that ends with the same volume, and with the same extract: where a change boils
    off less, less water goes in at the start, and neither its heating nor its steam is paid for. Savings of several
    changes are simulated together, because they don't add up.
    """
    return _Search(plan, choice or LeverChoice(), pricing, prices or {}).savings(brews_per_year, objective)


class _Search:
    """The base day and the variants of it that were simulated."""

    def __init__(self, plan: Plan, choice: LeverChoice, pricing: Pricing | None, prices: Mapping[str, float]) -> None:
        self.plan, self.choice, self.pricing, self.prices = plan, choice, pricing, prices
        self.levers = levers(choice)
        known = {lever.key for lever in self.levers} | {START}
        if unknown := sorted(set(prices) - known):
            raise PlanError(f"prices for {', '.join(unknown)}: no such lever; they are {', '.join(sorted(known))}")
        self.base = simulate(plan)
        self.extract_kg = self.base.wort.extract_kg
        self.base_cost = pricing.cost(self.base) if pricing else None
        self.days: dict[frozenset[str], BrewDay | str] = {}

    def savings(self, brews_per_year: float, objective: Objective | None) -> Savings:
        goal: Objective = objective or ("cost" if self.pricing else "energy")
        if goal == "cost" and self.pricing is None:
            raise PlanError('objective = "cost" needs prices; give a tariff, or ask for "energy"')
        rows, left_out = [], []
        for lever in self.levers:
            day = self.day(frozenset({lever.key}))
            if isinstance(day, str):
                left_out.append((lever.name, day))
            else:
                rows.append(self._saving((lever,), day))
        rows += self._start_alone()
        together = self._together(goal, [row.keys[0] for row in rows])
        alone = [row for row in rows if together and row.keys[0] in together.keys]
        return Savings(
            base=self.base,
            base_cost=self.base_cost,
            objective=goal,
            brews_per_year=brews_per_year,
            rows=tuple(sorted(rows, key=lambda row: -self._rank(row, goal))),
            together=together,
            added_up_kwh=sum(row.saved_kwh for row in alone),
            added_up_money=sum(float(row.saved_money) for row in alone if row.saved_money) if self.pricing else None,
            left_out=tuple(left_out),
        )

    def _rank(self, row: Saving, goal: Objective) -> float:
        return float(row.saved_money) if goal == "cost" and row.saved_money else row.saved_kwh

    def day(self, keys: frozenset[str]) -> BrewDay | str:
        """The day with some levers moved, or why there is none; the same levers are simulated once."""
        if keys not in self.days:
            self.days[keys] = self._simulated(keys)
        return self.days[keys]

    def _simulated(self, keys: frozenset[str]) -> BrewDay | str:
        plan, moved, size = self.plan, False, 1.0
        for lever in self.levers:
            if lever.key not in keys:
                continue
            changed = lever.applied(plan, self.choice)
            if isinstance(changed, str):
                if len(keys) == 1:
                    return changed
                continue  # another lever has done its work already
            plan, moved = changed, True
            size = size if lever.combines else size * self.choice.batch_frac
        if not moved:
            return self.base
        try:
            return with_end_volume(plan, self.base.wort.end_l * size, extract_kg=self.extract_kg * size)
        except EnergyPlanError as error:
            return f"it can't be brewed: {error}"

    def _saving(self, moved: tuple[Lever, ...], day: BrewDay, start: datetime | None = None) -> Saving:
        share = self.base.wort.end_l / day.wort.end_l if any(not lever.combines for lever in moved) else 1.0
        money = self._money_saved(day, share, start)
        keys = tuple(lever.key for lever in moved) + ((START,) if start else ())
        priced = [self.prices[key] for key in keys if key in self.prices]
        paid = sum(priced) if priced else None
        return Saving(
            keys=keys,
            name=" + ".join([lever.name for lever in moved] + (["Best start"] if start else [])),
            saved_kwh=self.base.energy_kwh - day.energy_kwh * share,
            saved_money=money,
            saved_min=(self.base.duration_s - day.duration_s * share) / 60,
            water_change_l=day.plan.batch.water_l - self.plan.batch.water_l,
            per_brew_share=share,
            price=paid,
            payback_brews=_payback_brews(paid, money) if len(keys) == 1 else None,
            risk=" ".join(lever.risk for lever in moved if lever.risk),
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
        start = self._best_start(self.base)
        return [] if start is None else [self._saving((), self.base, start)]

    def _best_start(self, day: BrewDay) -> datetime | None:
        search = self.pricing.starts(day) if self.pricing else None
        return search.best.start if search else None

    def _together(self, goal: Objective, keys: Iterable[str]) -> Saving | None:
        """The best combination: all of them, then without each one that is worth nothing beside the others."""
        usable = frozenset(lever.key for lever in self.levers if lever.combines) & frozenset(keys)
        moves = START in keys
        worth = self._worth(usable, goal, moves=moves)
        while usable:
            fewer = {key: self._worth(usable - {key}, goal, moves=moves) for key in sorted(usable)}
            key = max(fewer, key=lambda name: fewer[name])
            if fewer[key] < worth - NO_GAIN:
                break
            usable, worth = usable - {key}, fewer[key]
        day = self.day(usable)
        if isinstance(day, str) or not (usable or moves):
            return None
        chosen = tuple(lever for lever in self.levers if lever.key in usable)
        return self._saving(chosen, day, self._best_start(day) if moves else None)

    def _worth(self, keys: frozenset[str], goal: Objective, *, moves: bool) -> float:
        day = self.day(keys)
        if isinstance(day, str):
            return -float("inf")
        if goal == "energy" or self.pricing is None:
            return -day.energy_kwh
        return -float(self.pricing.cost(day, self._best_start(day) if moves else None))


def _payback_brews(paid: float | None, money: Money | None) -> float | None:
    if paid is None or money is None or float(money) <= 0:
        return None
    return paid / float(money)
