"""Tests of the README's pictures: small, and left alone when nothing changed."""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest
from PIL import Image

MOST_BYTES = 60_000


@pytest.fixture(scope="module")
def pictures() -> ModuleType:
    """The module that makes them."""
    path = Path(__file__).parents[1] / "pictures.py"
    spec = importlib.util.spec_from_file_location("tests_pictures", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_pictures_are_there_and_small(pictures: ModuleType) -> None:
    """One PNG for each page that the README shows, few bytes each, for they travel with the program."""
    for name in pictures.PAGES:
        path = pictures.FOLDER / f"{name}.png"
        assert path.stat().st_size < MOST_BYTES
        with Image.open(path) as shown:
            assert shown.size == (pictures.WIDE, pictures.HIGH - pictures.BAR)


def test_only_what_changed_is_written_anew(pictures: ModuleType, tmp_path: Path) -> None:
    """The same picture with one letter's edge off is alike; one with a dark field is not, nor one of another size."""
    path, plain = tmp_path / "page.png", Image.new("L", (200, 100), 255)
    assert not pictures.is_alike(path, plain)
    plain.save(path)
    edge, field = plain.copy(), plain.copy()
    edge.putpixel((5, 5), 0)
    field.paste(0, (10, 10, 40, 40))
    assert pictures.is_alike(path, edge)
    assert not pictures.is_alike(path, field)
    assert not pictures.is_alike(path, plain.resize((100, 100)))
