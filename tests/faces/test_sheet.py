"""Tests of the PDF: what PDF/UA-1 (ISO 14289-1) asks for, nothing clipped, every finding there, always the same."""

import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from itertools import pairwise
from typing import Any

import pikepdf
import pypdf
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.errors import FileError
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.base.units import Display
from energyplan.faces import sheet
from energyplan.faces.files import Making, _on_paper, file_bytes
from energyplan.plan.file import demo_plans, parse_plan
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.circuit import tell_findings
from energyplan.telling.files import file_told

METRIC, US = Display("metric"), Display("us")
START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
TITLE = "Oat stout for the village hall"
SPACE_PT = 3.0  # a space at the end of a line hangs into the margin
MARGIN_PT = 16 / 25.4 * 72
# ISO 216 A4, 210 x 297 mm, and ANSI/ASME Y14.1 size A, 8.5 x 11 in, in points of 1/72 in.
SIZES_PT = {"a4": (595.28, 841.89), "us-letter": (612.0, 792.0)}
OUTLET = """outlet = "13 A"
plug_fuse = "13 A"
extension = { cable = "1.0 mm2", length = "25 m", rating = "10 A" }
"""
DRYER = """[[other_load]]
name = "Tumble dryer"
power = "2400 W"
from = "10:00"
to = "12:00"

[[other_load]]
name = "Fermentation fridge"
"""
OVERLOADED = (
    ('breaker = "16 A"', 'breaker = "10 A"'),
    ('outlet = "16 A"\n', OUTLET),
    ('residual_current_device = "30 mA, type A"', "residual_current_device = false"),
    ("own_circuit = true", "own_circuit = false"),
    ('[[other_load]]\nname = "Fermentation fridge"\n', DRYER),
)


def demo(title: str, *changes: tuple[str, str]) -> str:
    """The packaged plan with another title and other words."""
    text = demo_plans()["demo"]
    for old, new in ((f'"{TITLE}"', f"'{title}'"), *changes):
        assert old in text
        text = text.replace(old, new, 1)
    return text


def answered(text: str, *, tariff: str | None = "demo") -> Answer:
    """The answer to a plan file's text."""
    return answer(parse_plan(text, source="test"), load_tariff(tariff) if tariff else None, START)


@pytest.fixture(scope="module")
def plain() -> Answer:
    """A day within its ratings."""
    return answered(demo("Amber ale for the boat shed"))


@pytest.fixture(scope="module")
def overloaded() -> Answer:
    """A day that passes several ratings, with findings of all three kinds."""
    found = answered(demo("Bock beyond the breaker", *OVERLOADED))
    assert found.circuit is not None
    assert {finding.severity for finding in found.circuit.findings} == {"ok", "note", "unknown", "over"}
    return found


@pytest.fixture(scope="module")
def overloaded_pdf(overloaded: Answer) -> bytes:
    """Its sheets on A4."""
    return sheet_pdf(overloaded, show=METRIC)


def sheet_pdf(found: Answer, *, show: Display, paper: sheet.Paper = "a4", stamp: datetime | None = None) -> bytes:
    """The sheets of an answer."""
    making = Making(style=Style(show.system), paper=paper, stamp=stamp)
    return file_bytes(file_told(found, ".pdf"), ".pdf", making)


def squeezed(text: str) -> str:
    """Text without any space, and with typographic signs as they are typed: line breaks can't matter."""
    typed = text.replace("−", "-").replace("≤", "<=")
    return re.sub(r"[\s\u00a0\u200b\u00ad]", "", typed)


def words_of(pdf: bytes) -> str:
    """All text of a PDF, squeezed."""
    return squeezed("".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages))


def tags(node: Any) -> Iterator[pikepdf.Dictionary]:
    """Elements of the structure tree, in order."""
    if not isinstance(node, pikepdf.Dictionary):
        return
    if "/S" in node:
        yield node
    children = node.get("/K", [])
    for child in children if isinstance(children, pikepdf.Array) else [children]:
        yield from tags(child)


def tag_names(pdf: bytes) -> list[str]:
    """Names of the tags, in order."""
    with pikepdf.open(BytesIO(pdf)) as opened:
        return [str(tag.S) for tag in tags(opened.Root.StructTreeRoot)]


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("show", [METRIC, US], ids=["metric", "us"])
def test_a_day_takes_three_pages_of_the_paper(plain: Answer, paper: sheet.Paper, show: Display) -> None:
    """One leaf for the electrician, one page for the brew day, in both papers and unit systems."""
    pages = pypdf.PdfReader(BytesIO(sheet_pdf(plain, show=show, paper=paper))).pages
    assert len(pages) == 3
    for page in pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(SIZES_PT[paper], abs=0.01)
    heads = [page.extract_text().upper()[:200] for page in pages]
    assert ["FOR THE ELECTRICIAN" in head for head in heads] == [True, True, False]
    assert "FOR THE BREW DAY" in heads[2]


def test_it_is_marked_as_tagged_titled_and_in_a_language(overloaded_pdf: bytes) -> None:
    """ISO 14289-1: MarkInfo, a structure tree, the title shown, a language, the identifier in the metadata."""
    with pikepdf.open(BytesIO(overloaded_pdf)) as pdf:
        assert bool(pdf.Root.MarkInfo.Marked)
        assert "/StructTreeRoot" in pdf.Root
        assert str(pdf.Root.Lang) == "en-GB"
        assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
        assert str(pdf.docinfo["/Title"]) == "Bock beyond the breaker"
        with pdf.open_metadata() as meta:
            assert meta["dc:title"] == "Bock beyond the breaker"
            assert meta["{http://www.aiim.org/pdfua/ns/id/}part"] == "1"


def test_its_structure_has_headings_tables_lists_and_described_figures(overloaded_pdf: bytes) -> None:
    """Headings begin at the first level and skip none; tables have header cells; both charts have words."""
    names = tag_names(overloaded_pdf)
    levels = [int(name[2]) for name in names if re.fullmatch(r"/H\d", name)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert names.count("/H1") == 2
    assert names.count("/LI") == 8, "open questions, each with its box"
    with pikepdf.open(BytesIO(overloaded_pdf)) as pdf:
        elements = list(tags(pdf.Root.StructTreeRoot))
        figures = [element for element in elements if str(element.S) == "/Figure"]
        assert len(figures) == 2
        assert all(len(str(figure.Alt)) > 40 for figure in figures)
        for table in (element for element in elements if str(element.S) == "/Table"):
            inside = [str(tag.S) for tag in tags(table)]
            assert "/TD" in inside
        headed = [t for t in elements if str(t.S) == "/Table" and "/TH" in [str(tag.S) for tag in tags(t)]]
        assert len(headed) >= 3, "numbers, loads, the clock"


def test_all_content_is_tagged_or_an_artifact(overloaded_pdf: bytes) -> None:
    """ISO 14289-1, 7.1: no text is shown outside marked content."""
    with pikepdf.open(BytesIO(overloaded_pdf)) as pdf:
        for page in pdf.pages:
            depth, shown = 0, 0
            for operands, operator in pikepdf.parse_content_stream(page):
                name = str(operator)
                depth += {"BDC": 1, "BMC": 1, "EMC": -1}.get(name, 0)
                if name in ("Tj", "TJ"):
                    shown += 1
                    assert depth > 0, operands
            assert shown > 20


def test_fonts_are_embedded_and_map_back_to_text(overloaded_pdf: bytes) -> None:
    """ISO 14289-1, 7.21: every font's program is in the file, with a map to Unicode."""
    with pikepdf.open(BytesIO(overloaded_pdf)) as pdf:
        fonts = [obj for obj in pdf.objects if isinstance(obj, pikepdf.Dictionary) and obj.get("/Type") == "/Font"]
        programs = [font for font in fonts if "/FontDescriptor" in font]
        assert programs
        for font in programs:
            assert any(f"/FontFile{kind}" in font.FontDescriptor for kind in ("", "2", "3"))
            assert "Libertinus" in str(font.BaseFont), "the fonts inside typst, none of the machine's"
        assert all("/ToUnicode" in font for font in fonts if font.get("/Subtype") == "/Type0")


def test_charts_are_vectors(overloaded_pdf: bytes) -> None:
    """No picture of dots is in the file."""
    with pikepdf.open(BytesIO(overloaded_pdf)) as pdf:
        assert not [o for o in pdf.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Image"]


@dataclass(frozen=True)
class Run:
    """One shown piece of text: where it begins and ends on the page [pt]."""

    x0: float
    x1: float
    y: float


def shown_runs(page: pikepdf.Page) -> list[Run]:
    """Where a page's own texts stand, from text matrices and glyph widths (ISO 32000-1, 9.4)."""
    fonts = {name: (glyph_widths(font)) for name, font in page.obj.Resources.Font.items()}
    ctm, stack, runs = pikepdf.Matrix(), [], []
    text, widths, size = pikepdf.Matrix(), {}, 0.0
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "q":
                stack.append(ctm)
            case "Q":
                ctm = stack.pop()
            case "cm":
                ctm = pikepdf.Matrix(*map(float, operands)) @ ctm
            case "Tf":
                widths, size = fonts[str(operands[0])], float(operands[1])
            case "Tm":
                text = pikepdf.Matrix(*map(float, operands))
            case "Tj" | "TJ":
                parts = operands[0] if str(operator) == "TJ" else [operands[0]]
                length = sum(length_of(part, widths) for part in parts) * size
                place = text @ ctm
                (x0, y), (x1, _) = place.transform((0, 0)), place.transform((length, 0))
                runs.append(Run(x0, x1, y))
    return runs


def glyph_widths(font: pikepdf.Dictionary) -> dict[int, float]:
    """Widths of a CID font's glyphs in thousandths; ``-1`` holds the default."""
    descendant = font.DescendantFonts[0]
    found = {-1: float(descendant.get("/DW", 1000))}
    listed = list(descendant.get("/W", []))
    while listed:
        first, second = int(listed.pop(0)), listed.pop(0)
        if isinstance(second, pikepdf.Array):
            found |= {first + place: float(width) for place, width in enumerate(second)}
        else:
            found |= dict.fromkeys(range(first, int(second) + 1), float(listed.pop(0)))
    return found


def length_of(part: Any, widths: dict[int, float]) -> float:
    """Length of one string or shift of a TJ, in units of the font size."""
    if not isinstance(part, pikepdf.String):
        return -float(part) / 1000
    raw = bytes(part)
    cids = [int.from_bytes(raw[place : place + 2]) for place in range(0, len(raw), 2)]
    return sum(widths.get(cid, widths[-1]) for cid in cids) / 1000


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_no_text_leaves_the_margins(overloaded: Answer, paper: sheet.Paper) -> None:
    """Every run of text begins and ends between the margins, charts and all."""
    width_pt, height_pt = SIZES_PT[paper]
    with pikepdf.open(BytesIO(sheet_pdf(overloaded, show=US, paper=paper))) as pdf:
        for page in pdf.pages:
            runs = shown_runs(page)
            assert len(runs) > 20
            assert min(run.x0 for run in runs) >= MARGIN_PT - 0.5
            assert max(run.x1 for run in runs) <= width_pt - MARGIN_PT + SPACE_PT
            assert min(run.y for run in runs) > 20
            assert max(run.y for run in runs) < height_pt - 20


def test_endless_names_are_broken_and_not_clipped() -> None:
    """Eighty letters without a space, the longest names there may be, stay within the margins and are all there."""
    names = {word: letter * 80 for word, letter in (("title", "W"), ("step", "M"), ("load", "Q"), ("hops", "m"))}
    others = {"Saccharification": "step", "Fermentation fridge": "load", "Bittering hops": "hops"}
    text = demo(names["title"], *((f'"{old}"', f'"{names[new]}"') for old, new in others.items()))
    pdf = sheet_pdf(answered(text), show=METRIC)
    with pikepdf.open(BytesIO(pdf)) as opened:
        for page in opened.pages:
            assert max(run.x1 for run in shown_runs(page)) <= SIZES_PT["a4"][0] - MARGIN_PT + SPACE_PT
    said = words_of(pdf)
    assert all(name in said for name in names.values())


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_every_finding_can_be_read(overloaded: Answer, paper: sheet.Paper) -> None:
    """Message, remedy and standard of every finding, those that are over before the others."""
    said = words_of(sheet_pdf(overloaded, show=METRIC, paper=paper))
    on_paper = Style(key=_on_paper)
    assert overloaded.circuit is not None
    findings = tell_findings(overloaded)
    for finding in findings:
        for text in (finding.said, finding.mend):
            assert text is None or squeezed(words(text, on_paper)) in said, finding.code
        assert squeezed(finding.rule or "") in said, finding.code
    place = {f.code: said.index(squeezed(words(f.said, on_paper))) for f in findings}
    order = ("over", "unknown", "note", "ok")
    ranked = sorted(findings, key=lambda finding: place[finding.code])
    assert [order.index(finding.severity) for finding in ranked] == sorted(
        order.index(finding.severity) for finding in ranked
    )


def test_many_findings_fit_one_leaf_of_a4(overloaded: Answer, overloaded_pdf: bytes) -> None:
    """Ten findings and more, most of them long, take both sides of one leaf; the brew day takes a third page."""
    assert overloaded.circuit is not None
    assert len(overloaded.circuit.findings) >= 10
    assert len(pypdf.PdfReader(BytesIO(overloaded_pdf)).pages) == 3


def test_the_caution_stands_on_every_page_for_the_electrician(overloaded_pdf: bytes) -> None:
    """It is not a design, and somebody with a licence decides; the word that promises too much is nowhere."""
    pages = [page.extract_text() for page in pypdf.PdfReader(BytesIO(overloaded_pdf)).pages]
    caution = "Not a design. To be verified by a licensed electrician under the local code."
    assert all(squeezed(caution) in squeezed(page) for page in pages[:2])
    said = " ".join(pages).lower()
    assert not re.search(r"\b(safe|compliant|approved)\b", said)


def test_numbers_of_the_day_are_on_it(plain: Answer) -> None:
    """The largest current, the energy and the cost stand on the sheets as on the terminal."""
    said = words_of(sheet_pdf(plain, show=METRIC))
    assert plain.circuit is not None
    assert plain.price is not None
    assert squeezed(f"{plain.circuit.peak_a:.1f} A") in said
    assert squeezed(f"{plain.day.energy_kwh:.2f}") in said
    assert squeezed(f"{plain.price.total.total}") in said


def test_us_units_show_gallons_feet_and_fahrenheit(plain: Answer) -> None:
    """The unit system changes what is shown."""
    said = words_of(sheet_pdf(plain, show=US))
    assert squeezed("1.32 gal at 167 °F") in said  # 5 L at 75 °C; NIST SP 811: 1 gal = 3.785412 L
    assert squeezed("59.1 ft") in said  # 18 m; 1 ft = 0.3048 m
    assert "°C" not in said.replace(squeezed("30 °C"), "").replace(squeezed("100 °C"), "").replace("70°C", "")


HOSTILE = '#import "x" $a$ @b \\u{1} </svg> ]} *b* _i_ `r` // c /* d <e> = f'


def test_a_title_is_never_code() -> None:
    """Signs with a meaning in typst, JSON or SVG are shown as they are typed, in the text and in the file's title."""
    changes = (('"Fermentation fridge"', "'#panic(\"no\") & <g/>'"), ('"Boil"', "'#eval(\"1+1\") $x'"))
    pdf = sheet_pdf(answered(demo(HOSTILE, *changes)), show=METRIC)
    said = words_of(pdf)
    assert said.count(squeezed(HOSTILE)) >= 2
    assert squeezed('#panic("no") & <g/>') in said
    assert squeezed('#eval("1+1") $x') in said
    assert pypdf.PdfReader(BytesIO(pdf)).metadata.title == HOSTILE


def test_the_same_input_gives_the_same_bytes(plain: Answer) -> None:
    """Twice in one process and once in another, with another hash seed."""
    first = sheet_pdf(plain, show=METRIC, paper="us-letter")
    assert sheet_pdf(plain, show=METRIC, paper="us-letter") == first
    program = (
        "import hashlib, sys; from datetime import UTC, datetime; from energyplan.plan.file import parse_plan;"
        "from energyplan.advice.answer import answer; from energyplan.faces.files import Making, file_bytes;"
        "from energyplan.telling.files import file_told;"
        "from energyplan.tariffs.tarifffile import load_tariff; from energyplan.base.units import Display;"
        "plan = parse_plan(sys.stdin.read(), source='test');"
        "told = answer(plan, load_tariff('demo'), datetime(2026, 12, 5, 8, 30, tzinfo=UTC));"
        "sys.stdout.buffer.write(file_bytes(file_told(told, '.pdf'), '.pdf', Making(paper='us-letter')))"
    )
    text = demo("Amber ale for the boat shed").encode()
    run = subprocess.run(  # noqa: S603 - this interpreter with the program above
        [sys.executable, "-c", program], input=text, capture_output=True, check=True, env={"PYTHONHASHSEED": "7"}
    )
    assert run.stdout == first


def test_only_a_stamp_dates_the_file(plain: Answer) -> None:
    """Without a stamp the file has no date; with one it has that."""
    undated = pypdf.PdfReader(BytesIO(sheet_pdf(plain, show=METRIC))).metadata
    stamp = datetime(2026, 11, 30, 18, 5, tzinfo=UTC)
    dated = pypdf.PdfReader(BytesIO(sheet_pdf(plain, show=METRIC, stamp=stamp))).metadata
    assert undated.creation_date is None
    assert dated.creation_date == stamp


def test_without_a_circuit_the_load_is_stated_and_nothing_judged() -> None:
    """The sheet that goes to the electrician before anything is known: numbers, blanks to fill in, questions."""
    text = demo("Nothing known yet")
    text = text[: text.index("[circuit]")] + text[text.index("[[other_load]]") :]
    bare = answered(text, tariff=None)
    assert bare.circuit is None
    pdf = sheet_pdf(bare, show=METRIC)
    said = words_of(pdf)
    assert squeezed("the load is stated, nothing is judged") in said
    assert squeezed("Breaker or fuse") in said
    assert "Withintheratings" not in said
    assert "/Figure" in tag_names(pdf)


def test_letters_that_typst_lacks_are_set_with_other_fonts_or_marked() -> None:
    """A plan in any script gives a sheet; a letter that no font has becomes a question mark, the others stay."""
    lost = "\U000f0001"  # a private letter that no font has
    pdf = sheet_pdf(answered(demo(f"Пиво μπύρα Bière {lost}")), show=METRIC)
    said = words_of(pdf)
    assert squeezed("Пиво μπύρα Bière ?") in said
    assert lost not in said
    with pikepdf.open(BytesIO(pdf)) as opened, opened.open_metadata() as meta:
        assert meta["{http://www.aiim.org/pdfua/ns/id/}part"] == "1"


def failing(*diagnostics: str) -> Any:
    """A stand-in for the setting that fails with one diagnostic after the other."""
    import typst

    told = iter(diagnostics)

    def compiled(text: str, stamp: datetime | None, *, own_fonts_only: bool, picture: bool) -> bytes:
        words = next(told, None)
        if words is None:
            return text.encode()
        error = typst.TypstError(words)
        error.diagnostic = words
        raise error

    return compiled


LOST = 'the text `"{}"` could not be displayed with a font'


def test_only_missing_letters_are_mended(monkeypatch: pytest.MonkeyPatch) -> None:
    """Any other error of typst comes out, in the first stage as in the later ones."""
    import typst

    monkeypatch.setattr(sheet, "_template", lambda: b"#panic(1)")
    with pytest.raises(typst.TypstError, match="panicked"):
        sheet._set("{}", None)
    monkeypatch.setattr(sheet, "_compiled", failing(LOST.format("x"), "another error"))
    with pytest.raises(typst.TypstError, match="another error"):
        sheet._set("{}", None)


def test_lost_letters_are_read_from_the_diagnostic(monkeypatch: pytest.MonkeyPatch) -> None:
    """Letters come in Rust's escapes; several at once are all replaced, and no others."""
    said = " ".join(LOST.format(letters) for letters in (r"\u{f0001}", "麦", r"\\"))
    monkeypatch.setattr(sheet, "_compiled", failing(said, said))
    assert sheet._set("a\U000f0001b麦c\\d", None) == b"a?b?c?d"


def test_letters_that_can_not_be_taken_out_end_in_an_error_that_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """A letter of the template itself can't be replaced: the rounds end."""
    template = '#set document(title: "t")\n\U000f0001'.encode()
    monkeypatch.setattr(sheet, "_template", lambda: template)
    with pytest.raises(FileError, match="no font of this machine"):
        sheet._set("{}", None)


RING = """[circuit]
voltage = "230 V"
breaker = "32 A"
breaker_curve = "B"
outlet = "13 A"
plug_fuse = "13 A"
cable = "2.5 mm2"
cable_length = "40 m"
installation = "C"
ring = true
residual_current_device = "30 mA, type A"
place = "damp"

"""
NANO = """[circuit]
voltage_between_lines = "400 V"
line = "all"
breaker = "16 A"
breaker_curve = "C"
outlet = "16 A"
cable = "2.5 mm2"
cable_length = "20 m"
installation = "C"
place = "garage"

"""
TWO_LEGS = """[circuit]
rules = "nec"
voltage = "240 V"
breaker = "30 A"
outlet = "30 A"
cable = "10 AWG"
cable_length = "40 ft"
installation = "60"

[circuit.extension]
cable = "10 AWG"
length = "25 ft"
rating = "30 A"

"""


def on_circuit(demo_name: str, circuit: str, *changes: tuple[str, str]) -> str:
    """A packaged plan on another circuit, or on none."""
    text = demo_plans()[demo_name]
    begin = text.index("[circuit]")
    end = min(text.index(table, begin) for table in ("[[other_load]]", "[[step]]") if table in text[begin:])
    text = text[:begin] + circuit + text[end:]
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


DAYS = {
    "demo": lambda: demo_plans()["demo"],
    "lakeside": lambda: demo_plans()["lakeside"],
    "ring with a plug fuse": lambda: on_circuit("demo", RING),
    "three phases": lambda: on_circuit(
        "demo", NANO,
        ('power = "1800 W"\nvoltage = "230 V"', 'power = "3000 W"\nvoltage = "230 V"\nline = "L1"'),
        ('power = "1000 W"\nvoltage = "230 V"', 'power = "3000 W"\nvoltage = "230 V"\nline = "L2"'),
    ),
    "240 V with a lead": lambda: on_circuit("lakeside", TWO_LEGS),
    "no circuit": lambda: on_circuit("demo", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", DAYS)
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_the_electrician_s_page_is_one_side_and_no_finding_is_lost(name: str, paper: sheet.Paper) -> None:
    """Signature and boxes on the first side with all that is not in order; every finding on one of the two."""
    found = answered(DAYS[name](), tariff=None)
    front, back = (squeezed(page.extract_text()) for page in pypdf.PdfReader(
        BytesIO(sheet_pdf(found, show=METRIC, paper=paper))).pages[:2])  # fmt: skip
    assert squeezed("Looked at by") in front
    assert squeezed("after mending") in front
    assert squeezed("Open questions") in back
    for finding in tell_findings(found):
        side = back if finding.severity == "ok" else front
        assert squeezed(str(finding.said)) in side, finding.code
