"""The rules that the check applies: each with its standard, clause, edition, and how we know it.

The tables themselves stand in `breakers`, `cables`, `outlets` and `voltages`; every table names the
entry of `RULES` that it comes from. None of it was read in the standard itself: "published
reproduction" means a page that prints the table, "from memory" means that nobody looked it up. An
electrician with the current edition has the last word.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from energyplan.base.records import dataclass

__all__ = ["MARKS", "NAMEPLATE_SLACK_FRAC", "RULES", "Known", "Rule"]

Known = Literal["published reproduction", "from memory", "common practice, no source"]

NAMEPLATE_SLACK_FRAC = 0.02
"""A load that passes a rating by 2 % or less is a note, not an overload.

A plate says "3000 W" and means 2700 W to 3150 W (IEC 60335-1, 10.1), and ratings are whole numbers: a 3 kW
appliance is the load that a 13 A plug was made for, although 3000 W / 230 V is 13.04 A.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule or table of a standard.

    ``clause`` is its number in the edition named, or by edition where they differ; ``known`` says how we know it and
    ``page`` the kind of page that reproduces it.
    """

    standard: str
    clause: str | Mapping[str, str]
    says: str
    known: Known
    edition: str = ""
    page: str = ""

    def citation(self, edition: str | None = None) -> str:
        """Standard, edition and clause in one line, with the mark of how it is known.

        Parameters
        ----------
        edition : str, optional
            Edition that the user goes by; left out, the one of the entry.

        Examples
        --------
        >>> RULES["nec one appliance"].citation("2020"), RULES["nec one appliance"].citation()
        ('NFPA 70:2020, 210.23(A)(1) [r]', 'NFPA 70:2023, 210.23(B)(1) [m]')
        """
        if isinstance(self.clause, str):
            named, clause, known = self.edition, self.clause, self.known
        else:
            named = edition if edition is not None and edition in self.clause else max(self.clause)
            clause, known = self.clause[named], self.known if named == self.edition else "from memory"
        return f"{self.standard}{f':{named}' if named else ''}, {clause} [{MARKS[known]}]"


MARKS: Mapping[str, str] = MappingProxyType(
    {
        "published reproduction": "r",
        "from memory": "m",
        "common practice, no source": "p",
    }
)
"""Marks of how a rule is known, explained once by a legend."""


def _reproduced(standard: str, clause: str, says: str, page: str, edition: str = "") -> Rule:
    known: Known = "published reproduction"
    return Rule(standard=standard, clause=clause, says=says, known=known, edition=edition, page=page)


def _remembered(standard: str, clause: str | Mapping[str, str], says: str, edition: str = "") -> Rule:
    return Rule(standard=standard, clause=clause, says=says, known="from memory", edition=edition)


def _nec(clauses: tuple[str, str, str], says: str, read_in: str = "", page: str = "") -> Rule:
    """A rule with its clause in the editions of 2017, 2020 and 2023, and the one that was read in a reproduction."""
    known: Known = "published reproduction" if read_in else "from memory"
    clause = dict(zip(("2017", "2020", "2023"), clauses, strict=True))
    return Rule(standard="NFPA 70", clause=clause, says=says, known=known, edition=read_in, page=page)


RULES: Mapping[str, Rule] = MappingProxyType(
    {
        "iec breaker zones": _reproduced(
            "IEC 60898-1",
            "table 7",
            "carries 1.13 In for 1 h; trips within 1 h at 1.45 In, within 60 s at 2.55 In (120 s above 32 A)",
            "two makers' data pages for miniature circuit breakers",
            "2015",
        ),
        "iec breaker curves": _reproduced(
            "IEC 60898-1",
            "table 2",
            "instantaneous trip: B 3 to 5 In, C 5 to 10 In, D 10 to 20 In",
            "help page of an electrical design program",
            "2015",
        ),
        "iec breaker sizes": _remembered("IEC 60898-1", "5.3.2", "preferred ratings 6 to 125 A", "2015"),
        "iec load": _reproduced(
            "BS 7671",
            "433.1.1",
            "load current Ib <= breaker In <= cable Iz (IEC 60364-4-43, 433.1)",
            "cable sizing guides; the number of the regulation from memory",
            "2018",
        ),
        "iec ring": _reproduced(
            "BS 7671",
            "433.1.204",
            "a ring on a 30 or 32 A breaker: each leg at least 20 A",
            "electricians' forum and the institution's forum",
            "2018",
        ),
        "iec ring use": Rule(
            standard="BS 7671",
            clause="appendix 15",
            known="from memory",
            edition="2018",
            says="loads of 2 kW and more for long are best fed by a circuit of their own",
        ),
        "iec cable": _reproduced(
            "BS 7671",
            "table 4D5 (methods A, C) and 4D2A (methods B, E)",
            "current-carrying capacity of two-core 70 °C cable at 30 °C",
            "reproductions of 4D5 for 1 to 10 mm2 method C and small sizes of A and B; the other rows from memory",
            "2018",
        ),
        "iec ambient": _reproduced(
            "BS 7671",
            "table 4B1",
            "rating factor for ambient temperature, 70 °C thermoplastic",
            "derating page, 30 to 50 °C; the other rows from memory",
            "2018",
        ),
        "iec grouping": _reproduced(
            "BS 7671",
            "table 4C1",
            "rating factor for bunched circuits",
            "cable selection pages (1 to 9, 12, 16, 20)",
            "2018",
        ),
        "iec flexible": _reproduced(
            "BS 7671",
            "table 4F3A",
            "capacity of flexible cords, 60 °C, and its ambient factors",
            "wholesaler's technical page",
            "2018",
        ),
        "iec drum": _reproduced(
            "BS 7671",
            "table 4F1A, note 2",
            "flexible cable on a drum: 85, 65, 45, 35 % for 1 to 4 layers",
            "distributor's technical page",
            "2018",
        ),
        "iec drop": _reproduced(
            "BS 7671",
            "appendix 4, section 6.4",
            "voltage drop to the point of use: 3 % lighting, 5 % other",
            "voltage-drop pages",
            "2018",
        ),
        "iec residual": _reproduced(
            "BS 7671",
            "411.3.3",
            "residual current device of 30 mA or less for socket-outlets up to 32 A",
            "guides for installers",
            "2018",
        ),
        "iec residual type": _remembered(
            "BS 7671",
            "531.3.3",
            "type AC only for loads without direct-current parts; type A for electronics",
            "2018",
        ),
        "appliance leakage": _remembered(
            "IEC 60335-1",
            "13.2 and 16.2",
            "class I heating appliance: at most 0.75 mA for each kW, at most 5 mA",
        ),
        "iec disconnection": _reproduced(
            "BS 7671",
            "411.4.4 and table 41.3",
            "Zs at most 0.95 x 230 V / Ia, Ia 5, 10, 20 In for curves B, C, D",
            "reproductions of table 41.3; the formula gives its last digit",
            "2018",
        ),
        "iec fuse disconnection": _remembered(
            "BS 7671",
            "table 41.2",
            "greatest Zs of fuses for 0.4 s",
            "2018",
        ),
        "iec TT": _remembered(
            "BS 7671",
            "411.5.3",
            "TT: a residual current device, and its rating times the loop at most 50 V",
            "2018",
        ),
        "iec rewirable": _remembered(
            "BS 7671",
            "433.1.202",
            "a BS 3036 fuse at most 0.725 of what the cable carries",
            "2018",
        ),
        "iec isolation": _remembered(
            "BS 7671", "462.1 and 537.2", "every circuit can be isolated; a plug to 32 A will do", "2018"
        ),
        "iec enclosure": _remembered("IEC 60529", "IP code", "IPX4 where it splashes, IP44 outdoors"),
        "breakers side by side": Rule(
            standard="Trade practice",
            clause="no clause",
            known="common practice, no source",
            says="breakers are rated at 30 °C alone; side by side in a warm board about 0.8 of the rating for hours",
        ),
        "industrial outlet": _remembered(
            "IEC 60309-1",
            "temperature rise test",
            "industrial outlets: 16 A tested at 22 A, 32 A at 42 A",
        ),
        "main fuse": _remembered(
            "BS 7671", "132.3 and 433.1", "nothing behind the main fuse may ask for more than it", "2018"
        ),
        "iec leakage": _reproduced(
            "BS 7671",
            "531.3.2",
            "standing leakage of the circuit at most 30 % of the device's rating",
            "engineering page on residual current devices",
            "2018",
        ),
        "iec voltage": _reproduced(
            "EN 50160",
            "4.2.2",
            "supply within +10 / -10 % of 230 V; statutory in the United Kingdom +10 / -6 %",
            "electricians' forums",
            "2010",
        ),
        "plug fuse": _reproduced(
            "BS 1362",
            "time-current zones",
            "13 A: carries 1.6 x 13 = 20.8 A for 30 min; 1.9 x 13 = 24.7 A blows it within 30 min",
            "teaching page on plug fuses",
            "1973",
        ),
        "plug rating": _reproduced(
            "BS 1363-2",
            "temperature rise test",
            "a 13 A outlet is tested at 14 A until its temperature settles",
            "the institution's forum, quoting the 1995 edition",
            "",
        ),
        "outlet test": _reproduced(
            "IEC 60884-1",
            "temperature rise test",
            "a 16 A household outlet is tested at 22 A for an hour",
            "electrician training site",
            "",
        ),
        "outlet sustained": Rule(
            standard="Trade practice",
            clause="no clause",
            known="common practice, no source",
            says="for hours on end many electricians stay near 10 A on a household outlet; product tests are higher",
        ),
        "lead length": Rule(
            standard="Trade practice",
            clause="no clause",
            known="common practice, no source",
            says="leads at 13 A: 1.25 mm2 to 10 m, 1.5 mm2 to 15 m, 2.5 mm2 to 25 m",
        ),
        "iec ring drop": _reproduced(
            "BS 7671",
            "appendix 4, section 6.4",
            "voltage drop: 3 % lighting, 5 % other; halfway round a ring a quarter of its length counts",
            "voltage-drop pages; electricians' forums for the ring",
            "2018",
        ),
        "nec load": _nec(
            ("210.20(A)",) * 3,
            "breaker at least the non-continuous load plus 125 % of the continuous load (3 h or more)",
            "2023",
            "electricians' magazine and code pages",
        ),
        "nec one appliance": _nec(
            ("210.23(A)(1)", "210.23(A)(1)", "210.23(B)(1)"),
            "on a 15 or 20 A circuit with several outlets one plugged-in appliance takes at most 80 %; 422.13 asks 125 "
            "% of storage water heaters, which are fastened in place",
            "2020",
            "electricians' magazine, questions and answers",
        ),
        "nec receptacle": _nec(
            ("210.21(B)(1) and table 210.21(B)(3)",) * 3,
            "a single outlet on its own circuit is rated at least as the circuit; table for several",
            "2020",
            "code page with table 210.24",
        ),
        "nec receptacle load": _nec(
            ("210.21(B)(2)",) * 3,
            "of several outlets none supplies a plugged-in load of more than 80 % of its rating: "
            "12 A on 15 A, 16 A on 20 A, 24 A on 30 A",
            "2020",
            "code page with table 210.24",
        ),
        "nec breaker zones": _remembered(
            "UL 489",
            "calibration tests",
            "carries its rating in open air at 40 °C; trips within 1 h at 1.35 (to 50 A), "
            "within 2 min at 2 times (to 30 A)",
            "2016",
        ),
        "nec breaker sizes": _nec(("240.6(A)",) * 3, "standard ampere ratings", "2023", "code pages"),
        "nec cable": _nec(
            ("table 310.15(B)(16)", "table 310.16", "table 310.16"),
            "ampacity of copper, 60/75/90 °C, at 30 °C",
            "2023",
            "reference pages printing the 2023 table",
        ),
        "nec small conductors": _nec(
            ("240.4(D)",) * 3,
            "breaker at most 15 A on 14 AWG, 20 A on 12 AWG, 30 A on 10 AWG",
            "2017",
            "course pages",
        ),
        "nec next size": _nec(
            ("240.4(B)",) * 3, "the next standard size above the ampacity, except where several outlets are fed"
        ),
        "nec terminals": _nec(
            ("110.14(C)(1)",) * 3,
            "up to 100 A the 60 °C column, unless all terminals are marked 75 °C; a higher column only for derating",
            "2023",
            "reference page",
        ),
        "nec ambient": _nec(
            ("table 310.15(B)(2)(a)", "table 310.15(B)(1)", "table 310.15(B)(1)(1)"),
            "correction for ambient temperature, applied to the 90 °C column",
            "2020",
            "code page with the table",
        ),
        "nec grouping": _nec(
            ("table 310.15(B)(3)(a)", "table 310.15(C)(1)", "table 310.15(C)(1)"),
            "adjustment for more than three current-carrying conductors",
        ),
        "nec flexible": _nec(
            ("table 400.5(A)(1)",) * 3,
            "ampacity of flexible cords, two or three current-carrying conductors",
            "2020",
            "appliance standard quoting the table for two (18 to 12 AWG); the rest from memory",
        ),
        "nec earth": _nec(
            ("table 250.122",) * 3,
            "equipment grounding conductor by the rating of the breaker; the fault "
            "loop itself is not judged under these rules",
        ),
        "nec extension": _reproduced(
            "UL 817",
            "table 115",
            "extension cord sets: 15 A needs 14 AWG to 50 ft, 12 AWG beyond; 20 A 12 AWG, then 10 AWG",
            "code forum quoting the table",
        ),
        "nec drop": _nec(
            ("210.19(A), informational note 4", "210.19(A), informational note", "210.19, informational note"),
            "recommended: 3 % on the branch circuit, 5 % in all",
            "2017",
            "code quiz page",
        ),
        "nec residual": _nec(
            ("210.8(A)",) * 3,
            "ground-fault protection (about 5 mA, UL 943 class A) of outlets in garages, outdoors, kitchens, "
            "basements, laundries and near sinks; 125 V outlets, from 2020 up to 250 V",
        ),
        "nec voltage": _remembered("ANSI C84.1", "range A", "service voltage within 5 % of nominal", "2020"),
        "nameplate": _remembered(
            "IEC 60335-1", "10.1", "heating appliances above 200 W: input +5 / -10 % of the plate"
        ),
        "contract": _reproduced(
            "Supply contract",
            "as entered",
            "above the contracted power, and what it lets pass for a time, the supply drops out",
            "pages of a network operator and a supplier on meters with a limiter",
        ),
        "peak charge": Rule(
            standard="Tariff",
            clause="peak_charge, as entered",
            known="common practice, no source",
            says="the month's highest mean power over windows fixed to the clock is charged",
        ),
        "motor start": _reproduced(
            "Trade practice",
            "no clause",
            "a compressor draws about six times its running current while it starts",
            "repair page on refrigerator compressors (600 %)",
        ),
    }
)
"""Every rule by its short name."""
