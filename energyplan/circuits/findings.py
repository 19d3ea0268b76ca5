"""What a judgement is: a code, how grave, the numbers it rests on, the rule behind it, and what would mend it."""

from collections.abc import Mapping
from dataclasses import field
from typing import Any, Literal

from energyplan.base.records import dataclass
from energyplan.circuits.ratings import NAMEPLATE_SLACK_FRAC, RULES

__all__ = ["Facts", "Finding", "LoadCase", "Remedy", "Severity", "finding", "severity_of", "worst_of"]

Severity = Literal["ok", "note", "unknown", "over"]
Facts = Mapping[str, Any]
_ORDER: tuple[Severity, ...] = ("ok", "note", "unknown", "over")


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """Something that would mend a finding: what, and its numbers."""

    code: str
    facts: Facts = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One judgement; `energyplan.telling.findings` puts it into words.

    ``code`` is a short plain name and ``case`` which of its sentences applies; ``facts`` are numbers (their names end
    in their unit), names and nothing else; ``rule`` is an entry of `RULES`; ``margin_frac`` the share of the rating
    that is left at the voltage entered (negative: passed; None: nothing to measure, or not known); ``remedies`` what
    would mend it, any one of them.
    """

    code: str
    severity: Severity
    case: str
    rule: str
    facts: Facts = field(default_factory=dict)
    margin_frac: float | None = None
    remedies: tuple[Remedy, ...] = ()


def finding(
    code: str,
    severity: Severity,
    rule: str,
    *,
    case: str = "",
    margin_frac: float | None = None,
    remedies: tuple[Remedy, ...] = (),
    **facts: Any,
) -> Finding:
    """Make a finding that cites an entry of `RULES` ("" none); what is ok has no remedies, what is unknown no margin.

    Examples
    --------
    >>> finding("plug_fuse", "ok", "plug fuse", load_a=9.1).facts
    {'load_a': 9.1}
    """
    if rule and rule not in RULES:
        raise KeyError(rule)
    return Finding(
        code=code,
        severity=severity,
        case=case or severity,
        rule=rule,
        facts=facts,
        margin_frac=None if severity == "unknown" else margin_frac,
        remedies=() if severity == "ok" else remedies,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCase:
    """One load [A]: at the voltage entered, at the nominal one, and at the upper end with elements 5 % up."""

    entered_a: float
    nominal_a: float
    high_a: float

    def severity(self, limit_a: float, *, high_counts: bool = True) -> Severity:
        """Judge it against a plain rating, as `severity_of`; a protected rating need not mind the upper end."""
        high_a = self.high_a if high_counts else 0.0
        return severity_of(limit_a, nominal_a=self.nominal_a, entered_a=self.entered_a, high_a=high_a)


def worst_of(*severities: Severity) -> Severity:
    """Gravest of some severities; "ok" of none.

    Examples
    --------
    >>> worst_of("ok", "over", "unknown", "note")
    'over'
    """
    return _ORDER[max((_ORDER.index(severity) for severity in severities), default=0)]


def severity_of(limit_a: float, *, nominal_a: float, entered_a: float, high_a: float) -> Severity:
    """Judge a current against a plain rating.

    Parameters
    ----------
    limit_a : float
        The rating [A].
    nominal_a, entered_a, high_a : float
        The current at the nominal voltage, at the voltage entered, and at the upper end of the supply with
        elements 5 % above their plates [A].

    Returns
    -------
    str
        "over" when the rating is passed by more than the slack of nameplates at the nominal voltage, to which
        plates and ratings refer; "note" when only the slack or a high voltage passes it; else "ok".

    Examples
    --------
    >>> severity_of(13.0, nominal_a=13.04, entered_a=13.04, high_a=15.1)
    'note'
    """
    if nominal_a > limit_a * (1 + NAMEPLATE_SLACK_FRAC):
        return "over"
    return "note" if max(nominal_a, entered_a, high_a) > limit_a * (1 + 1e-9) else "ok"
