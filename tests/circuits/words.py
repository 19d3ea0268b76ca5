"""A finding of a check with its words, as the tests look at it."""

from types import SimpleNamespace

from energyplan.circuits.check import CircuitCheck
from energyplan.telling.findings import FindingTeller


def find(result: CircuitCheck, code: str) -> SimpleNamespace:
    """Return the finding of a code: severity, margin, facts, message, mend, standard."""
    finding = next(finding for finding in result.findings if finding.code == code)
    told = FindingTeller(result.start, result.zone)(finding)
    return SimpleNamespace(
        severity=finding.severity,
        margin_frac=finding.margin_frac,
        facts=finding.facts,
        case=finding.case,
        message=str(told.said),
        mend=str(told.mend) if told.mend else "",
        standard=told.rule or "",
    )
