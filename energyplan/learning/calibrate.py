"""Log and plan -> what the vessel really loses, stores and gives."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.learning.bins import Bins, binned, noise_k
from energyplan.learning.fit import (
    Curve,
    FitResult,
    compared_loss,
    fit_factors,
    interval_noted,
    loss_unclear,
    metered_power,
    next_tests,
    nothing_found,
    other_power,
)
from energyplan.learning.logfile import Log
from energyplan.learning.model import AIR_SD_K, METER_SD_FRAC, FactorName, Setting, Stage, Supply, with_filling
from energyplan.learning.readings import Remark
from energyplan.learning.result import ODD, Calibration, Measured, Residuals, Stretch
from energyplan.learning.segmentation import straighter
from energyplan.learning.spans import SETTLING_S, Found, Span, find_spans
from energyplan.plan.model import Plan

__all__ = ["calibrate"]

FloatArray = NDArray[np.float64]
Scale = Literal["volume", "meter"]

# Half widths of the 95 % interval (as shares) above which a log is said not to tell a value [assumptions].
LOSS_TELLS, LOSS_TELLS_HEATING, SCALE_TELLS, SURFACE_TELLS = 0.30, 0.20, 0.12, 0.40
# Weak priors that keep a fit near the model where the log says nothing [assumptions]; half a power of e for the loss.
WEAK: dict[FactorName, float] = {"loss": 0.6, "stored_heat": 0.5, "power": 0.5, "open_surface": 0.7}
# The loss of a closed vessel grows with a power of the temperature difference: 1 (a good jacket) to 1.25 (a bare wall).
# A log hardly shows which, so all are as likely [assumption]: sd half the span over the root of three.
LINEAR, BARE, HALF_SPAN_SD = 1.0, 1.25, 3**-0.5
# Of a loss from geometry: where only an open vessel was seen; where it only corrects the power of a heat-up.
ESTIMATE_SD_FRAC, UNSEEN_SD_FRAC = 0.25, 0.4
PULSED_FRAC = 0.3  # of what the elements should give: less tells pulses
STORED_NEAR = 0.04  # of stored heat, beside what was entered
SUSPECT_LOSS = 1.5  # a loss, in times the planned, that raises the question whether the lid was on


def calibrate(
    log: Log,
    plan: Plan,
    *,
    water_l: float | None = None,
    air_c: float | None = None,
    air_within_k: float | None = None,
) -> Calibration:
    """Learn a vessel's heat loss, stored heat and element power from a log.

    Parameters
    ----------
    log : Log
        A cool-down (elements off), a heat-up at full power, or a whole brew day, with or without a meter.
    plan : Plan
        The vessel as far as it is known, what is in it, and the place.
    water_l, air_c : float, optional
        Water in the vessel [L] (then no grain) and air [°C] during the test, where they differ from the plan's.
    air_within_k : float, optional
        How far the air may be from that, on nineteen days of twenty [K]; left out, 2.

    Returns
    -------
    Calibration
        Values with 95 % intervals; where the log can't tell one, why, and which test would.

    Notes
    -----
    C dT/dt = P - L(T), least squares over the model of the brew day with factors on loss L, stored heat C, power P and
    the open surface. Temperatures alone tell only L/C and P/C. With the elements metered the meter pins the scale and
    C is found; without, the water as entered does and P is found. Only near mash temperature (42 to 80 °C) is a
    cool-down used: hotter, vapour escapes. The interval holds the scatter of the readings (minding that neighbours
    hang together), the meter's steps or the time between its readings, what is left open by what pins the scale (3 %
    for the water and 20 % for the vessel's stored heat, or 1 % for the meter), and air and thermometer read wrongly
    (2 K and 1 K). A thermometer that lags shows the same curve later, which tells the same loss.
    """
    plan = with_filling(plan, water_l, air_c)
    bins = binned(log)
    scatter_k = noise_k(bins, log.resolution_k)
    air_sd_k = AIR_SD_K if air_within_k is None else air_within_k / 1.96
    setting = Setting(plan=plan, scatter_k=scatter_k, resolution_k=log.resolution_k, air_sd_k=air_sd_k)
    found = find_spans(bins, setting, log)
    if not found.spans:
        return _nothing(log, bins, found)
    return _Calibrating(log, setting, found, bins).result()


@dataclass(slots=True)
class _Fitted:
    result: FitResult
    scale: Scale
    pin_sd_frac: float
    stored_told: bool


class _Calibrating:
    """One calibration: what it starts from, and the fit that its parts share."""

    def __init__(self, log: Log, setting: Setting, found: Found, bins: Bins) -> None:
        self.log, self.setting, self.found, self.bins = log, setting, found, bins
        self.spans = found.spans
        self.kinds = {span.kind for span in self.spans}
        self.lids = {span.lid for span in self.spans}
        self.curves = tuple(_curve(span, setting, self.reference_c) for span in self.spans)
        self.notes: list[Remark] = [*interval_noted(bins), *log.notes, *found.notes]
        self.fitted = self._fit()

    # The fit ---------------------------------------------------------------------------------------------

    def _free(self) -> list[FactorName]:
        free: list[FactorName] = ["loss", "bend", "apart"]
        if "metered" in self.kinds:
            free.append("stored_heat")
        elif "heating" in self.kinds:
            free.append("power")
        if self.lids - {"on"}:
            free.append("open_surface")
        return free

    def _fit(self) -> _Fitted:
        free = self._free()
        priors = {name: (0.0, sd) for name, sd in WEAK.items() if name in free}
        priors["apart"] = (0.0, self.setting.apart_sd_k)
        half = (max(self.setting.loss_exponent, BARE) - LINEAR) / 2
        priors["bend"] = (LINEAR + half - self.setting.loss_exponent, HALF_SPAN_SD * half)
        if "on" not in self.lids:
            priors["loss"] = (0.0, ESTIMATE_SD_FRAC)
        elif self.kinds == {"heating"}:
            priors["loss"] = (0.0, UNSEEN_SD_FRAC)
        volume_sd = max(self.setting.pin_sd_frac(span.stage) for span in self.spans)
        result = fit_factors(self.curves, free, priors, self.setting.scatter_k)
        if "metered" not in self.kinds:
            return _Fitted(result, "volume", volume_sd, stored_told=False)
        told = result.half_width("stored_heat") <= SCALE_TELLS
        if not told:
            result = fit_factors(self.curves, free, {**priors, "stored_heat": (0.0, volume_sd)}, self.setting.scatter_k)
        return _Fitted(result, "meter", METER_SD_FRAC, stored_told=told)

    # What it tells ---------------------------------------------------------------------------------------

    def result(self) -> Calibration:
        loss, stored = self._loss(), self._stored_heat()
        power, power_frac = self._power()
        residuals = _residuals(self.spans, self.fitted.result)
        self._remarks(loss)
        return Calibration(
            heat_loss_w_per_k=loss,
            stored_heat_j_per_k=stored,
            vessel_heat_j_per_k=self._vessel_heat(stored),
            element_power_w=power,
            open_surface_factor=self._open_surface(),
            element_frac=power_frac,
            reference_c=self.reference_c,
            rmse_k=_rmse_k(self.log, residuals),
            scale=self.fitted.scale,
            stretches=tuple(_stretch(span) for span in self.spans),
            residuals=residuals,
            notes=tuple(dict.fromkeys(self.notes)),
            interval_min=self.bins.interval_s / 60,
            next_tests=next_tests(loss, stored, power),
            filled_l=self.setting.filled_l(self.reference_c),
        )

    @property
    def reference_c(self) -> float:
        """Mean temperature of the closed stretches (of all, if none is), weighted by the loss [°C]."""
        spans = [span for span in self.spans if span.lid == "on"] or list(self.spans)
        weights, weighted = 0.0, 0.0
        for span in spans:
            at_c, times_s = span.bins.temperature_c, span.bins.times_s
            loss_w = np.maximum(self.setting.vessel("on", span.stage).closed_loss_w(at_c), 0.0)
            weights += float(np.trapezoid(loss_w, times_s))
            weighted += float(np.trapezoid(loss_w * at_c, times_s))
        return weighted / weights if weights > 0 else float(spans[0].bins.temperature_c.mean())

    def _meter_sd_j(self) -> float:
        """What the meter's steps, or the time between its readings, leave open over all metered stretches [J]."""
        metered = [span for span in self.spans if span.kind == "metered"]
        if self.log.energy_kwh is not None:
            return _count_j(self.log) * float(np.sqrt(len(metered) / 6))
        if self.log.power_w is None:
            return 0.0
        # A switch falls anywhere between two readings: a uniform error of the step times the interval.
        steps_j = np.nan_to_num(np.diff(self.log.power_w)) * np.diff(self.log.times_s)
        inside = np.zeros(steps_j.size, dtype=np.bool_)
        for span in metered:
            inside |= (self.log.times_s[1:] >= span.bins.times_s[0]) & (self.log.times_s[:-1] <= span.bins.times_s[-1])
        return float(np.sqrt(np.sum(steps_j[inside] ** 2) / 12))

    def _lost_j(self) -> float:
        """Heat lost in the stretches, as modelled with factor 1 [J]."""
        curves = ((span.bins, self.setting.vessel(span.lid, span.stage)) for span in self.spans)
        return sum(float(np.trapezoid(np.abs(v.loss_w(b.temperature_c)), b.times_s)) for b, v in curves)

    def _stored_j(self) -> float:
        """Heat stored in the metered stretches, as planned [J]."""
        return sum(abs(span.drop_k) for span in self.spans if span.kind == "metered") * self.setting.capacity_j_per_k

    def _loss(self) -> Measured:
        result = self.fitted.result
        pin = float(np.hypot(self.fitted.pin_sd_frac, self._meter_sd_j() / self._lost_j()))
        if "on" not in self.lids:
            return Measured(why=Remark("lid was off"))
        if self._cooled_open():
            return Measured(why=Remark("cooled open"))
        half = result.half_width("loss", pin)
        if half > (LOSS_TELLS if "cooling" in self.kinds else LOSS_TELLS_HEATING):
            return Measured(why=loss_unclear(self.kinds, half))
        at_c = np.array([self.reference_c])
        loss_w = float(self.setting.vessel("on", "water").closed_loss_w(at_c)[0])
        return _scaled(result.interval("loss", pin), loss_w / (self.reference_c - self.setting.air_c))

    def _cooled_open(self) -> bool:
        """Whether an unnamed lid may have been off: much is lost, and the loss bends as an open surface's does."""
        if (self.bins.lid >= 0).any() or self.fitted.result.factors["loss"] <= SUSPECT_LOSS:
            return False
        return any(self._bends(span) for span in self.spans if span.kind == "cooling")

    def _bends(self, span: Span) -> bool:
        """Against a closed vessel of bare wall: a headspace may bend as much, but not lose so much."""
        opened, shut = (self.setting.vessel(lid, span.stage) for lid in ("off", "on"))
        settled = np.flatnonzero(span.whole.times_s >= span.whole.times_s[0] + SETTLING_S)
        closed = replace(shut, closed_w=np.maximum(shut.grid_c - self.setting.air_c, 0.0) ** BARE)
        return straighter(span.whole.part(settled), closed, opened)

    def _stored_heat(self) -> Measured:
        if "metered" not in self.kinds:
            water_l = self.setting.plan.batch.water_l
            return Measured(
                why=Remark("stored unclear", water_l=water_l, planned_j_per_k=self.setting.capacity_j_per_k)
            )
        also_sd = float(np.hypot(METER_SD_FRAC, self._meter_sd_j() / max(self._stored_j(), 1.0)))
        if not self.fitted.stored_told or also_sd > SCALE_TELLS:
            return Measured(why=Remark("stored too short"))
        return _scaled(self.fitted.result.interval("stored_heat", also_sd), self._planned_stored_j_per_k())

    def _planned_stored_j_per_k(self) -> float:
        """Stored heat as planned in what was fitted first: the water, or the mash if only that was [J/K]."""
        stage: Stage = "water" if any(span.stage == "water" for span in self.spans) else "mash"
        vessel = self.setting.vessel("on", stage)
        return float(vessel.capacity_j_per_k(np.array([self.reference_c]))[0])

    def _vessel_heat(self, stored: Measured) -> Measured:
        if stored.value is None or stored.low is None or stored.high is None:
            return Measured(why=stored.why)
        own_j = self.setting.plan.vessel.own_heat_j_per_k
        contents_j = self._planned_stored_j_per_k() - own_j
        value_j = stored.value - contents_j
        half_j = float(np.hypot((stored.high - stored.low) / 2, 0.01 * contents_j))
        if value_j - half_j <= 0 or half_j > value_j:
            why = Remark("vessel unclear", stored_j_per_k=stored.value, contents_j_per_k=contents_j)
            return Measured(why=why)
        return Measured(value=value_j, low=value_j - half_j, high=value_j + half_j)

    def _power(self) -> tuple[Measured, float | None]:
        planned_w = self.setting.full_w
        if self.fitted.scale == "meter":
            found = metered_power(self.bins, self.setting, _count_j(self.log))
            if found is None or (found.value or 0.0) < PULSED_FRAC * planned_w:
                return Measured(why=Remark("never full")), None
        elif "heating" in self.kinds:
            half = self.fitted.result.half_width("power", self.fitted.pin_sd_frac)
            if half > SCALE_TELLS:
                return Measured(why=Remark("power unclear", half_frac=half)), None
            found = _scaled(self.fitted.result.interval("power", self.fitted.pin_sd_frac), planned_w)
        else:
            return Measured(why=Remark("elements off")), None
        found_w = float(found.value or 0.0)
        other = other_power(found_w, self.setting)
        return (found, found_w / planned_w) if other is None else (Measured(why=other), None)

    def _open_surface(self) -> Measured:
        if not self.lids - {"on"}:
            return Measured(why=Remark("no open"))
        if self.fitted.result.half_width("open_surface", self.fitted.pin_sd_frac) > SURFACE_TELLS:
            return Measured(why=Remark("open unclear"))
        return _scaled(self.fitted.result.interval("open_surface", self.fitted.pin_sd_frac), 1.0)

    def _remarks(self, loss: Measured) -> None:
        factors, apart_k = self.fitted.result.factors, max(self.reference_c - self.setting.air_c, 1.0)
        if self.fitted.scale == "meter":
            self.notes.append(Remark("scale by meter"))
        else:
            self.notes.append(Remark("scale by water", water_l=self.setting.plan.batch.water_l))
        if loss.known:
            self.notes.append(compared_loss(factors["loss"], loss, self.reference_c, self.setting))
            self.notes.append(Remark("air as entered", air_c=self.setting.air_c, warmer_k=1.0, more_frac=1 / apart_k))
        if self.fitted.scale == "meter" and self.fitted.stored_told and abs(factors["stored_heat"] - 1) > STORED_NEAR:
            more_frac = factors["stored_heat"] - 1
            code = "stored more" if more_frac > 0 else "stored less"
            self.notes.append(Remark(code, more_frac=abs(more_frac)))
        if self.bins.used_j is None and "cooling" in self.kinds:
            self.notes.append(Remark("taken as off"))
            if loss.known and self.setting.pump_heat_w > 0:
                self.notes.append(Remark("pump as running", less_w_per_k=self.setting.pump_heat_w / apart_k))
        if "open_surface" in factors and not ODD[0] <= factors["open_surface"] <= ODD[1]:
            self.notes.append(Remark("open surface odd", factor=factors["open_surface"]))


def _curve(span: Span, setting: Setting, reference_c: float) -> Curve:
    """A span as a curve to fit, with the heat that goes in."""
    count = span.bins.times_s.size - 1
    element_w, pump_w = np.zeros(count), np.full(count, setting.pump_heat_w)
    if span.kind == "heating":
        element_w = np.full(count, setting.full_w)
    if span.bins.used_j is not None:
        # The pump is on or off for the whole stretch; single minutes of a meter that counts in steps don't tell.
        vessel, meter_w = setting.plan.vessel, span.bins.mean_power_w()
        mean_w = float(span.bins.used_j[-1] - span.bins.used_j[0]) / span.duration_s
        beside_w = float(np.clip(mean_w - vessel.standby_w, 0.0, vessel.pump_w))
        pump_w = np.full(count, vessel.pump_heat * beside_w)
        if span.kind == "metered":
            element_w = meter_w - beside_w - vessel.standby_w
    return Curve(
        times_s=span.bins.times_s,
        temperature_c=span.bins.temperature_c,
        readings=span.bins.readings,
        supply=Supply(element_w=element_w, pump_w=pump_w),
        vessel=setting.vessel(span.lid, span.stage).bent_at(reference_c, setting.air_c),
    )


def _count_j(log: Log) -> float:
    """Step of the meter's running total [J]; 0 without one."""
    if log.energy_kwh is None:
        return 0.0
    totals = np.unique(np.round(log.energy_kwh[~np.isnan(log.energy_kwh)], 6))
    return float(np.diff(totals).min()) * JOULES_PER_KWH if totals.size > 1 else 0.0


def _scaled(interval: tuple[float, float, float], unit: float) -> Measured:
    value, low, high = interval
    return Measured(value=value * unit, low=low * unit, high=high * unit)


def _stretch(span: Span) -> Stretch:
    bins = span.bins
    return Stretch(
        kind=span.kind,
        start_s=float(bins.times_s[0]),
        end_s=float(bins.times_s[-1]),
        from_c=float(bins.temperature_c[0]),
        to_c=float(bins.temperature_c[-1]),
        lid=span.lid,
        stage=span.stage,
    )


def _residuals(spans: Sequence[Span], result: FitResult) -> Residuals:
    return Residuals(
        times_s=np.concatenate([span.bins.times_s for span in spans]),
        measured_c=np.concatenate([span.bins.temperature_c for span in spans]),
        fitted_c=np.concatenate(result.fitted_c),
        stretch=np.concatenate([np.full(span.bins.times_s.size, place) for place, span in enumerate(spans)]),
    )


def _rmse_k(log: Log, residuals: Residuals) -> float:
    """Root mean square over all single readings between the first and the last bin of each stretch [K]."""
    squares, count = 0.0, 0
    for place in np.unique(residuals.stretch):
        own = residuals.stretch == place
        times_s, fitted_c = residuals.times_s[own], residuals.fitted_c[own]
        inside = (log.times_s >= times_s[0]) & (log.times_s <= times_s[-1])
        left = log.temperature_c[inside] - np.interp(log.times_s[inside], times_s, fitted_c)
        squares, count = squares + float(left @ left), count + int(inside.sum())
    return float(np.sqrt(squares / count))


def _nothing(log: Log, bins: Bins, found: Found) -> Calibration:
    """Say that nothing could be learnt, and why."""
    none, other = Measured(why=found.no_loss or nothing_found(log)), Measured(why=Remark("nothing fitted"))
    empty = np.zeros(0)
    return Calibration(
        heat_loss_w_per_k=none,
        stored_heat_j_per_k=other,
        vessel_heat_j_per_k=other,
        element_power_w=other,
        open_surface_factor=Measured(why=Remark("no open")),
        element_frac=None,
        reference_c=None,
        rmse_k=None,
        scale="none",
        stretches=(),
        residuals=Residuals(times_s=empty, measured_c=empty, fitted_c=empty, stretch=empty.astype(np.int64)),
        notes=(*interval_noted(bins), *log.notes, *found.notes),
        interval_min=bins.interval_s / 60,
        next_tests=next_tests(none, none, none),
    )
