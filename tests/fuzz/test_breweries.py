"""Mutated plans with mutated breweries: refused in plain words, or brewed with a ledger that closes and written back.

`BREWERY_FILES=20000` goes through as many; the suite through a few.
"""

import os
import random
import re
from importlib.resources import files
from pathlib import Path

from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import EnergyPlanError
from energyplan.day.brewday import simulate
from energyplan.plan.file import PlanFiles, read_plan_files
from energyplan.plan.writing import write_plan

NUMBER = int(os.environ.get("BREWERY_FILES", "150"))
FOLDER = files("energyplan") / "demo"
DAYS = [(FOLDER / f"{name}.toml").read_text(encoding="utf-8") for name in ("demo", "pale-ale", "sour")]
BREWERY = (FOLDER / "demo-brewery.toml").read_text(encoding="utf-8")
BITS = [
    '"\\u001b[31m"', "1e999", "nan", "[[step]]", "[vessel]", 'uses = "x.toml"', '"5 kg"', '"1,500 W"', "-1", '""', "[]",
    "{}", '"add grain: 3 kg"', "true", "\x00", "é", "= =", '"\u202e"', 'chill_to = "20 degC"', 'hold = "40 d"',
    '[[brewed]]\nplan = "a"\ndate = 2026-01-01\nreadings = { "a" = "1 kWh" }',
]  # fmt: skip
JOULES_PER_KWH = 3.6e6


def mutated(text: str, draw: random.Random) -> str:
    """A text with a few things cut, put in, doubled, or replaced."""
    for _ in range(draw.randint(1, 4)):
        lines, place = text.split("\n"), draw.randrange(len(text))
        until = min(len(text), place + draw.randint(1, 40))
        values = list(re.finditer(r'= (".*?"|[\d.]+|true|\[.*\])', text))
        value = draw.choice(values) if values else None
        text = draw.choice([
            text[:place] + text[until:],
            text[:place] + draw.choice(BITS) + text[place:],
            text[:place] + text[place:until] + text[place:],
            "\n".join(lines[: (cut := draw.randrange(len(lines)))] + lines[cut + 1 :]),
            "\n".join([*lines[:cut], draw.choice(lines), *lines[cut:]]),
            text if value is None else text[: value.start()] + "= " + draw.choice(BITS) + text[value.end() :],
            re.sub(r"\d+", lambda n: draw.choice("0179") + "00" if draw.random() < 0.03 else n[0], text),
        ]) or " "  # fmt: skip
    return text


def test_mutated_files_are_refused_in_plain_words_or_go_through(tmp_path: Path) -> None:
    """No traceback, no character that is obeyed, no part that doesn't add up, no change that is lost."""
    draw, plan, brewery = random.Random(7), tmp_path / "a.toml", tmp_path / "b.toml"  # noqa: S311 - no secret
    read, said = 0, [""]
    for _ in range(NUMBER):
        own = draw.choice(DAYS).replace("demo-brewery", "b")
        plan.write_text(mutated(own, draw) if draw.random() < 0.7 else own, encoding="utf-8")
        brewery.write_text(mutated(BREWERY, draw) if draw.random() < 0.6 else BREWERY, encoding="utf-8")
        try:
            found = read_plan_files(plan)
            read += 1
            goes_through(found, plan, draw)
        except EnergyPlanError as error:
            said.append(str(error))
    obeyed = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]")
    assert not [text for text in said if obeyed.search(text)]
    assert read > NUMBER / 20


def goes_through(found: PlanFiles, plan: Path, draw: random.Random) -> None:
    """What reads well is written back as it was changed, and closes its ledger."""
    if draw.random() < 0.3:
        after = with_hold_caps(found.plan, {found.plan.steps[0].name: 512.0})
        write_plan(found, after)
        assert read_plan_files(plan).plan == after
    if draw.random() < 0.3:
        day = simulate(found.plan)
        assert day.balance_error < 1e-6
        parts_kwh = sum(phase.energy_j for phase in day.phases) / JOULES_PER_KWH
        assert abs(parts_kwh + sum(other.energy_kwh for other in day.profiles[1:]) - day.energy_kwh) < 1e-6
