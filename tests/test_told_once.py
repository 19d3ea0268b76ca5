"""Each thing is told once: results become words in the telling, and faces only format."""

import ast
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent / "energyplan"
TELLERS = ("telling", "faces")
# Modules below that write numbers for another reason than to tell a result, and what for.
OTHERWISE = {
    "base/kinds.py": "the kinds themselves",
    "base/sentence.py": "the kinds themselves",
    "base/visible.py": "escapes of characters",
    "base/errors.py": "signs that are not seen, by their number",
    "base/units.py": "units of a file, and examples in messages",
    "base/files.py": "names of files beside the one that is written",
    "plan/equipment.py": "a value of a plan file in its usual spelling",
    "circuits/cables.py": "names of conductors",
    "tariffs/clock.py": "a refusal",
    "tariffs/steps.py": "a refusal",
    "tariffs/series.py": "a refusal",
    "plan/values.py": "clock times of a plan file",
    "advice/firstplan.py": "a plan file",
    "tariffs/dayrules.py": "clock times of a tariff file",
    "tariffs/urdb.py": "a tariff file",
    "tariffs/tarifffile.py": "a tariff file",
    "tariffs/pricelist.py": "a refusal",
    "tariffs/waiting.py": "a refusal",
    "learning/readings.py": "a refusal",
    "app/entries.py": "cells that are edited",
    "app/rows.py": "cells that are edited",
    "app/fields.py": "cells that are edited",
    "app/tariffdraft.py": "cells that are edited",
    "app/header.py": "labels of what was chosen",
    "app/sharing.py": "an address",
}


class Formatted(ast.NodeVisitor):
    """Lines on which a number or a moment is formatted into text, but for refusals and representations."""

    def __init__(self) -> None:
        self.lines: list[int] = []

    def visit_Raise(self, node: ast.Raise) -> None:
        """What is raised is a refusal."""

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        """Representations are for programmers."""
        if node.name not in ("__repr__", "__str__", "_repr_html_"):
            self.generic_visit(node)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """An f-string with a format."""
        if any(isinstance(part, ast.FormattedValue) and part.format_spec is not None for part in node.values):
            self.lines.append(node.lineno)
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        """A moment by strftime."""
        if isinstance(node.func, ast.Attribute) and node.func.attr == "strftime":
            self.lines.append(node.lineno)
        self.generic_visit(node)


def formatted(text: str) -> list[int]:
    """Lines of a module's text on which a number becomes words."""
    found = Formatted()
    found.visit(ast.parse(text))
    return found.lines


MODULES = [path for path in sorted(HOUSE.rglob("*.py")) if path.relative_to(HOUSE).parts[0] not in TELLERS]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(HOUSE)))
def test_results_become_words_in_the_telling_alone(path: Path) -> None:
    """No other module writes a number or a moment into a text."""
    name = str(path.relative_to(HOUSE))
    lines = formatted(path.read_text(encoding="utf-8"))
    if name in OTHERWISE:
        assert lines, f"{name} need not be excused any more"
    else:
        assert not lines, f"{name} writes numbers on lines {lines}"


def test_the_check_sees_what_it_looks_for() -> None:
    """A number in an f-string, a clock; not a refusal, not a representation."""
    assert formatted('said = f"{energy_kwh:.2f} kWh"') == [1]
    assert formatted('said = start.strftime("%H:%M")') == [1]
    assert formatted('raise ValueError(f"{energy_kwh:.2f} kWh")') == []
    assert formatted('def __repr__(self):\n    return f"{self.kwh:.1f}"') == []
