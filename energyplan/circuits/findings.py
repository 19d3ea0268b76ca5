"""What the check says: one sentence for each rating, and the words it is made of."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from energyplan.circuits.ratings import NAMEPLATE_SLACK_FRAC, RULES

__all__ = ["Finding", "LoadCase", "Severity", "finding", "one_of", "rated", "severity_of", "worst_of"]

Severity = Literal["ok", "note", "over"]
_ORDER: tuple[Severity, ...] = ("ok", "note", "over")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One judgement.

    ``code`` is a short plain name, ``message`` a sentence for a layman, ``rule`` what the rule says, ``standard``
    where it stands and how we know it, ``margin_frac`` the share of the rating that is left at the voltage entered
    (negative: passed; None: nothing to measure), ``mend`` what would mend it ("" when nothing needs mending).
    """

    code: str
    severity: Severity
    message: str
    rule: str
    standard: str
    margin_frac: float | None = None
    mend: str = ""


def finding(
    code: str, severity: Severity, message: str, rule_name: str, *, margin_frac: float | None = None, mend: str = ""
) -> Finding:
    """Make a finding that cites an entry of `RULES`.

    Examples
    --------
    >>> finding("plug_fuse", "ok", "It holds.", "plug fuse").standard
    'BS 1362:1973, time-current zones (published reproduction)'
    """
    rule = RULES[rule_name]
    return Finding(
        code=code,
        severity=severity,
        message=message,
        rule=rule.says,
        standard=f"{rule.citation} ({rule.known})",
        margin_frac=margin_frac,
        mend=mend,
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


def rated(
    code: str, severity: Severity, message: str, rule_name: str, *, use: tuple[float, float], mend: Callable[[], str]
) -> Finding:
    """Make a finding of a load and a limit (``use``): margin from the two, and a mend where it is over.

    Examples
    --------
    >>> found = rated("outlet", "over", "Too much.", "plug rating", use=(14.3, 13.0), mend=lambda: "Use less.")
    >>> round(found.margin_frac, 3), found.mend
    (-0.1, 'Use less.')
    """
    load_a, limit_a = use
    margin_frac = 1 - load_a / limit_a if limit_a > 0 else None
    return finding(
        code, severity, message, rule_name, margin_frac=margin_frac, mend=mend() if severity == "over" else ""
    )


def one_of(ways: Iterable[str]) -> str:
    """Write ways out as one sentence; "" of none.

    Examples
    --------
    >>> one_of(["", "wait", "use less"])
    'Wait; or use less.'
    """
    text = "; or ".join(way for way in ways if way)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def worst_of(*severities: Severity) -> Severity:
    """Gravest of some severities; "ok" of none.

    Examples
    --------
    >>> worst_of("ok", "over", "note")
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
