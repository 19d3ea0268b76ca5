"""The table "how far off" on the help page is what its command computes today."""

import importlib.util
import sys
from pathlib import Path

FOLDER = Path(__file__).parent


def test_the_table_is_todays():
    """Made by ``python -m tests.benchmarks.how_far_off``; run it again where this fails, and read what has changed."""
    spec = importlib.util.spec_from_file_location("how_far_off", FOLDER / "how_far_off.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["how_far_off"] = module
    spec.loader.exec_module(module)
    page = (FOLDER.parent.parent / "energyplan" / "docs" / "accuracy.md").read_text(encoding="utf-8")
    assert module.rewritten(page) == page
