"""Why a log can't tell something, which test would, and how a measured loss compares."""

from collections.abc import Collection

from energyplan.learning.bins import Bins
from energyplan.learning.elements import likely_on
from energyplan.learning.logfile import Log
from energyplan.learning.readings import Remark
from energyplan.learning.result import Measured, Test
from energyplan.learning.setting import Setting

__all__ = ["ODD", "compared_loss", "interval_noted", "loss_unclear", "next_tests", "nothing_found", "weak_power"]

ENOUGH_FRAC = 0.1  # half width of a loss that is good enough to plan with
ODD = (0.5, 2.0)  # times the estimate: beyond, something else than the vessel was measured [assumption]


def compared_loss(factor: float, loss: Measured, reference_c: float, setting: Setting) -> Remark:
    """How a loss compares with the one so far: one verdict, and the question that an odd one raises."""
    code = "loss rough" if loss.half_width_frac > ENOUGH_FRAC else "loss enough"
    if not ODD[0] <= factor <= ODD[1]:
        code = "loss odd, high" if factor > 1 else "loss odd, low"
    against = "estimated" if setting.plan.vessel.heat_loss_w_per_k is None else "measured"
    return Remark(code, reference_c=reference_c, factor=factor, against=against)


def interval_noted(bins: Bins) -> tuple[Remark, ...]:
    """How seldom a log was read, if it was."""
    return (Remark("read every", interval_min=bins.interval_s / 60),) if bins.is_coarse else ()


def loss_unclear(kinds: Collection[str], half_frac: float) -> Remark:
    """Why the heat loss can't be told from stretches of these kinds."""
    if "cooling" in kinds:
        return Remark("loss scatters", half_frac=half_frac)
    return Remark("loss beside stored heat" if "metered" in kinds else "loss beside power", half_frac=half_frac)


def weak_power(found_w: float, setting: Setting) -> Remark:
    """Why a power is none of all elements: it is too little, and what would give it."""
    alone_w = likely_on(found_w, setting)
    if alone_w:
        return Remark("weak power, some alone", found_w=found_w, planned_w=setting.full_w, alone_w=alone_w)
    return Remark("weak power", found_w=found_w, planned_w=setting.full_w)


def next_tests(loss: Measured, stored: Measured, power: Measured) -> tuple[Test, ...]:
    """Tests that would tell what is still open."""
    tests: list[Test] = []
    if not loss.known or loss.half_width_frac > ENOUGH_FRAC:
        tests.append("cool-down")
    if not stored.known:
        tests.append("heat-up")
    elif not power.known:
        tests.append("plain heat-up")
    return tuple(tests)


def nothing_found(log: Log) -> Remark:
    """No stretch of a log tells anything: over which temperatures and minutes."""
    low_c, high_c = float(log.temperature_c.min()), float(log.temperature_c.max())
    return Remark("nothing found", low_c=low_c, high_c=high_c, lasted_min=log.duration_s / 60)
