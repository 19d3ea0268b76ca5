"""Findings of the circuit told, each with what would mend it."""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta, tzinfo
from types import SimpleNamespace
from typing import Any

from energyplan.base.kinds import (
    AMPERES,
    KEY,
    KILOGRAMS,
    KILOWATTS,
    KWH,
    METRES,
    MINUTES,
    MOMENT,
    MONEY,
    WATTS,
    WORD,
    WRITTEN,
    Moment,
    Value,
)
from energyplan.base.sentence import NOTHING, Sentence, listed
from energyplan.circuits.findings import RULES, Finding, Remedy
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.equipment import Circuit
from energyplan.telling import protection, wiring
from energyplan.telling.protection import Facts, cable_words, names, rated
from energyplan.telling.told import Column, Found, Table

__all__ = ["LEGEND", "REMEDIES", "FindingTeller", "done_told", "finding_name"]


def _fewer_elements(f: Facts) -> Sentence:
    return Sentence(
        "have elements of at most {watts} on at a time (a cap does that where elements are switched; pulsed ones "
        "draw their "
        "full current whatever the cap)",
        watts=WATTS(f.elements_w),
    )


def _off(f: Facts) -> Sentence:
    return Sentence(
        "keep {names} off from {begin} to {end} (and wherever else they meet the heaters)",
        names=names(f.names),
        begin=f.teller.at(f.from_s),
        end=f.teller.at(f.to_s),
    )


def _shift(f: Facts) -> Sentence:
    how = "later (what it heats is ready later too)" if f.is_later else "earlier (its water keeps warm under a lid)"
    return Sentence("start {name} {minutes} {how}", name=WRITTEN(f.name), minutes=MINUTES(f.shift_min), how=WORD(how))


def _bigger(f: Facts) -> Sentence:
    length = Sentence(" for {length}", length=METRES(f.length_m)) if f.length_m else NOTHING
    return Sentence(
        "have an electrician provide a circuit with a {breaker} breaker, which needs {cable} cable{length} laid the "
        "same "
        "way (never a bigger breaker on the old cable)",
        breaker=rated(f.breaker_a),
        cable=cable_words(f.cable_mm2),
        length=length,
    )


def _no_lead(f: Facts) -> Sentence:
    if f.is_wound:
        wound = "unwind the lead, and that is not enough: use no lead, or a thicker one rated {needed} or more"
        return Sentence(wound, needed=AMPERES(f.needed_a))
    return Sentence("use no lead, or a thicker one rated {needed} or more", needed=AMPERES(f.needed_a))


def _moves(f: Facts) -> Sentence:
    moves = [(f.later_min, "later"), (f.earlier_min, "earlier")]
    said = [Sentence("{minutes} {how}", minutes=MINUTES(m), how=WORD(how)) for m, how in moves if m is not None]
    return Sentence("start {moves}", moves=listed(said, "or"))


def _cap(f: Facts) -> Sentence:
    steam = NOTHING
    if abs(f.less_steam_kg) >= 0.05:
        steam = Sentence(", {steam} less steam", steam=KILOGRAMS(f.less_steam_kg))
    return Sentence(
        "cap ramps, holds and boil at {cap}, which a pulsed element keeps too ({minutes}, {energy}{steam})",
        cap=WATTS(f.cap_w),
        minutes=MINUTES(f.added_min, signed=True),
        energy=KWH(f.added_kwh, signed=True),
        steam=steam,
    )


def _nothing_below(f: Facts) -> Sentence:
    said = "nothing was found that keeps below the present peak"
    if f.left is None:
        return Sentence(said)
    return Sentence(
        said + "; with ramps, holds and boil capped at {cap} it adds {left} only ({minutes}, {energy})",
        cap=WATTS(f.least_cap_w),
        left=MONEY(f.left),
        minutes=MINUTES(f.added_min, signed=True),
        energy=KWH(f.added_kwh, signed=True),
    )


def _smaller_breaker(f: Facts) -> Sentence:
    ring = Sentence("; if it is a ring, enter {key}", key=KEY("circuit.ring")) if f.maybe_ring else NOTHING
    return Sentence(
        "have an electrician look at it: the breaker should be {cap} or less, or the cable thicker{ring}",
        cap=rated(f.cap_a),
        ring=ring,
    )


def _residual(f: Facts) -> Sentence:
    device = "ground-fault protection" if f.is_nec else "a residual current device of 30 mA, type A"
    return Sentence("look for {device} that covers this outlet, or ask for it", device=WORD(device))


def _plain(template: str, **keys: str) -> Callable[[Any], Sentence]:
    return lambda f: Sentence(template, **{name: KEY(key) for name, key in keys.items()})  # noqa: ARG005


REMEDIES: Mapping[str, Callable[[Any], Sentence]] = {
    "fewer elements": _fewer_elements,
    "made for": lambda f: Sentence("ask for an outlet, plug and lead made for {load}", load=AMPERES(f.load_a)),
    "others off": _off,
    "shift": _shift,
    "off and shift": lambda f: Sentence("{off}, and {shift}", off=_off(f), shift=_shift(f)),
    "bigger circuit": _bigger,
    "own supply": _plain(
        "ask an electrician about a supply of its own: no household circuit of the tables carries this"
    ),
    "motor first": lambda f: Sentence(
        "let {name} run before the elements come on, or put it on another circuit", name=WRITTEN(f.name)
    ),
    "own circuit": _plain("give it a circuit of its own and enter {key}", key="circuit.dedicated"),
    "sound contacts": _plain(
        "have worn or loose contacts replaced, and feel plug and outlet after half an hour: warm is usual, hot is a "
        "fault"
    ),
    "breaker or outlet": lambda f: Sentence(
        "ask the electrician for a breaker of {outlet} or an outlet of {breaker}",
        outlet=rated(f.outlet_a),
        breaker=rated(f.breaker_a),
    ),
    "look at cable": _plain("ask an electrician how the cable lies, and enter {key}", key="circuit.installation"),
    "smaller breaker": _smaller_breaker,
    "no ring": _plain("have an electrician look at breaker and cable, or leave {key} out", key="circuit.ring"),
    "shorter lead": _plain("use a shorter lead, or a thicker one"),
    "one thing on the lead": _plain("plug nothing else into the lead"),
    "unwind": lambda f: Sentence(
        "unwind the lead: laid out straight it carries {carries}", carries=AMPERES(f.carries_a)
    ),
    "no lead": _no_lead,
    "thicker or nearer": _plain("a thicker or shorter cable or lead, or an outlet nearer to the board"),
    "measure loop": _plain("have the loop measured at the outlet, and enter {key}", key="circuit.earth_loop"),
    "shorten loop": _plain(
        "ask an electrician: a breaker with another curve, a thicker protective conductor, or a residual current device"
    ),
    "say the earth": _plain("look for its size, and enter {key}", key="circuit.protective_conductor"),
    "thicker earth": lambda f: Sentence(
        "ask for an equipment grounding conductor of {least} or more", least=cable_words(awg_mm2(f.least_awg))
    ),
    "residual": _residual,
    "dry elements": _plain("ask an electrician which device elements of this size can work on"),
    "say the line": _plain("enter {key} for each load", key="circuit.line"),
    "what shares": _plain("switch the breaker off, see what goes dark, and enter {key}", key="circuit.dedicated"),
    "ask supplier": _plain("ask the supplier or an electrician about the main fuse"),
    "say the place": _plain("enter {key}", key="circuit.place"),
    "say the enclosure": _plain("look for the IP code on it, and enter {key}", key="circuit.enclosure"),
    "tight outlet": lambda f: Sentence("ask for an outlet of {asked} or better", asked=WORD(f.asked)),
    "isolator": _plain("find or ask for what cuts all lines within reach, and enter {key}", key="circuit.isolator"),
    "local rules": _plain("ask an electrician who knows the rules of the place"),
    "start": _moves,
    "keep off": lambda f: Sentence(
        "keep {names} {hour}",
        names=names(f.names),
        hour=WORD("off meanwhile" if f.hour == "off" else "to other hours"),
    ),
    "switched elements": lambda f: Sentence(
        "have elements of at most {watts} on at a time, switched ones: a pulsed element draws its full power "
        "whatever the "
        "cap",
        watts=WATTS(f.elements_w),
    ),
    "contract more": lambda f: Sentence("contract at least {watts}", watts=KILOWATTS(f.needed_w / 1000)),
    "cap": _cap,
    "nothing below the peak": _nothing_below,
}


"""A clause for each remedy."""


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
        cited = dict.fromkeys(RULES[key].citation(self.edition) for key in _cited(finding))
        return "; ".join(cited) or None

    def rule_table(self, findings: Iterable[Finding]) -> Table:
        """The rules behind findings: what each says, where it was read, and the checks that rest on it."""
        checks: dict[str, list[str]] = {}
        for finding in findings:
            for key in _cited(finding):
                checks.setdefault(key, []).append(finding_name(finding.code))
        rows = []
        for key, its in checks.items():
            rule, known = RULES[key], RULES[key].known_in(self.edition)
            read_in = rule.page if known == "published reproduction" else known
            rows.append((", ".join(its), rule.citation(self.edition), rule.says, read_in))
        heads = (("checks", "Check"), ("rule", "Rule"), ("says", "What it says"), ("read_in", "Read in"))
        return Table("rules", "What the rules say", tuple(Column(key, head, WORD) for key, head in heads), tuple(rows))

    def remedy(self, remedy: Remedy) -> Sentence:
        """What would mend it, as a clause."""
        return REMEDIES[remedy.code](SimpleNamespace(teller=self, **remedy.facts))

    def at(self, time_s: float) -> Value:
        """A moment of the day."""
        return MOMENT(Moment((self.start + timedelta(seconds=time_s)).astimezone(self.zone), self.first))


def _cited(finding: Finding) -> tuple[str, ...]:
    return tuple(key for key in (finding.rule, *finding.facts.get("also", ())) if key)


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


# Short enough for a button: what a plan has once a remedy is carried out.
_DONE: Mapping[str, Callable[[Any], Sentence]] = {
    "unwind": _plain("The lead unwound"),
    "no lead": _plain("No lead"),
    "own circuit": _plain("A circuit that feeds this outlet alone"),
    "no ring": _plain("Not a ring"),
    "residual": lambda f: Sentence("Protected by a {device} device", device=WORD(str(f.residual))),
    "thicker earth": lambda f: Sentence("A protective conductor of {least}", least=cable_words(awg_mm2(f.least_awg))),
    "others off": lambda f: Sentence("{names} on another breaker", names=names(f.names)),
    "second heater elsewhere": _plain("The second heater on another breaker"),
    "breaker or outlet": lambda f: Sentence("A {breaker} breaker", breaker=rated(f.breaker_after_a)),
    "smaller breaker": lambda f: Sentence("A {breaker} breaker", breaker=rated(f.breaker_after_a)),
    "bigger circuit": lambda f: Sentence(
        "A {breaker} breaker on {cable} cable", breaker=rated(f.breaker_after_a), cable=cable_words(f.cable_after_mm2)
    ),
}


def done_told(remedy: Remedy, after: Circuit) -> Sentence:
    """What there is once a remedy is carried out, short enough for a button.

    Examples
    --------
    >>> str(done_told(Remedy(code="unwind"), Circuit(voltage_v=230.0)))
    'The lead unwound'
    """
    changed = {
        "residual": after.residual_current_device,
        "breaker_after_a": after.breaker_a,
        "cable_after_mm2": after.cable_mm2,
    }
    return _DONE[remedy.code](SimpleNamespace(**remedy.facts, **changed))
