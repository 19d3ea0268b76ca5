"""A measured day beside the planned one: phase by phase, and the input that explains the difference best."""

from energyplan.measured.compare import DayComparison, PhaseComparison, compare_with_log, comparison_document
from energyplan.measured.explain import Explanation

__all__ = ["DayComparison", "Explanation", "PhaseComparison", "compare_with_log", "comparison_document"]
