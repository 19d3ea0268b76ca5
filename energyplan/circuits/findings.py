"""What a judgement is: a code, how grave, its numbers, the rule behind it, what would mend it; and all the rules.

The tables themselves stand in `breakers`, `cables` and `wiring`; every table names the entry of `RULES` that it comes
from. None of it was read in the standard itself: "published reproduction" means a page that prints the table, "from
memory" means that nobody looked it up. An electrician with the current edition has the last word.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import field
from functools import cached_property
from types import MappingProxyType
from typing import Any, Literal

from energyplan.base.records import dataclass

__all__ = [
    "MARKS",
    "NAMEPLATE_SLACK_FRAC",
    "RULES",
    "Facts",
    "Finding",
    "Known",
    "Remedies",
    "Remedy",
    "Rule",
    "Severity",
    "finding",
    "is_milder",
    "passes",
    "severity_of",
    "worst_of",
]

Known = Literal["published reproduction", "from memory", "common practice, no source"]
MARKS: Mapping[str, str] = MappingProxyType(
    {"published reproduction": "r", "from memory": "m", "common practice, no source": "p"}
)
"""Marks of how a rule is known, explained once by a legend."""

NAMEPLATE_SLACK_FRAC = 0.02 + 1e-9
"""A load that passes a rating by 2 % or less, and the dust of sums, is a note, not an overload.

A plate says "3000 W" and means 2700 W to 3150 W (IEC 60335-1, 10.1), and ratings are whole numbers: a 3 kW
appliance is the load that a 13 A plug was made for, although 3000 W / 230 V is 13.04 A.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule or table of a standard, which is named with its edition.

    ``clause`` is its number, by edition where the user chooses one; ``known`` says how we know it, ``page`` the kind of
    page that reproduces it, and ``read_in`` in which of several editions it was read.
    """

    standard: str
    clause: str | Mapping[str, str]
    says: str
    known: Known
    page: str = ""
    read_in: str = ""

    def citation(self, edition: str | None = None) -> str:
        """Standard, edition and clause in one line, with the mark of how it is known.

        Parameters
        ----------
        edition : str, optional
            Edition that the user goes by; left out, the latest of the entry.

        Examples
        --------
        >>> RULES["nec one appliance"].citation("2020"), RULES["nec one appliance"].citation()
        ('NFPA 70:2020, 210.23(A)(1) [r]', 'NFPA 70:2023, 210.23(B)(1) [m]')
        """
        known = MARKS[self.known_in(edition)]
        if isinstance(self.clause, str):
            return f"{self.standard}, {self.clause} [{known}]"
        named = self._named(self.clause, edition)
        return f"{self.standard}:{named}, {self.clause[named]} [{known}]"

    def known_in(self, edition: str | None = None) -> Known:
        """How the rule is known in an edition; left out, in the latest of the entry."""
        read = isinstance(self.clause, str) or self._named(self.clause, edition) == self.read_in
        return self.known if read else "from memory"

    @staticmethod
    def _named(clauses: Mapping[str, str], edition: str | None) -> str:
        return edition if edition is not None and edition in clauses else max(clauses)


def _read(standard: str, clause: str, says: str, page: str) -> Rule:
    return Rule(standard=standard, clause=clause, says=says, known="published reproduction", page=page)


def _memory(standard: str, clause: str, says: str) -> Rule:
    return Rule(standard=standard, clause=clause, says=says, known="from memory")


def _practice(says: str, whose: str = "Trade practice", clause: str = "no clause") -> Rule:
    return Rule(standard=whose, clause=clause, says=says, known="common practice, no source")


def _nec(clauses: str | tuple[str, str, str], says: str, read_in: str = "", page: str = "") -> Rule:
    """A rule with its clause in the editions of 2017, 2020 and 2023, and the one that was read in a reproduction."""
    known: Known = "published reproduction" if read_in else "from memory"
    each = (clauses,) * 3 if isinstance(clauses, str) else clauses
    clause = dict(zip(("2017", "2020", "2023"), each, strict=True))
    return Rule(standard="NFPA 70", clause=clause, says=says, known=known, page=page, read_in=read_in)


RULES: Mapping[str, Rule] = MappingProxyType(
    {
        "iec breaker zones": _read("IEC 60898-1:2015", "table 7",
            "carries 1.13 In for 1 h; trips within 1 h at 1.45 In, within 60 s at 2.55 In (120 s above 32 A)",
            "two makers' data pages for miniature circuit breakers"),
        "iec breaker curves": _read("IEC 60898-1:2015", "table 2",
            "instantaneous trip: B 3 to 5 In, C 5 to 10 In, D 10 to 20 In",
            "help page of an electrical design program"),
        "iec breaker sizes": _memory("IEC 60898-1:2015", "5.3.2", "preferred ratings 6 to 125 A"),
        "iec load": _read("BS 7671:2018", "433.1.1",
            "load current Ib <= breaker In <= cable Iz (IEC 60364-4-43, 433.1)",
            "cable sizing guides; the number of the regulation from memory"),
        "iec ring": _read("BS 7671:2018", "433.1.204", "a ring on a 30 or 32 A breaker: each leg at least 20 A",
            "electricians' forum and the institution's forum"),
        "iec ring use": _memory("BS 7671:2018", "appendix 15",
            "loads of 2 kW and more for long are best fed by a circuit of their own"),
        "iec cable": _read("BS 7671:2018", "table 4D5 (methods A, C) and 4D2A (methods B, E)",
            "current-carrying capacity of two-core 70 °C cable at 30 °C",
            "reproductions of 4D5 for 1 to 10 mm² method C and small sizes of A and B; the other rows from memory"),
        "iec ambient": _read("BS 7671:2018", "table 4B1",
            "rating factor for ambient temperature, 70 °C thermoplastic",
            "derating page, 30 to 50 °C; the other rows from memory"),
        "iec grouping": _read("BS 7671:2018", "table 4C1", "rating factor for bunched circuits",
            "cable selection pages (1 to 9, 12, 16, 20)"),
        "iec flexible": _read("BS 7671:2018", "table 4F3A",
            "capacity of flexible cords, 60 °C, and its ambient factors", "wholesaler's technical page"),
        "iec drum": _read("BS 7671:2018", "table 4F1A, note 2",
            "flexible cable on a drum: 85, 65, 45, 35 % for 1 to 4 layers", "distributor's technical page"),
        "iec drop": _read("BS 7671:2018", "appendix 4, section 6.4",
            "voltage drop to the point of use: 3 % lighting, 5 % other", "voltage-drop pages"),
        "iec residual": _read("BS 7671:2018", "411.3.3",
            "residual current device of 30 mA or less for socket-outlets up to 32 A", "guides for installers"),
        "iec residual type": _read("BS 7671:2018", "531.3.3",
            "type AC only for loads without direct-current parts; type A for electronics",
            "question-and-answer page"),
        "appliance leakage": _memory("IEC 60335-1", "13.2 and 16.2",
            "class I heating appliance: at most 0.75 mA for each kW, at most 5 mA"),
        "iec disconnection": _read("BS 7671:2018", "411.4.4 and table 41.3",
            "Zs at most 0.95 x 230 V / Ia, Ia 5, 10, 20 In for curves B, C, D",
            "reproductions of table 41.3; the formula gives its last digit"),
        "iec fuse disconnection": _read("BS 7671:2018", "table 41.2",
            "greatest Zs of gG and BS 3036 fuses for 0.4 s at 230 V",
            "two program sources that print table 41.2 alike; one reference page prints larger ones"),
        "iec TT": _read("BS 7671:2018", "411.5.3 and table 41.5",
            "TT: a residual current device, and its rating times the loop at most 50 V",
            "a program source that prints table 41.5; the number of the regulation from memory"),
        "iec rewirable": _memory("BS 7671:2018", "433.1.202",
            "a BS 3036 fuse at most 0.725 of what the cable carries"),
        "iec isolation": _read("BS 7671:2018", "462.2 and table 537.4",
            "every circuit can be isolated from all its lines; a plug to 32 A will do",
            "guide to isolation, a course page; the 32 A from memory"),
        "iec enclosure": _read("IEC 60529", "second numeral",
            "IPX4 withstands splashes from all sides; which place asks for it is common practice",
            "pages with the table of numerals"),
        "breakers side by side": _practice(
            "breakers are rated at 30 °C alone; side by side in a warm board about 0.8 of the rating for hours"),
        "industrial outlet": _memory("IEC 60309-1", "temperature rise test",
            "industrial outlets: 16 A tested at 22 A, 32 A at 42 A"),
        "main fuse": _memory("BS 7671:2018", "132.3 and 433.1",
            "nothing behind the main fuse may ask for more than it"),
        "iec leakage": _read("BS 7671:2018", "531.3.2",
            "standing leakage of the circuit at most 30 % of the device's rating",
            "engineering page on residual current devices"),
        "iec voltage": _read("EN 50160:2010", "4.2.2",
            "supply within +10 / -10 % of 230 V; statutory in the United Kingdom +10 / -6 %", "electricians' forums"),
        "plug fuse": _read("BS 1362:1973", "time-current zones",
            "13 A: carries 1.6 x 13 = 20.8 A for 30 min; 1.9 x 13 = 24.7 A blows it within 30 min",
            "teaching page on plug fuses"),
        "plug rating": _read("BS 1363-2", "temperature rise test",
            "a 13 A outlet is tested at 14 A until its temperature settles",
            "the institution's forum, quoting the 1995 edition"),
        "outlet test": _read("IEC 60884-1", "temperature rise test",
            "a 16 A household outlet is tested at 22 A for an hour", "electrician training site"),
        "outlet sustained": _practice(
            "for hours on end many electricians stay near 10 A on a household outlet; product tests are higher"),
        "lead length": _practice("leads at 13 A: 1.25 mm² to 10 m, 1.5 mm² to 15 m, 2.5 mm² to 25 m"),
        "iec ring drop": _read("BS 7671:2018", "appendix 4, section 6.4",
            "voltage drop: 3 % lighting, 5 % other; halfway round a ring a quarter of its length counts",
            "voltage-drop pages; electricians' forums for the ring"),
        "nec load": _nec("210.20(A)",
            "breaker at least the non-continuous load plus 125 % of the continuous load (3 h or more)", "2023",
            "electricians' magazine and code pages"),
        "nec one appliance": _nec(("210.23(A)(1)", "210.23(A)(1)", "210.23(B)(1)"),
            "on a 15 or 20 A circuit with several outlets one plugged-in appliance takes at most 80 %; 422.13 "
            "asks 125 % of storage water heaters, which are fastened in place", "2020",
            "electricians' magazine, questions and answers"),
        "nec receptacle": _nec("210.21(B)(1) and table 210.21(B)(3)",
            "a single outlet on its own circuit is rated at least as the circuit; table for several", "2020",
            "code page with table 210.24"),
        "nec receptacle load": _nec("210.21(B)(2)",
            "of several outlets none supplies a plugged-in load of more than 80 % of its rating: 12 A on 15 A, "
            "16 A on 20 A, 24 A on 30 A", "2020", "code page with table 210.24"),
        "nec breaker zones": _memory("UL 489:2016", "calibration tests",
            "carries its rating in open air at 40 °C; trips within 1 h at 1.35 (to 50 A), within 2 min at 2 "
            "times (to 30 A)"),
        "nec breaker sizes": _nec("240.6(A)", "standard ampere ratings", "2023", "code pages"),
        "nec cable": _nec(("table 310.15(B)(16)", "table 310.16", "table 310.16"),
            "ampacity of copper, 60/75/90 °C, at 30 °C", "2023", "reference pages printing the 2023 table"),
        "nec small conductors": _nec("240.4(D)", "breaker at most 15 A on 14 AWG, 20 A on 12 AWG, 30 A on 10 AWG",
            "2017", "course pages"),
        "nec next size": _nec("240.4(B)",
            "the next standard size above the ampacity, except where several outlets are fed"),
        "nec terminals": _nec("110.14(C)(1)",
            "up to 100 A the 60 °C column, unless all terminals are marked 75 °C; a higher column only for derating",
            "2023", "reference page"),
        "nec ambient": _nec(("table 310.15(B)(2)(a)", "table 310.15(B)(1)", "table 310.15(B)(1)(1)"),
            "correction for ambient temperature, applied to the 90 °C column", "2020", "code page with the table"),
        "nec grouping": _nec(("table 310.15(B)(3)(a)", "table 310.15(C)(1)", "table 310.15(C)(1)"),
            "adjustment for more than three current-carrying conductors"),
        "nec flexible": _nec("table 400.5(A)(1)",
            "ampacity of flexible cords, two or three current-carrying conductors", "2020",
            "appliance standard quoting the table for two (18 to 12 AWG); the rest from memory"),
        "nec earth": _nec("table 250.122",
            "equipment grounding conductor by the rating of the breaker; the fault loop itself is not judged "
            "under these rules", "2023", "charts that print the table"),
        "nec isolation": _nec("422.33(A)", "an accessible plug and receptacle serve as the disconnecting means",
            "2011", "code forum quoting the section"),
        "nec enclosure": _nec("406.9(B)",
            "outlets in wet places have an enclosure that keeps the weather out with the plug in it"),
        "nec extension": _read("UL 817", "table 115",
            "extension cord sets: 15 A needs 14 AWG to 50 ft, 12 AWG beyond; 20 A 12 AWG, then 10 AWG",
            "code forum quoting the table"),
        "nec drop": _nec(
            ("210.19(A), informational note 4", "210.19(A), informational note", "210.19, informational note"),
            "recommended: 3 % on the branch circuit, 5 % in all", "2017", "code quiz page"),
        "nec residual": _nec("210.8(A)",
            "ground-fault protection (about 5 mA, UL 943 class A) of outlets in garages, outdoors, kitchens, "
            "basements, laundries and near sinks; 125 V outlets, from 2020 up to 250 V"),
        "nec voltage": _memory("ANSI C84.1:2020", "range A", "service voltage within 5 % of nominal"),
        "nameplate": _memory("IEC 60335-1", "10.1", "heating appliances above 200 W: input +5 / -10 % of the plate"),
        "contract": _read("Supply contract", "as entered",
            "above the contracted power, and what it lets pass for a time, the supply drops out",
            "pages of a network operator and a supplier on meters with a limiter"),
        "peak charge": _practice("the month's highest mean power over windows fixed to the clock is charged",
            "Tariff", "peak_charge, as entered"),
        "motor start": _read("Trade practice", "no clause",
            "a compressor draws about six times its running current while it starts",
            "repair page on refrigerator compressors (600 %)"),
    }
)  # fmt: skip
"""Every rule by its short name."""


Severity = Literal["ok", "note", "unknown", "over"]
Facts = Mapping[str, Any]
_ORDER: tuple[Severity, ...] = ("ok", "note", "unknown", "over")


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """Something that would mend a finding: what, and its numbers."""

    code: str
    facts: Facts = field(default_factory=dict)


class Remedies(Sequence[Remedy]):
    """Remedies that are worked out when somebody first looks at them: who asks how grave a finding is pays for none."""

    def __init__(self, work: Callable[[], Iterable[Remedy]]) -> None:
        self._work = work

    @cached_property
    def _all(self) -> tuple[Remedy, ...]:
        return tuple(self._work())

    def __getitem__(self, place: Any) -> Any:
        return self._all[place]

    def __len__(self) -> int:
        return len(self._all)

    def __eq__(self, other: object) -> bool:
        return self._all == (tuple(other) if isinstance(other, Remedies) else other)

    def __hash__(self) -> int:
        return hash(self._all)

    def __repr__(self) -> str:
        return repr(self._all)

    def __reduce__(self) -> tuple[Any, ...]:
        return tuple, (self._all,)


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
    remedies: Sequence[Remedy] = ()


def finding(
    code: str,
    severity: Severity,
    rule: str,
    *,
    case: str = "",
    margin_frac: float | None = None,
    remedies: Sequence[Remedy] = (),
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


def worst_of(*severities: Severity) -> Severity:
    """Gravest of some severities; "ok" of none.

    Examples
    --------
    >>> worst_of("ok", "over", "unknown", "note")
    'over'
    """
    return _ORDER[max((_ORDER.index(severity) for severity in severities), default=0)]


def is_milder(severity: Severity, before: Severity) -> bool:
    """Whether one severity is less grave than another."""
    return _ORDER.index(severity) < _ORDER.index(before)


def passes(amount: float, limit: float, slack_frac: float = 1e-9) -> bool:
    """Whether something passes a limit, by more than the dust of sums or some other slack.

    Examples
    --------
    >>> passes(0.1 + 0.2, 0.3), passes(13.04, 13.0), passes(13.04, 13.0, NAMEPLATE_SLACK_FRAC)
    (False, True, False)
    """
    return amount > limit * (1 + slack_frac)


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
    if passes(nominal_a, limit_a, NAMEPLATE_SLACK_FRAC):
        return "over"
    return "note" if passes(max(nominal_a, entered_a, high_a), limit_a) else "ok"
