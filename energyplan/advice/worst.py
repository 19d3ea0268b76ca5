"""The worst plausible day: cold air, a leaky vessel that steams much, low mains, weak elements."""

from energyplan.base.records import dataclass
from energyplan.day.course import Conditions
from energyplan.plan.model import Plan

__all__ = ["Worst", "open_surface_within", "worst_of"]

# Share by which the loss may exceed its value: an estimate from geometry, a measured one [assumptions].
ESTIMATE_HIGH_FRAC = 0.25
MEASURED_HIGH_FRAC = 0.10
COLDER_K = 5.0  # how much colder the place may be than entered [assumption]
# Lower end of the mains: 230 V -6 % (HD 472, BS 7671 appendix); 120/240 V -5 % (ANSI C84.1 range A); from memory.
LOW_MAINS_FRAC = {"iec": 0.94, "nec": 0.95}
# How much more or less than modelled an open surface evaporates at the boil [assumption]: published sources differ by
# 35 % at 88 degC; a pump that stirs the surface adds, walls that stand above it take away.
OPEN_SURFACE_FRAC = 0.25
MEASURED_OPEN_FRAC = 0.05  # the same where the lowest boiling power was seen: between two settings [assumption]
WEAK_ELEMENT_FRAC = 0.90  # IEC 60335-1, clause 10.1, lower limit (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """How far each condition is from the plan; `conditions` gives it to the simulation."""

    air_c: float
    voltage_v: float
    element_frac: float
    loss_frac: float
    open_surface_frac: float

    @property
    def conditions(self) -> Conditions:
        """The same as conditions of a run."""
        return Conditions(
            air_c=self.air_c,
            voltage_v=self.voltage_v,
            element_factor=self.element_frac,
            loss_factor=self.loss_frac,
            open_surface_factor=self.open_surface_frac,
        )

    def sag_frac(self, planned_v: float) -> float:
        """Share of a capped power that is left: the mains squared times the element's tolerance."""
        return (self.voltage_v / planned_v) ** 2 * self.element_frac


def worst_of(plan: Plan) -> Worst:
    """Worst plausible conditions of a plan.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> worst = worst_of(read_plan("demo"))
    >>> worst.air_c, round(worst.voltage_v, 1), worst.loss_frac
    (6.0, 216.2, 1.25)
    """
    measured = plan.vessel.heat_loss_w_per_k is not None
    rules = plan.circuit.rules if plan.circuit else "iec"
    return Worst(
        air_c=plan.site.air_c - COLDER_K,
        voltage_v=plan.voltage_v * LOW_MAINS_FRAC[rules],
        element_frac=WEAK_ELEMENT_FRAC,
        loss_frac=1 + (MEASURED_HIGH_FRAC if measured else ESTIMATE_HIGH_FRAC),
        open_surface_frac=1 + open_surface_within(plan),
    )


def open_surface_within(plan: Plan) -> float:
    """How far the evaporation of the open surface may be from what is planned with, as a share of it."""
    return OPEN_SURFACE_FRAC if plan.vessel.least_boil_w is None else MEASURED_OPEN_FRAC
