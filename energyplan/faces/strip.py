"""The day as a strip of text: phases on one line, prices below, the clock under both, and what each mark means."""

from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.sentence import words
from energyplan.faces.charts.palette import PHASE_COLOURS
from energyplan.telling.told import Table, Told, cell

__all__ = ["Strip"]

MOST_WIDE, LEAST_WIDE = 76, 20
PHASES = ("ramp", "hold", "boil", "pause", "chill")
MARKS, ASCII_MARKS = "▲■●·▼", "/=o.v"
SHADES, ASCII_SHADES = "▁▂▃▄▅▆▇█", "12345678"


@dataclass(frozen=True, slots=True)
class Strip:
    """A picture of the day (`energyplan.telling.picture.strip_told`) in marks; in ASCII where there are no others."""

    told: Told
    style: Style = PLAIN

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        wide = max(min(MOST_WIDE, options.max_width), LEAST_WIDE)
        first_s, last_s = (self.told.facts[key].raw for key in ("first_s", "last_s"))
        seconds = [first_s + (place + 0.5) / wide * (last_s - first_s) for place in range(wide)]
        plain = options.ascii_only
        marks = dict(zip(PHASES, ASCII_MARKS if plain else MARKS, strict=True))
        yield _phases(self.told.table("vessel"), seconds, marks)
        shades = _shades(len(self.told.table("levels").rows), ASCII_SHADES if plain else SHADES)
        if shades:
            yield _prices(self.told.table("prices"), seconds, shades)
        yield _hours(self.told.table("hours"), wide, first_s, last_s)
        yield Text("  ".join([*self._named_marks(marks), *self._named_shades(shades)]), style="dim")

    def _named_marks(self, marks: dict[str, str]) -> Iterator[str]:
        there = {row["phase"] for row in self.told.table("vessel")}
        return (f"{marks[phase]} {phase}" for phase in PHASES if phase in there)

    def _named_shades(self, shades: str) -> Iterator[str]:
        """Every shade with its price, the unit once."""
        table = self.told.table("levels")
        names = [words(found, self.style) for row in table.rows if (found := cell(table.columns[1], row[1]))]
        for place, (shade, name) in enumerate(zip(shades, names, strict=True)):
            number, _, unit = name.rpartition(" ")
            yield f"{shade} {name}" if place == len(names) - 1 else f"{shade} {number.replace(f' {unit}', '')}"


def _shades(levels: int, of: str) -> str:
    """So many shades, from the lowest to the highest, apart from each other."""
    steps = max(levels - 1, 1)
    return "".join(of[round(place * (len(of) - 1) / steps)] for place in range(levels))


def _phases(table: Table, seconds: Sequence[float], marks: dict[str, str]) -> Text:
    bar, rows = Text(), list(table)
    there = [next((row["phase"] for row in rows if row["start_s"] <= at_s < row["end_s"]), "") for at_s in seconds]
    for phase, same in groupby(there):
        bar.append(marks.get(phase, " ") * len(list(same)), style=PHASE_COLOURS.get(phase, ""))
    return bar


def _prices(table: Table, seconds: Sequence[float], shades: str) -> Text:
    rows = list(table)
    levels = [next((row["level"] for row in rows if row["start_s"] <= at_s < row["end_s"]), None) for at_s in seconds]
    return Text("".join(" " if level is None else shades[level] for level in levels), style="#7C8A80")


def _hours(table: Table, wide: int, first_s: float, last_s: float) -> Text:
    """Full hours of the local clock, each written from its place on."""
    cells, free = [" "] * wide, 0
    for row in table:
        place, label = int((row["time_s"] - first_s) / (last_s - first_s) * wide), row["clock"].raw
        if free <= place <= wide - len(label):
            cells[place : place + len(label)] = label
            free = place + len(label) + 1
    return Text("".join(cells).rstrip(), style="dim")
