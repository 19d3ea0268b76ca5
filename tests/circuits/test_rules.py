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
from energyplan.plan.model import Circuit
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
