"""A made-up year of a household with brew days in it, and its meter's export in six shapes."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

ZONE = ZoneInfo("Europe/Dublin")
QUARTER_S = 900.0


@dataclass
class Year:
    """Quarter-hours of a year, seconds of UTC, kWh; and the starts of its brew days [s of UTC]."""

    start_s: np.ndarray
    kwh: np.ndarray
    brews_s: list[float]


def household(rng, shape_kwh, brews=20, days=365):
    """Base load with a morning and an evening, a busier weekend, a season, noise, and brews of a shape per quarter."""
    first = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
    start_s = first + QUARTER_S * np.arange(days * 96)
    local = np.array([datetime.fromtimestamp(s, ZONE).hour for s in start_s[::4]]).repeat(4)
    weekday = np.array([datetime.fromtimestamp(s, ZONE).weekday() for s in start_s[::4]]).repeat(4)
    base = 0.06 + 0.10 * np.exp(-((local - 7.5) ** 2) / 4) + 0.18 * np.exp(-((local - 19) ** 2) / 8)
    base = base * np.where(weekday >= 5, 1.35, 1.0) * (1 + 0.25 * np.cos(2 * np.pi * (start_s - first) / (365 * 86400)))
    daily = np.repeat(rng.lognormal(0, 0.15, days), 96)
    kwh = base * daily * rng.lognormal(-0.02, 0.2, start_s.size) + (rng.random(start_s.size) < 0.01) * 0.4
    starts = []
    for day in sorted(rng.choice(np.arange(5, days - 5), brews, replace=False)):
        at = int(day) * 96 + int(rng.integers(32, 56))
        kwh[at : at + shape_kwh.size] += shape_kwh
        starts.append(float(start_s[at]))
    return Year(start_s, kwh, starts)


def _merged(year, quarters):
    """Longer intervals."""
    count = year.kwh.size // quarters
    return year.start_s[::quarters][:count], year.kwh[: count * quarters].reshape(count, quarters).sum(axis=1)


def exports(year):
    """Texts of six shapes by name: five CSVs and ESPI."""
    utc = [datetime.fromtimestamp(s, UTC) for s in year.start_s]
    local = [moment.astimezone(ZONE) for moment in utc]
    two = "\n".join(
        f"{a:%Y-%m-%dT%H:%M:%SZ},{a + timedelta(minutes=15):%Y-%m-%dT%H:%M:%SZ},{kwh:.4f}"
        for a, kwh in zip(utc, year.kwh, strict=True)
    )
    german = "\n".join(
        f"{a:%d.%m.%Y};{a:%H:%M};{kwh:.4f}".replace(".", ",").replace(",", ".", 2)
        for a, kwh in zip(local, year.kwh, strict=True)
    )
    start30, kwh30 = _merged(year, 2)
    ends = "\n".join(
        f"{datetime.fromtimestamp(s + 1800, ZONE).isoformat()},{1000 * kwh:.1f}"
        for s, kwh in zip(start30, kwh30, strict=True)
    )
    start60, kwh60 = _merged(year, 4)
    power = "\n".join(
        f"{datetime.fromtimestamp(s, ZONE):%d/%m/%Y %H:%M}\t{kwh:.4f}" for s, kwh in zip(start60, kwh60, strict=True)
    )
    running = 4711.0 + np.concatenate([[0.0], np.cumsum(year.kwh)])
    totals = "\n".join(
        f"{datetime.fromtimestamp(s, UTC):%Y-%m-%d %H:%M:%S},{total:.3f}"
        for s, total in zip([*year.start_s, year.start_s[-1] + QUARTER_S], running, strict=True)
    )
    readings = "".join(
        f"<IntervalReading><timePeriod><duration>900</duration><start>{int(s)}</start></timePeriod>"
        f"<value>{round(1e4 * kwh)}</value></IntervalReading>"
        for s, kwh in zip(year.start_s, year.kwh, strict=True)
    )
    espi = (
        '<?xml version="1.0"?><feed xmlns="http://www.w3.org/2005/Atom"><entry><content>'
        '<ReadingType xmlns="http://naesb.org/espi"><flowDirection>1</flowDirection>'
        "<powerOfTenMultiplier>-1</powerOfTenMultiplier><uom>72</uom></ReadingType></content></entry><entry><content>"
        f'<IntervalBlock xmlns="http://naesb.org/espi">{readings}</IntervalBlock></content></entry></feed>'
    )
    return {
        "two stamps": f"Account 12\n\nStart (UTC),End (UTC),Usage (kWh)\n{two}\n",
        "semicolons, decimal commas, local": f"Datum;Zeit;Verbrauch kWh\n{german}\n",
        "half hours by their end, Wh, offsets": f"Interval end,Consumption (Wh)\n{ends}\n",
        "hours, mean power": f"Time\tLoad kW\n{power}\n",
        "running total": f"Read at UTC,Meter reading kWh\n{totals}\n",
        "ESPI": espi,
    }
