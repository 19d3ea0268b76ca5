"""The rules that the check applies: each with its standard, clause, edition, and how we know it.

The tables themselves stand in `breakers`, `cables`, `outlets` and `voltages`; every table names the
entry of `RULES` that it comes from. None of it was read in the standard itself: "published
reproduction" means a page that prints the table, "from memory" means that nobody looked it up. An
electrician with the current edition has the last word.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = ["CAUTION", "NAMEPLATE_SLACK_FRAC", "RULES", "Known", "Rule"]

Known = Literal["published reproduction", "from memory", "common practice, no source"]

NAMEPLATE_SLACK_FRAC = 0.02
"""A load that passes a rating by 2 % or less is a note, not an overload.

A plate says "3000 W" and means 2700 W to 3150 W (IEC 60335-1, 10.1), and ratings are whole numbers: a 3 kW
appliance is the load that a 13 A plug was made for, although 3000 W / 230 V is 13.04 A.
"""

CAUTION = (
    "Compared with the ratings you entered and with tables reproduced from standards; this is no design. "
    "Your local code applies, and a licensed electrician decides."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule or table of a standard.

    ``known`` says how we know it and ``page`` the kind of page that reproduces it.
    """

    standard: str
    clause: str
    says: str
    known: Known
    edition: str = ""
    page: str = ""

    @property
    def citation(self) -> str:
        """Standard, edition and clause in one line."""
        edition = f":{self.edition}" if self.edition else ""
        return f"{self.standard}{edition}, {self.clause}"


def _reproduced(standard: str, clause: str, says: str, page: str, edition: str = "") -> Rule:
    known: Known = "published reproduction"
    return Rule(standard=standard, clause=clause, says=says, known=known, edition=edition, page=page)


def _remembered(standard: str, clause: str, says: str, edition: str = "") -> Rule:
    return Rule(standard=standard, clause=clause, says=says, known="from memory", edition=edition)


RULES: Mapping[str, Rule] = MappingProxyType({
    "iec breaker zones": _reproduced(
        "IEC 60898-1", "table 7",
        "carries 1.13 In for 1 h; trips within 1 h at 1.45 In, within 60 s at 2.55 In (120 s above 32 A)",
        "two makers' data pages for miniature circuit breakers", "2015",
    ),
    "iec breaker curves": _reproduced(
        "IEC 60898-1", "table 2", "instantaneous trip: B 3 to 5 In, C 5 to 10 In, D 10 to 20 In",
        "help page of an electrical design program", "2015",
    ),
    "iec breaker sizes": _remembered("IEC 60898-1", "5.3.2", "preferred ratings 6 to 125 A", "2015"),
    "iec load": _reproduced(
        "BS 7671", "433.1.1", "load current Ib <= breaker In <= cable Iz (IEC 60364-4-43, 433.1)",
        "cable sizing guides; the number of the regulation from memory", "2018",
    ),
    "iec ring": _reproduced(
        "BS 7671", "433.1.204", "a ring on a 30 or 32 A breaker: each leg at least 20 A",
        "electricians' forum and the institution's forum", "2018",
    ),
    "iec cable": _reproduced(
        "BS 7671", "table 4D5 (methods A, C) and 4D2A (methods B, E)",
        "current-carrying capacity of two-core 70 °C cable at 30 °C",
        "reproductions of 4D5 for 1 to 10 mm2 method C and small sizes of A and B; the other rows from memory", "2018",
    ),
    "iec ambient": _reproduced(
        "BS 7671", "table 4B1", "rating factor for ambient temperature, 70 °C thermoplastic",
        "derating page, 30 to 50 °C; the other rows from memory", "2018",
    ),
    "iec grouping": _reproduced(
        "BS 7671", "table 4C1", "rating factor for bunched circuits", "cable selection pages (1 to 9, 12, 16, 20)",
        "2018",
    ),
    "iec flexible": _reproduced(
        "BS 7671", "table 4F3A", "capacity of flexible cords, 60 °C, and its ambient factors",
        "wholesaler's technical page", "2018",
    ),
    "iec drum": _reproduced(
        "BS 7671", "table 4F1A, note 2", "flexible cable on a drum: 85, 65, 45, 35 % for 1 to 4 layers",
        "distributor's technical page", "2018",
    ),
    "iec drop": _reproduced(
        "BS 7671", "appendix 4, section 6.4", "voltage drop to the point of use: 3 % lighting, 5 % other",
        "voltage-drop pages", "2018",
    ),
    "iec residual": _reproduced(
        "BS 7671", "411.3.3", "residual current device of 30 mA or less for socket-outlets up to 32 A",
        "guides for installers", "2018",
    ),
    "iec leakage": _reproduced(
        "BS 7671", "531.3.2", "standing leakage of the circuit at most 30 % of the device's rating",
        "engineering page on residual current devices", "2018",
    ),
    "iec voltage": _reproduced(
        "EN 50160", "4.2.2", "supply within +10 / -10 % of 230 V; statutory in the United Kingdom +10 / -6 %",
        "electricians' forums", "2010",
    ),
    "plug fuse": _reproduced(
        "BS 1362", "time-current zones",
        "13 A: carries 1.6 x 13 = 20.8 A for 30 min; 1.9 x 13 = 24.7 A blows it within 30 min",
        "teaching page on plug fuses", "1973",
    ),
    "plug rating": _reproduced(
        "BS 1363-2", "temperature rise test", "a 13 A outlet is tested at 14 A until its temperature settles",
        "the institution's forum, quoting the 1995 edition", "",
    ),
    "outlet test": _reproduced(
        "IEC 60884-1", "temperature rise test", "a 16 A household outlet is tested at 22 A for an hour",
        "electrician training site", "",
    ),
    "outlet sustained": Rule(
        standard="Trade practice", clause="no clause", known="common practice, no source",
        says="for hours on end many electricians stay near 10 A on a household outlet; product tests are higher",
    ),
    "lead length": Rule(
        standard="Trade practice", clause="no clause", known="common practice, no source",
        says="leads at 13 A: 1.25 mm2 to 10 m, 1.5 mm2 to 15 m, 2.5 mm2 to 25 m",
    ),
    "iec ring drop": _reproduced(
        "BS 7671", "appendix 4, section 6.4",
        "voltage drop: 3 % lighting, 5 % other; halfway round a ring a quarter of its length counts",
        "voltage-drop pages; electricians' forums for the ring", "2018",
    ),
    "nec load": _reproduced(
        "NFPA 70", "210.20(A)",
        "breaker at least the non-continuous load plus 125 % of the continuous load (3 h or more)",
        "electricians' magazine and code pages", "2023",
    ),
    "nec one appliance": _reproduced(
        "NFPA 70", "210.23(A)(1) and 210.21(B)(2)",
        "on a 15 or 20 A circuit with several outlets one plugged-in appliance takes at most 80 %",
        "electricians' magazine, questions and answers", "2020",
    ),
    "nec receptacle": _reproduced(
        "NFPA 70", "210.21(B)",
        "a single outlet on its own circuit is rated at least as the circuit; table for several",
        "code page with table 210.24", "2020",
    ),
    "nec breaker zones": _remembered(
        "UL 489", "calibration", "carries its rating; trips within 1 h at 1.35, within 2 min at 2 times (to 30 A)",
        "2016",
    ),
    "nec breaker sizes": _reproduced("NFPA 70", "240.6(A)", "standard ampere ratings", "code pages", "2023"),
    "nec cable": _reproduced(
        "NFPA 70", "table 310.16", "ampacity of copper, 60/75/90 °C, at 30 °C",
        "reference pages printing the 2023 table", "2023",
    ),
    "nec small conductors": _reproduced(
        "NFPA 70", "240.4(D)", "breaker at most 15 A on 14 AWG, 20 A on 12 AWG, 30 A on 10 AWG", "course pages", "2017",
    ),
    "nec terminals": _reproduced(
        "NFPA 70", "110.14(C)", "up to 100 A the 60 °C column, unless all terminals are marked 75 °C",
        "reference page", "2023",
    ),
    "nec ambient": _reproduced(
        "NFPA 70", "table 310.15(B)(1)", "correction for ambient temperature", "code page with the table", "2020",
    ),
    "nec grouping": _reproduced(
        "NFPA 70", "table 310.15(C)(1)", "adjustment for more than three current-carrying conductors",
        "reproduction of the 2014 table", "2020",
    ),
    "nec flexible": _reproduced(
        "NFPA 70", "table 400.5(A)(1), two conductors", "ampacity of flexible cords",
        "appliance standard quoting the table (18 to 12 AWG); 10 and 8 AWG from memory", "2020",
    ),
    "nec extension": _reproduced(
        "UL 817", "table 115",
        "extension cord sets: 15 A needs 14 AWG to 50 ft, 12 AWG beyond; 20 A 12 AWG, then 10 AWG",
        "code forum quoting the table",
    ),
    "nec drop": _reproduced(
        "NFPA 70", "210.19(A), informational note", "recommended: 3 % on the branch circuit, 5 % in all",
        "code quiz page", "2017",
    ),
    "nec residual": _remembered(
        "NFPA 70", "210.8", "ground-fault protection (about 5 mA, UL 943 class A) in kitchens, garages, outdoors",
        "2020",
    ),
    "nec voltage": _remembered("ANSI C84.1", "range A", "service voltage within 5 % of nominal", "2020"),
    "nameplate": _remembered("IEC 60335-1", "10.1", "heating appliances above 200 W: input +5 / -10 % of the plate"),
    "contract": _reproduced(
        "Supply contract", "as entered",
        "above the contracted power, and what it lets pass for a time, the supply drops out",
        "pages of a network operator and a supplier on meters with a limiter",
    ),
    "peak charge": Rule(
        standard="Tariff", clause="peak_charge, as entered", known="common practice, no source",
        says="the month's highest mean power over windows fixed to the clock is charged",
    ),
    "motor start": _reproduced(
        "Trade practice", "no clause", "a compressor draws about six times its running current while it starts",
        "repair page on refrigerator compressors (600 %)",
    ),
})  # fmt: skip
"""Every rule by its short name."""
