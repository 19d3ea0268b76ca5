"""Findings of the circuit in words: what was found, what would mend it, and the rule behind it."""

from collections.abc import Iterable
from datetime import datetime, timedelta, tzinfo
from types import SimpleNamespace

from energyplan.base.kinds import MOMENT, Moment, Value
from energyplan.base.sentence import Sentence
from energyplan.circuits.findings import Finding, Remedy
from energyplan.circuits.ratings import RULES
from energyplan.telling import protection, wiring
from energyplan.telling.remedies import REMEDIES
from energyplan.telling.told import Found

__all__ = ["LEGEND", "FindingTeller", "finding_name"]

SAID = {**protection.SAID, **wiring.SAID}
LEGEND = Sentence(
    "Rules were [r] read in a published reproduction, [m] from memory, [p] common practice; none in the original."
)
_ORDER = ("over", "unknown", "note", "ok")


def finding_name(code: str) -> str:
    """What was checked, in words.

    >>> finding_name("residual_current")
    'residual current'
    """
    return code.replace("_", " ")


class FindingTeller:
    """Tells findings of a day that starts at some moment, under some edition of the rules."""

    def __init__(self, start: datetime, zone: tzinfo, edition: str | None = None) -> None:
        self.start, self.zone, self.edition = start, zone, edition
        self.first = start.astimezone(zone).date()

    def __call__(self, finding: Finding) -> Found:
        """A finding in words."""
        facts = SimpleNamespace(case=finding.case, severity=finding.severity, teller=self, **finding.facts)
        said = SAID[finding.code](facts)
        remedies = [self.remedy(remedy) for remedy in finding.remedies]
        return Found(
            code=finding.code,
            severity=finding.severity,
            said=said,
            mend=_one_of(remedies),
            rule=self.rules(finding),
            margin_frac=finding.margin_frac,
        )

    def all(self, findings: Iterable[Finding]) -> tuple[Found, ...]:
        """Findings in words, worst first."""
        return tuple(self(one) for one in sorted(findings, key=lambda one: _ORDER.index(one.severity)))

    def rules(self, finding: Finding) -> str | None:
        """What a finding cites."""
        keys = (finding.rule, *finding.facts.get("also", ()))
        cited = dict.fromkeys(RULES[key].citation(self.edition) for key in keys if key)
        return "; ".join(cited) or None

    def remedy(self, remedy: Remedy) -> Sentence:
        """What would mend it, as a clause."""
        return REMEDIES[remedy.code](SimpleNamespace(teller=self, **remedy.facts))

    def at(self, time_s: float) -> Value:
        """A moment of the day."""
        return MOMENT(Moment((self.start + timedelta(seconds=time_s)).astimezone(self.zone), self.first))


def _one_of(ways: list[Sentence]) -> Sentence | None:
    """Ways out as one sentence; None of none."""
    if not ways:
        return None
    template = "; or ".join(f"{{way_{number}}}" for number in range(len(ways)))
    said = Sentence(f"{template}.", **{f"way_{number}": way for number, way in enumerate(ways)})
    first = ways[0].template
    capital = _with_template(ways[0], f"{first[:1].upper()}{first[1:]}")
    return Sentence(said.template, **{**dict(said.values), "way_0": capital})


def _with_template(sentence: Sentence, template: str) -> Sentence:
    return Sentence(template, **dict(sentence.values))
