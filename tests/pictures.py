"""Makes the pictures of the app that README.md shows: ``python -m tests.pictures``. Needs chromium."""

import importlib.util
import io
import sys
import tempfile
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.Image import Image

FOLDER = Path(__file__).parent.parent / "energyplan" / "demo" / "pictures"
START = "day=2026-12-05&at=06:30"  # from the night rate into the day rate
PAGES = {"day": "", "circuit": "circuit"}  # file name to the page's address
WIDE, HIGH, BAR = 1040, 850, 50  # pixels; the empty bar on top is cut off
COLOURS = 48
ALIKE = 0.0001  # a picture that differs in fewer of its pixels than this, as by other shades, is left as it is


def _browser_fixtures() -> ModuleType:
    """The server of the browser tests, which are no package."""
    path = Path(__file__).parent / "browser" / "visits.py"
    spec = importlib.util.spec_from_file_location("tests_browser_visits", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def seen(folder: Path) -> dict[str, bytes]:
    """Each page as a browser shows it, in light colours."""
    from playwright.sync_api import sync_playwright

    shared, found = _browser_fixtures(), {}
    with shared.serving(folder) as (address, _), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(shared.CHROMIUM), args=shared.FLAGS)
        context = browser.new_context(viewport={"width": WIDE, "height": HIGH}, color_scheme="light")
        page = context.new_page()
        for name, path in PAGES.items():
            page.goto(f"{address}/{path}?{START}")
            page.locator("[data-testid='stVegaLiteChart'] svg").first.wait_for()
            page.wait_for_selector("[data-test-script-state='notRunning']")
            page.wait_for_timeout(1500)
            found[name] = page.screenshot(clip={"x": 0, "y": BAR, "width": WIDE, "height": HIGH - BAR})
        browser.close()
    return found


def small(content: bytes) -> "Image":
    """The picture in few colours, a fifth of the bytes."""
    from PIL import Image

    return Image.open(io.BytesIO(content)).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)


def is_alike(path: Path, picture: "Image") -> bool:
    """Whether a picture that is there shows the same, give or take the edges of letters."""
    from PIL import Image, ImageChops

    if not path.exists():
        return False
    with Image.open(path) as there:
        before, after = there.convert("L"), picture.convert("L")
    if before.size != after.size:
        return False
    differing = ImageChops.difference(before, after).point(lambda level: 255 if level > 40 else 0).histogram()[255]
    return differing / (before.width * before.height) < ALIKE


def main() -> None:
    """Write the pictures that changed."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        for name, content in seen(Path(folder)).items():
            path, picture = FOLDER / f"{name}.png", small(content)
            if not is_alike(path, picture):
                picture.save(path, optimize=True)
            sys.stdout.write(f"{path.name}: {path.stat().st_size} bytes\n")


if __name__ == "__main__":
    main()
