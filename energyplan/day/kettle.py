"""The vessel on its way through a day: its body and place, what is in it, what goes in and out, what the lid takes."""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.errors import BrewDayError, Place
from energyplan.base.kinds import CELSIUS, KEY, LITRES, WATTS
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.legs import Arrival, Change, Conditions, Leg, Mashing, Mishap, PhaseName, changed
from energyplan.day.supply import Heating, heating
from energyplan.physics.contents import Contents
from energyplan.physics.drift import Outcome
from energyplan.physics.losscurve import LossCurve, LossCurves
from energyplan.physics.losses import Surroundings
from energyplan.physics.vesselloss import Part, Shell, dry_loss_w, vapour_kg_per_s
from energyplan.physics.water import boiling_point_c, density_kg_per_m3, latent_heat_j_per_kg, pressure_at_altitude_pa
from energyplan.physics.wort import boiling_point_rise_k, malt_specific_heat_j_per_kg_k, plato_from_gravity
from energyplan.plan.model import Action, Addition, Lid, Plan, Step
from energyplan.plan.steps import grain_portions

__all__ = [
    "Kettle",
    "Now",
    "Setting",
    "has_extract_added",
    "heat_loss_w_per_k",
    "open_surface_factor",
    "shell_of",
    "surroundings_of",
]

MASH_C = 66.0  # a usual mash temperature (common practice, no source), at which a loss is told


def shell_of(plan: Plan, loss_factor: ArrayLike = 1.0, open_surface_factor: ArrayLike = 1.0) -> Shell:
    """Describe the plan's vessel to the loss model; the factors scale its closed surfaces and its evaporation."""
    vessel = plan.vessel
    factor = np.asarray(loss_factor, dtype=float)
    measured, measured_at_l = vessel.heat_loss_w_per_k, vessel.measured_at_l
    covered: frozenset[Part] = frozenset(vessel.jacket_covers)
    shell = Shell(
        diameter_m=vessel.diameter_m,
        height_m=vessel.height_m,
        emissivity=vessel.bare_emissivity,
        jacket_emissivity=vessel.outer_emissivity,
        jacket_m=vessel.jacket_thickness_m or 0.0,
        jacket_w_per_m_k=vessel.jacket_conductivity_w_per_m_k,
        jacketed=covered,
        fittings=vessel.fittings * factor,
        heat_loss_w_per_k=None if measured is None else measured * factor,
        ajar_open_frac=vessel.lid_ajar_open,
        open_surface_factor=open_surface_factor,
    )
    if measured_at_l is None:
        return shell
    return replace(shell, measured_wet_frac=min(measured_at_l / shell.volume_l, 1.0))


def surroundings_of(plan: Plan, air_c: ArrayLike | None = None) -> Surroundings:
    """Describe the plan's place to the loss model, with another air temperature [°C] if given."""
    site = plan.site
    air = site.air_c if air_c is None else air_c
    return Surroundings(
        air_c=air,
        radiant_c=air if site.surroundings_c is None else site.surroundings_c,
        humidity_frac=site.humidity,
        pressure_pa=pressure_at_altitude_pa(site.altitude_m),
        draught_m_per_s=site.draught_m_per_s,
    )


def heat_loss_w_per_k(plan: Plan, at_c: float = MASH_C) -> float:
    """Heat loss of the plan's vessel with the lid on, per kelvin above the air [W/K].

    A measured one at the filling that it was measured with, an estimated one of the full vessel.

    Raises
    ------
    BrewDayError
        If the temperature is not above the air's.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> 3.0 < heat_loss_w_per_k(read_plan("demo")) < 5.0
    True
    """
    warmer_k = at_c - plan.site.air_c
    if warmer_k <= 0:
        message = Sentence(
            "at {at} nothing is lost to air of {air}; name a higher one", at=CELSIUS(at_c), air=CELSIUS(plan.site.air_c)
        )
        raise BrewDayError(message)
    shell = shell_of(plan)
    wetted = 1.0 if shell.measured_wet_frac is None else shell.measured_wet_frac
    return float(dry_loss_w(at_c, surroundings_of(plan), shell, "on", wetted)) / warmer_k


EXTRACT_L_PER_KG = 0.62  # what dissolved sugar adds to the volume (from memory)
LEAST_FACTOR = 0.1  # of the modelled evaporation: less than that is no open surface


def open_surface_factor(plan: Plan) -> float:
    """Real over modelled evaporation at the boil, by the lowest power seen to keep it; 1 where none was seen.

    Raises
    ------
    BrewDayError
        If that power is hardly more than what the vessel loses without any vapour.

    Notes
    -----
    ``[vessel] least_boil`` was seen with the lid off, as brewed: the heat that it gives is the dry loss at the boiling
    point plus the latent heat of what the surface evaporates. The level is that of all water and sparge water less
    what the grain keeps, hot, with the extract of the planned gravity; two per cent of the vessel more or less change
    the power by half a per cent.
    """
    least_w = plan.vessel.least_boil_w
    if least_w is None:
        return 1.0
    shell, around = shell_of(plan), surroundings_of(plan)
    plato = float(plato_from_gravity(plan.batch.gravity or 1.0))
    boiling_c = float(boiling_point_c(around.pressure_pa)) + float(boiling_point_rise_k(plato))
    wetted = min(_before_the_boil_l(plan, boiling_c, plato) / shell.volume_l, 1.0)
    heat_w = float(heating(plan, least_w, voltage_v=plan.voltage_v, element_factor=1.0).most_w)
    dry_w = float(dry_loss_w(boiling_c, around, shell, "off", wetted))
    vapour_w = float(vapour_kg_per_s(boiling_c, around, shell, "off") * latent_heat_j_per_kg(boiling_c))
    factor = (heat_w - dry_w) / vapour_w
    if factor < LEAST_FACTOR:
        raise BrewDayError(
            Sentence(
                "{key}: {least} hardly covers the {dry} that the vessel loses at the boil without any vapour. It is "
                "the lowest power that kept an open boil rolling, lid off.",
                key=KEY("vessel.least_boil"),
                least=WATTS(least_w),
                dry=WATTS(dry_w),
            )
        )
    return factor


def _before_the_boil_l(plan: Plan, boiling_c: float, plato: float) -> float:
    """About what is in the vessel as it comes to the boil [L]."""
    batch = plan.batch
    done = {action.kind for step in plan.steps for action in step.before}
    cold_l = batch.water_l + (batch.sparge_water_l if "add sparge water" in done else 0.0)
    cold_l -= batch.absorption_l_per_kg * batch.grain_kg if "remove grain" in done else 0.0
    expanded = float(density_kg_per_m3(batch.water_temperature_c) / density_kg_per_m3(min(boiling_c, 100.0)))
    dissolved = 1 + EXTRACT_L_PER_KG * plato / (100 - plato)
    return max(cold_l, 0.0) * expanded * dissolved


FloatArray = NDArray[np.float64]


BoolArray = NDArray[np.bool_]


BESIDE_K = 2.0  # by which a curve reaches beyond what is asked of it
DRIFT_MARGIN = 1.3  # over a straight line, for water that leaves on the way
DRY_FRAC = 0.02  # of the vessel's volume: below it the elements have long been bare
BEYOND_K = 40.0  # nothing cools so far below its air, however wet, or gets so far above the boil [our choice]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Now:
    """Where the day has got to."""

    time_s: FloatArray
    temperature_c: FloatArray
    contents: Contents


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Setting:
    """How a phase is run: elements under a cap, pump and its heat [W], loss of the state."""

    step: Step
    given: Heating
    wetted_frac: FloatArray
    losses: LossCurve
    pump_w: float
    pump_heat_w: FloatArray

    @property
    def most_w(self) -> FloatArray:
        """Most heat that goes into the contents [W]."""
        return np.asarray(self.given.most_w + self.pump_heat_w)


class Kettle:
    """The vessel of one plan, and what is noted of it on the way; keeps what does not change."""

    def __init__(self, plan: Plan, conditions: Conditions, *, go_on: bool) -> None:
        self.plan, self.conditions, self.go_on = plan, conditions, go_on
        self.draws = conditions.draws
        self.shell = shell_of(
            plan, conditions.loss_factor, open_surface_factor(plan) * np.asarray(conditions.open_surface_factor)
        )
        self.around = surroundings_of(plan, conditions.air_c)
        self.curves = LossCurves(self.around, self.shell, self.draws)
        self.cold_c = min(float(np.min(self.around.air_c)), 0.0)
        self.capacity_l = self.shell.volume_l
        self.voltage_v = self._draws_of(conditions.voltage_v, plan.voltage_v)
        self.element_factor = self._draws_of(conditions.element_factor, 1.0)
        self.grain_c = self._draws_of(conditions.grain_c, plan.grain_c)
        self.water_boils_c = float(boiling_point_c(self.around.pressure_pa))
        self.portions = grain_portions(plan.steps, plan.batch.grain_kg)
        self.heatings: dict[float | None, Heating] = {}
        self._begin(0.0)

    def _begin(self, extract_kg: float | FloatArray) -> None:
        self.extract_kg = extract_kg
        self.legs: list[Leg] = []
        self.arrivals: list[Arrival] = []
        self.mishaps: list[Mishap] = []
        self.fullest = np.zeros(self.draws)
        self.measured: tuple[Contents | None, FloatArray, FloatArray] = (None, self.fullest, self.fullest)
        self.step_starts_s: dict[str, FloatArray] = {}

    def _draws_of(self, value: ArrayLike | None, planned: float) -> FloatArray:
        given = np.asarray(planned if value is None else value, dtype=float)
        return np.asarray(np.zeros(self.draws) + given)

    def _start(self) -> Now:
        batch, vessel = self.plan.batch, self.plan.vessel
        water_c = self._draws_of(self.conditions.water_c, batch.water_temperature_c)
        planned_kg = batch.water_l / 1000 * density_kg_per_m3(batch.water_temperature_c)
        none = np.zeros(self.draws)
        has_mash = any(map(any, self.portions.values())) or has_extract_added(self.plan)
        contents = Contents(
            water_kg=none + planned_kg,
            extract_kg=none if has_mash else none + self.extract_kg,
            grain_kg=none,
            grain_j_per_kg_k=none + malt_specific_heat_j_per_kg_k(batch.grain_moisture),
            vessel_j_per_k=none + vessel.own_heat_j_per_k,
        )
        return Now(time_s=none, temperature_c=water_c + none, contents=contents)

    def _prepare(self, now: Now, step: Step) -> Now:
        """Do what a step begins with; emptied on the way, the vessel must be wet again after the last of it."""
        filled_l = None
        for action, grain_kg in zip(step.before, self.portions[step.name], strict=True):
            now = self._act(now, step, action.model_copy(update={"mass_kg": grain_kg}))
            filled_l = self._fits(now, step)
        if filled_l is not None:
            self._stays_wet(step, filled_l)
        return now

    def _act(self, now: Now, step: Step, action: Action) -> Now:
        mashing = Mashing(grain_c=self.grain_c, extract_kg=self.extract_kg)
        change = changed(now.contents, now.temperature_c, action, self.plan.batch, mashing)
        return self._arrive(now, step, action, change)

    def _arrive(self, now: Now, step: Step, action: Action | Addition, change: Change) -> Now:
        self.arrivals.append(
            Arrival(
                step=step,
                action=action,
                time_s=now.time_s,
                from_c=now.temperature_c,
                to_c=change.to_c,
                carried_j=change.carried_j,
                before=now.contents,
                after=change.after,
            )
        )
        return Now(time_s=now.time_s, temperature_c=change.to_c, contents=change.after)

    def _mishap(self, step: Step, which: BoolArray, words: Sentence) -> None:
        """Stop for a draw that can't be brewed, or note it and go on with the others."""
        message = Sentence("{step}: {words}", step=KEY(Place("step", row=step.name)), words=words)
        if not self.go_on:
            raise BrewDayError(message)
        self.mishaps.append(Mishap(step=step.name, which=which, message=message))

    def _filled_l(self, now: Now) -> FloatArray:
        """Filled volume [L]; as long as it is kept as warm as it is, it is worked out once."""
        contents, at_c, filled_l = self.measured
        if contents is not now.contents or at_c is not now.temperature_c:
            filled_l = now.contents.filled_l(now.temperature_c)
            self.measured = now.contents, now.temperature_c, filled_l
        return filled_l

    def _fits(self, now: Now, step: Step) -> FloatArray:
        """Filled volume [L], which must not run over."""
        filled_l = self._filled_l(now)
        self.fullest = np.maximum(self.fullest, filled_l / self.capacity_l)
        over = filled_l > self.capacity_l
        if over.any():
            words = Sentence(
                "the vessel would run over: {filled} in a vessel of {holds} ({diameter}, {height}); use less water or "
                "grain, or a larger vessel",
                filled=LITRES(filled_l.max()),
                holds=LITRES(self.capacity_l),
                diameter=KEY("vessel.diameter"),
                height=KEY("vessel.height"),
            )
            self._mishap(step, over, words)
        return filled_l

    def _stays_wet(self, step: Step, filled_l: FloatArray) -> BoolArray:
        dry = np.asarray((filled_l < DRY_FRAC * self.capacity_l) & step.heats)
        if dry.any():
            words = Sentence(
                "the vessel runs dry: {left} are left; use more water, or less time or power in the boil",
                left=LITRES(max(filled_l.min(), 0.0)),
            )
            self._mishap(step, dry, words)
        return dry

    def _followed(self, before: Now, after: Now, step: Step) -> Now:
        """The same, after what may have fallen; what fell too quickly to be followed goes on as it was."""
        air_c = self._draws_of(self.conditions.air_c, self.plan.site.air_c)
        lost = after.temperature_c < np.minimum(before.temperature_c, air_c) - BEYOND_K
        lost |= after.temperature_c > np.maximum(before.temperature_c, self.water_boils_c) + BEYOND_K
        if not lost.any():
            return after
        self._mishap(step, lost, Sentence("it cools too quickly to be followed: is the vessel as wide as entered?"))
        return replace(after, temperature_c=np.where(lost, before.temperature_c, after.temperature_c))

    def _drier(self, now: Now, setting: Setting) -> Now:
        """The same, after a phase in which water may have left."""
        if setting.losses.dries:
            self._stays_wet(setting.step, self._filled_l(now))
        return now

    def _setting(
        self, now: Now, step: Step, cap_w: float | None, *, to_c: FloatArray, resting: bool = False
    ) -> Setting:
        """What the elements give under a cap, the pump's heat, the loss of the state on the way to a temperature."""
        pump_w = self.plan.vessel.pump_w if step.pump_runs and not resting else 0.0
        wetted = np.minimum(self._filled_l(now) / self.capacity_l, 1.0)
        return Setting(
            step=step,
            given=self._heating(cap_w),
            wetted_frac=wetted,
            losses=self._losses(wetted, step.lid_state, now.temperature_c, to_c),
            pump_w=pump_w,
            pump_heat_w=now.time_s * 0.0 + self.plan.vessel.pump_heat * pump_w,
        )

    def _heating(self, cap_w: float | None) -> Heating:
        if cap_w not in self.heatings:
            self.heatings[cap_w] = heating(
                self.plan, cap_w, voltage_v=self.voltage_v, element_factor=self.element_factor
            )
        return self.heatings[cap_w]

    def _losses(self, wetted: FloatArray, lid: Lid, from_c: FloatArray, to_c: FloatArray) -> LossCurve:
        """Loss curve of a level between two temperatures; that of a single day reaches everywhere."""
        low_c, high_c = float(np.minimum(from_c, to_c).min()) - BESIDE_K, self.water_boils_c + BESIDE_K
        if self.draws == 1:
            low_c = min(low_c, self.cold_c)
        else:
            high_c = float(np.maximum(from_c, to_c).max()) + BESIDE_K
        return self.curves.curve(lid, wetted, low_c=low_c, high_c=high_c)

    def _adrift(self, now: Now, setting: Setting, heat_w: FloatArray, duration_s: float) -> Setting:
        """The same setting, its curve as far as the temperature may drift: the loss only falls on the way."""
        if self.draws == 1:
            return setting  # its curve reaches everywhere
        surplus_w = heat_w - setting.losses.total_w(now.temperature_c)
        drift_k = DRIFT_MARGIN * surplus_w * duration_s / now.contents.capacity_j_per_k(now.temperature_c)
        around_c = np.minimum(np.asarray(self.around.air_c), np.asarray(self.around.radiant_c))
        to_c = np.maximum(now.temperature_c + drift_k, np.minimum(around_c, now.temperature_c))
        to_c = np.minimum(to_c, self.water_boils_c)
        losses = self._losses(setting.wetted_frac, setting.step.lid_state, now.temperature_c, to_c)
        return replace(setting, losses=losses)

    def _leg(self, now: Now, phase: PhaseName, outcome: Outcome, setting: Setting) -> Now:
        lasts = outcome.duration_s > 0.0
        mean_w = outcome.heat_j / np.where(lasts, outcome.duration_s, 1.0)
        element_w = np.maximum(mean_w - setting.pump_heat_w, 0.0)
        other_w = setting.pump_w + self.plan.vessel.standby_w
        leg = Leg(
            step=setting.step,
            phase=phase,
            start_s=now.time_s,
            from_c=now.temperature_c,
            outcome=outcome,
            element_w=element_w,
            board_w=element_w * setting.given.board_factor + other_w,
            heater_w_per_v2=setting.given.heater_w_per_v2 if (element_w > 0.0).any() else 0.0,
            by_line=setting.given.by_line,
            other_w=other_w,
            losses=setting.losses,
            before=now.contents,
        )
        self.legs.append(leg)
        after = Now(time_s=leg.end_s, temperature_c=outcome.end_c, contents=outcome.contents)
        return after if phase == "ramp" else self._followed(now, after, setting.step)


def has_extract_added(plan: Plan) -> bool:
    """Whether extract or sugar goes in: the vessel then begins with water, as with a mash."""
    return any(addition.kind in ("extract", "sugar") for step in plan.steps for addition in step.additions)
