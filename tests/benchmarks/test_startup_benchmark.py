"""How long whole commands take, as a multiple of importing pandas in the same run."""

from types import ModuleType

import pytest

NOISE = 1.15  # of a shared machine, on top of what is aimed at: common practice, no source


@pytest.mark.parametrize("word", ["--help", "report", "power", "savings", "sheet"])
def test_a_command_takes_no_longer_than_its_multiple_of_importing_pandas(
    benchmark, how_fast: ModuleType, word: str
) -> None:  # type: ignore[no-untyped-def]
    """Medians of fifteen pairs, one after the other; without ``--benchmark-enable`` one pair, and that it runs."""
    (shown, aim), *others = [item for item in how_fast.COMMANDS.items() if item[0].startswith(word)]
    assert not others
    pairs = how_fast.PAIRS if benchmark.enabled else 1
    own_s, ratio = benchmark.pedantic(how_fast.command_s, args=(shown, pairs), rounds=1)
    benchmark.extra_info.update(seconds=own_s, times_import_pandas=ratio, aimed_at=aim)
    if benchmark.enabled:
        assert ratio <= NOISE * aim
