"""The page for the electrician as plain texts, ready to be set."""

from typing import Any

from energyplan.base.kinds import Style
from energyplan.base.sentence import Sentence, words
from energyplan.faces.cells import heading, shown_rows
from energyplan.telling.findings import finding_name
from energyplan.telling.told import Found, Table, Told

__all__ = ["STATUS", "electrician_texts"]

Document = dict[str, Any]
STATUS = "Not a design. To be verified by a licensed electrician under the local code."


def electrician_texts(told: Told, style: Style) -> Document:
    """Texts of both sides.

    Parameters
    ----------
    told : Told
        As `energyplan.telling.electrician.tell_electrician` tells it.
    style : Style
        Units, and what makes a person's text harmless on paper.
    """
    overleaf = told.parts[0]
    verdict, lines = told.sentences
    return {
        "title": words(told.title, style) if isinstance(told.title, Sentence) else told.title,
        "when": words(told.facts["when"], style),
        "status": STATUS,
        "severity": told.facts["severity"],
        "request": words(told.headline, style) if told.headline else "",
        "verdict": words(verdict, style),
        "lines": words(lines, style),
        "loads": _table(told.table("loads"), style),
        "required": _table(told.table("required"), style),
        "told": _told_once([_finding(found, style) for found in told.findings]),
        "sized": [words(one, style) for one in overleaf.sentences],
        "fine": [_finding(found, style) for found in overleaf.findings],
        "questions": [words(one, style) for one in overleaf.parts[0].sentences],
        "cautions": [words(one, style) for one in overleaf.cautions],
    }


def _table(table: Table, style: Style) -> Document:
    rows, _ = shown_rows(table, style)
    return {"title": table.title, "head": [heading(one, style, short=True) for one in table.columns], "rows": rows}


def _finding(found: Found, style: Style) -> Document:
    return {
        "severity": found.severity,
        "name": finding_name(found.code),
        "message": words(found.said, style),
        "rule": found.rule or "",
        "mend": words(found.mend, style) if found.mend else "",
        "used": "" if found.margin_frac is None else _used(found.margin_frac),
    }


def _told_once(findings: list[Document]) -> list[Document]:
    """Findings of which a mend that one before them has is not printed again."""
    before: dict[str, str] = {}
    for found in findings:
        mend = found["mend"]
        if mend and mend in before:
            found["mend"] = f"as of {before[mend]}."
        elif mend:
            before[mend] = found["name"]
    return findings


def _used(margin_frac: float) -> str:
    """How much of a rating is used: never a negative margin."""
    return f"{1 - margin_frac:.0%} used" if margin_frac >= 0 else f"{1 - margin_frac:.1f} times"
