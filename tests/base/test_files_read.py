"""Reading files: bounded in size, regular files only, nothing beside a tariff but plain names of its own folder."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from energyplan.base.errors import FileError
from energyplan.learning.logfile import read_log
from energyplan.plan.file import read_plan
from energyplan.tariffs.tarifffile import load_tariff

READERS: dict[str, Callable[[str], object]] = {"plan": read_plan, "log": read_log, "tariff": load_tariff}
WITH_SERIES = """\
[tariff]
name = "Hours"
currency = "EUR"
price_unit = "EUR/kWh"
time_zone = "UTC"
[tariff.prices]
file = "prices.csv"
step_minutes = 60
"""
PRICES = "start,price\n2026-01-01T00:00,0.1\n"


@pytest.mark.parametrize("kind", READERS)
def test_only_regular_files_are_read(kind: str, tmp_path: Path) -> None:
    """A folder, a pipe that nobody writes to, an endless device: refused at once, none is waited for."""
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path, tmp_path / "pipe", Path("/dev/zero")):
        with pytest.raises(FileError):
            READERS[kind](str(path))


@pytest.mark.parametrize("kind", READERS)
def test_names_that_no_disk_takes(kind: str) -> None:
    """Names too long or with a NUL are files that can't be read, not tracebacks."""
    for name in ("x" * 5000, "nul\0.toml"):
        with pytest.raises(FileError):
            READERS[kind](name)


@pytest.mark.parametrize("kind", READERS)
def test_huge_files_are_refused_by_their_size(kind: str, tmp_path: Path) -> None:
    """A file of 100 GB (with nothing in it) is not read."""
    with (tmp_path / "huge").open("wb") as file:
        file.truncate(100_000_000_000)
    with pytest.raises(FileError, match="100000000000 bytes"):
        READERS[kind](str(tmp_path / "huge"))


def test_a_series_lies_in_the_tariff_s_own_folder(tmp_path: Path) -> None:
    """A plain file beside the tariff is read; a link, a pipe or a huge file under that name is not."""
    tariff, prices = tmp_path / "tariff.toml", tmp_path / "prices.csv"
    tariff.write_text(WITH_SERIES)
    prices.write_text(PRICES)
    assert load_tariff(tariff).series["prices"].values.size == 1
    prices.rename(tmp_path / "elsewhere.csv")
    prices.symlink_to(tmp_path / "elsewhere.csv")
    with pytest.raises(ValueError, match=r"prices\.csv is a link"):
        load_tariff(tariff)
    prices.unlink()
    os.mkfifo(prices)
    with pytest.raises(ValueError, match="is no file"):
        load_tariff(tariff)
    prices.unlink()
    with prices.open("wb") as file:
        file.truncate(30_000_000)
    with pytest.raises(ValueError, match="expected at most"):
        load_tariff(tariff)


@pytest.mark.parametrize(
    "name", ["../prices.csv", "/etc/passwd", "sub/prices.csv", "..", ".", "a\\\\b.csv", "C:prices.csv", "p\\u0000.csv"]
)
def test_no_path_leaves_the_folder(name: str, tmp_path: Path) -> None:
    """Anything but a plain name is refused before a file is looked at."""
    folder = tmp_path / "tariffs"
    folder.mkdir()
    (tmp_path / "prices.csv").write_text(PRICES)
    (folder / "tariff.toml").write_text(WITH_SERIES.replace("prices.csv", name))
    with pytest.raises(ValueError, match="write a plain file name"):
        load_tariff(folder / "tariff.toml")
