"""What a visitor's browser keeps, as texts: the day on the desk, its prices, the hours, the days in the drawer."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from functools import lru_cache
from typing import Any

from energyplan.app.answers import TariffText
from energyplan.app.state import Day, Lying, Work
from energyplan.base.errors import EnergyPlanError
from energyplan.plan.file import parse_plan, plan_to_toml

__all__ = ["day_read", "day_text", "kept_texts", "work_kept"]

SCHEMA = 2
DESK, PRICES, DRAWER = "desk", "prices", "day."


def kept_texts(work: Work, address: Mapping[str, str]) -> dict[str, str | None]:
    """Texts to keep, by name; ``address`` is that of the desk, so that a reload is told from somebody's link."""
    lying = work.lying
    desk = {
        "schema": SCHEMA, "day": _day(lying.day), "units": work.units,
        "greeted": work.greeted, "borrowed": work.borrowed, "address": dict(address),
    }  # fmt: skip
    return {
        DESK: json.dumps(desk),
        PRICES: _tariff_text(lying.day.tariff),
        **{f"{DRAWER}{name}": day_text(day) for name, day in lying.drawer},
    }


def work_kept(texts: Mapping[str, str]) -> tuple[Work, dict[str, str]] | None:
    """The work that texts keep, and the address that it had; None where there is none.

    Raises
    ------
    ValueError
        If they were written by another version, or are broken.
    """
    if DESK not in texts:
        return None
    try:
        desk = json.loads(texts[DESK])
        if desk["schema"] != SCHEMA:
            raise ValueError(desk["schema"])
        tariff = _tariff_read(json.loads(texts[PRICES])) if PRICES in texts else None
        lying = Lying(
            day=_day_read(desk["day"], tariff),
            drawer=tuple(sorted(_drawer(texts).items())),
        )
        work = Work(
            lying=lying, base=lying.day.plan, opened=lying.day.plan, units="us" if desk["units"] == "us" else "metric",
            greeted=bool(desk["greeted"]), borrowed=tuple(map(str, desk["borrowed"])),
        )  # fmt: skip
        return work, {str(key): str(value) for key, value in desk["address"].items()}
    except (EnergyPlanError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(str(error)) from error


def _drawer(texts: Mapping[str, str]) -> dict[str, Day]:
    """Days in the drawer; one that can't be read is left where it is and not shown."""
    found = {}
    for key, text in texts.items():
        if key.startswith(DRAWER):
            try:
                found[key.removeprefix(DRAWER)] = day_read(text)
            except ValueError:
                continue
    return found


@lru_cache(maxsize=64)
def day_text(day: Day) -> str:
    """A day with its prices as one text."""
    return json.dumps({"schema": SCHEMA, "day": _day(day), "prices": _tariff(day.tariff)})


def day_read(text: str) -> Day:
    """The day that a text keeps.

    Raises
    ------
    ValueError
        If it keeps none.
    """
    try:
        found = json.loads(text)
        return _day_read(found["day"], _tariff_read(found["prices"]))
    except (EnergyPlanError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(str(error)) from error


@lru_cache(maxsize=64)
def _day(day: Day) -> dict[str, Any]:
    return {
        "plan": plan_to_toml(day.plan), "entered": sorted(day.entered),
        "file_name": day.file_name, "wall": day.wall.isoformat(),
    }  # fmt: skip


def _day_read(found: Any, tariff: TariffText | None) -> Day:
    return Day(
        plan=parse_plan(found["plan"], source="kept"),
        entered=frozenset(tuple(map(str, path)) for path in found["entered"]),
        file_name=str(found["file_name"]),
        wall=datetime.fromisoformat(found["wall"]).replace(tzinfo=None),
        tariff=tariff,
    )


@lru_cache(maxsize=16)
def _tariff_text(tariff: TariffText | None) -> str:
    return json.dumps(_tariff(tariff))


def _tariff(tariff: TariffText | None) -> dict[str, Any] | None:
    return None if tariff is None else asdict(tariff)


def _tariff_read(found: Any) -> TariffText | None:
    if found is None:
        return None
    return TariffText(
        name=str(found["name"]), text=str(found["text"]), is_packaged=bool(found["is_packaged"]),
        series=tuple((str(name), str(text)) for name, text in found["series"]),
    )  # fmt: skip
