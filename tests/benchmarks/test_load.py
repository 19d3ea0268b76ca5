"""The stroll of many visitors, with few of them and for a moment, so that it can't rot."""

from types import ModuleType


def test_a_few_visitors_stroll_without_a_fault(load: ModuleType) -> None:
    """Three visitors for six seconds: answers, no fault, a figure for the memory."""
    seen = load.stroll(3, 0.1)
    assert len(seen.answers_s) >= 3
    assert seen.faults == []
    assert "0 faults" in seen.told()
