"""The command that goes through what must hold before a vessel heats with nobody there."""

import json
import re

import pytest

from energyplan.advice.unattended import FACT_KEYS

START = ("--start", "2026-12-05T04:00")
ALL = tuple(part for key in FACT_KEYS if key != "limit" for part in ("--yes", key))
ENOUGH = (*ALL, "--limit", "3 kWh", "--element-top", "6 cm")


def test_it_refuses_until_every_fact_is_known(run):
    """Refused with the reasons, as an answer: exit 0; with --strict 1."""
    code, out, err = run("unattended", "demo", *START)
    assert (code, err) == (0, "")
    assert out.startswith("Refused: 9 of 14 facts")
    assert "unknown level" in out
    assert len(out.splitlines()) <= 40
    us = run("unattended", "demo", *START, "--units", "us")[1]
    assert not re.search(r"°C|degC|\d (L|kg|cm|mm|m|K)\b", us)
    assert run("unattended", "demo", "--strict", *START)[0] == 1


def test_with_every_fact_it_finds_no_objection_and_says_what_it_cannot_see(run):
    """Never "safe", and the better way stands there too."""
    code, out, _ = run("unattended", "demo", "--strict", *START, *ENOUGH)
    assert code == 0
    assert out.startswith("No objection found: all 14 facts hold, by your word and by the plan.")
    assert "Being there when it heats is the better way" in " ".join(out.split())
    assert "licensed electrician" in " ".join(out.split())
    assert "safe" not in out.lower()
    assert max(len(line) for line in out.splitlines()) <= 80


def test_the_document(run):
    """One document with the facts, their states and the stretch."""
    code, out, err = run("unattended", "demo", "--json", "--no", "valve", *START)
    document = json.loads(out)
    assert (code, err) == (0, "")
    assert document["result"] == "refuse"
    assert document["start"] == "2026-12-05T04:00:00Z"
    assert document["until"] > document["start"]
    states = {fact["fact"]: fact["state"] for fact in document["facts"]}
    assert states["valve"] == "no"
    assert states["water"] == "yes"
    assert set(document["reasons"]) == {key for key, state in states.items() if state != "yes"}
    assert document["energy_kwh"] == pytest.approx(2.1, abs=0.3)  # 27 L by 59 K: 1.85 kWh and the losses


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--yes", "everything"), "is no fact of the list"),
        (("--yes", "lid", "--no", "lid"), "answered yes and no"),
        (("--limit", "3"), "expected an energy"),
        (("--limit", "0 kWh"), "expected more than 0"),
        (("--element-top", "6"), "has no unit"),
        (("--element-top", "6 kg"), "no length"),
    ],
)
def test_bad_answers_end_in_one_message(run, arguments, said):
    """Exit 2, nothing on stdout, no traceback."""
    code, out, err = run("unattended", "demo", *START, *arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert "Traceback" not in err


def test_no_other_command_proposes_it(run):
    """Neither the savings nor the starts speak of heating with nobody there."""
    for command in (("savings", "demo", "--tariff", "demo"),
                    ("starts", "demo", "--tariff", "demo", "--from", "2026-12-05", "--to", "2026-12-06")):  # fmt: skip
        code, out, _ = run(*command)
        assert code == 0
        assert "nobody" not in out.lower()
        assert "overnight" not in out.lower()
