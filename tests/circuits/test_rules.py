"""The list of rules: every rule says where it stands and how it is known."""

import inspect
import re
from collections.abc import Callable
from datetime import UTC, datetime
from types import ModuleType

import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits import breakers, cables, enough, protection, remedies, supplyfindings, wirefindings
from energyplan.circuits.check import check
from energyplan.circuits.findings import RULES
from energyplan.plan.model import Circuit, Extension, OtherLoad
from energyplan.telling import circuit, findings, wiring
from energyplan.telling import protection as protection_words

START = datetime(2026, 5, 9, 7, tzinfo=UTC)


@pytest.mark.parametrize("name", list(RULES))
def test_every_rule_says_how_it_is_known(name: str) -> None:
    """A reproduced rule names the kind of page; a remembered one names none."""
    rule = RULES[name]
    assert rule.standard
    assert rule.says
    assert (rule.known == "published reproduction") == bool(rule.page)
    assert rule.citation().startswith(rule.standard)


def test_citation_carries_edition_and_clause() -> None:
    """Edition and clause stand in the citation."""
    assert RULES["iec load"].citation() == "BS 7671:2018, 433.1.1 [r]"
    assert RULES["nec cable"].citation("2017") == "NFPA 70:2017, table 310.15(B)(16) [m]"


AMERICAN = re.compile(r"NFPA|NEMA|UL |ANSI|C84")


@pytest.mark.parametrize("power_w", [1500, 6000])
def test_findings_cite_the_rules_of_their_circuit(
    profile: Callable[..., LoadProfile], sixteen: Callable[..., Circuit], twenty: Callable[..., Circuit], power_w: float
) -> None:
    """No American rule stands behind a finding of a European circuit, and no other one behind an American finding."""
    for entered, is_american in ((sixteen(), False), (twenty(), True)):
        day = profile("Vessel", [(0, 240, 1)], power_w=power_w, voltage_v=entered.voltage_v)
        teller = findings.FindingTeller(START, UTC)
        cited = {one.code: teller.rules(one) for one in check([day], entered, (), START, UTC).findings}
        assert len(cited) > 5
        assert not [rules for rules in cited.values() if rules and bool(AMERICAN.search(rules)) != is_american]


# What an electrician would look up (editions and how each was read: beside the rules).
CITED = {
    "breaker": ("IEC 60898-1:2015, table 7", "UL 489:2016"),
    "breaker_start": ("IEC 60898-1:2015, table 2", "Trade practice"),
    "continuous": ("Trade practice", "NFPA 70:2023, 210.20(A)"),
    "outlet": ("IEC 60884-1", "NFPA 70:2023, 210.21(B)(1)"),
    "outlet_hours": ("Trade practice", None),
    "outlet_protection": ("BS 7671:2018, 433.1.1", "NFPA 70:2023, 210.21(B)(1)"),
    "cable": ("BS 7671:2018, table 4D5", "NFPA 70:2023, table 310.16"),
    "cable_protection": ("BS 7671:2018, 433.1.1", "NFPA 70:2023, 240.4(D)"),
    "extension": ("BS 7671:2018, table 4F3A", "UL 817, table 115"),
    "lead_protection": ("BS 7671:2018, 433.1.1", "NFPA 70:2023, table 400.5(A)(1)"),
    "lead_length": ("Trade practice", "Trade practice"),
    "voltage_drop": ("BS 7671:2018, appendix 4, section 6.4", "NFPA 70:2023, 210.19, informational note"),
    "disconnection": ("BS 7671:2018, 411.4.4 and table 41.3", "NFPA 70:2023, table 250.122"),
    "residual_current": ("BS 7671:2018, 411.3.3", "NFPA 70:2023, 210.8(A)"),
    "leakage": ("BS 7671:2018, 531.3.2", "IEC 60335-1, 13.2 and 16.2"),
    "voltage": ("EN 50160:2010, 4.2.2", "ANSI C84.1:2020, range A"),
    "main_fuse": ("BS 7671:2018, 132.3 and 433.1", "BS 7671:2018, 132.3 and 433.1"),
    "place": ("IEC 60529, second numeral", "NFPA 70:2023, 406.9(B)"),
    "isolation": ("BS 7671:2018, 462.2 and table 537.4", "NFPA 70:2023, 422.33(A)"),
}


@pytest.mark.parametrize("family", [0, 1])
def test_each_finding_cites_what_an_electrician_would_look_up(
    profile: Callable[..., LoadProfile], sixteen: Callable[..., Circuit], twenty: Callable[..., Circuit], family: int
) -> None:
    """A circuit with all entries, an outlet smaller than its breaker, a long lead and a pump beside the vessel."""
    entries = {
        "outlet_a": 15.0, "breaker_a": 20.0, "cable_length_m": 10.0, "main_fuse_a": 63.0, "place": "garage",
        "extension": Extension(cable_mm2=2.5, length_m=30.0), "dedicated": True,
        "residual_current_device": "5 mA" if family else "30 mA, type A",
    }  # fmt: skip
    circuit = (twenty if family else sixteen)(**entries)
    day = profile("Vessel", [(0, 240, 1)], power_w=12.0 * circuit.voltage_v, voltage_v=circuit.voltage_v)
    result = check([day], circuit, [OtherLoad(name="Pump", power_w=20.0)], START, UTC)
    teller = findings.FindingTeller(START, UTC)
    cited = {one.code: teller.rules(one) for one in result.findings if one.code != "sharing"}
    assert set(cited) == {code for code, rules in CITED.items() if rules[family]}
    wrong = {code: rules for code, rules in cited.items() if not str(rules).startswith(str(CITED[code][family]))}
    assert wrong == {}


@pytest.mark.parametrize("module", [protection, wirefindings, supplyfindings])
def test_findings_cite_rules_that_exist(module: ModuleType) -> None:
    """Every rule name that a module of findings writes out is in the list."""
    names = set(re.findall(r'"((?:iec|nec) [a-z ]+|plug fuse|plug rating|outlet sustained|motor start)"',
                           inspect.getsource(module)))  # fmt: skip
    assert names
    assert names <= set(RULES)


@pytest.mark.parametrize(
    "module",
    [
        protection,
        wirefindings,
        supplyfindings,
        remedies,
        enough,
        breakers,
        cables,
        circuit,
        findings,
        wiring,
        protection_words,
    ],
)
def test_nothing_is_ever_called_safe(module: ModuleType) -> None:
    """The words that promise too much stand nowhere."""
    text = inspect.getsource(module)
    assert not re.search(r"\b(safe|safely|compliant|approved|guaranteed)\b", text, re.IGNORECASE)


def test_caution_defers_to_code_and_electrician() -> None:
    """The caution names the entered ratings, the local code and the electrician."""
    caution = str(circuit.RATINGS_CAUTION)
    assert "ratings you entered" in caution
    assert "local codes rule" in caution
    assert "licensed electrician decides" in caution


def test_a_rule_of_a_chosen_edition_is_marked_by_the_one_that_was_read() -> None:
    """Table 250.122 was read as of 2023 and is from memory in 2017; 422.33(A) was read in an older one."""
    assert RULES["nec earth"].citation() == "NFPA 70:2023, table 250.122 [r]"
    assert RULES["nec earth"].citation("2017") == "NFPA 70:2017, table 250.122 [m]"
    assert RULES["nec isolation"].citation() == "NFPA 70:2023, 422.33(A) [m]"
