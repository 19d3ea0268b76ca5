"""The help pages tell the truth: their keys are the models', their examples run."""

import re
import shlex
from importlib.resources import files
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

import energyplan
from energyplan.cli import made
from energyplan.learning.logfile import parse_log
from energyplan.plan.file import parse_plan
from energyplan.tariffs.tarifffile import parse_tariff

FOLDER = files("energyplan") / "docs"
PAGES = sorted(page.name.removesuffix(".md") for page in FOLDER.iterdir() if page.name.endswith(".md"))


def _blocks(kind: str) -> list[tuple[str, str]]:
    return [
        (page, block)
        for page in PAGES
        for block in re.findall(rf"```{kind}\n(.*?)```", (FOLDER / f"{page}.md").read_text(encoding="utf-8"), re.DOTALL)
    ]


COMMANDS = [(page, line) for page, block in _blocks("sh") for line in block.splitlines()]


def test_every_key_has_a_meaning(docs):
    """Each key of the models is explained once; what is explained exists."""
    told = docs.meanings()
    for path, model in docs.tables().items():
        keys = {key for key, _ in docs.own_keys(path, model)}
        assert keys <= set(told.get(path, {})), (
            f"[{path}] {keys - set(told.get(path, {}))}: give it a meaning in docs/keys.toml"
        )


@pytest.mark.parametrize("page", ["plan", "library"])
def test_the_generated_parts_are_todays(docs, page):
    """``python -m tests.docs`` would change nothing."""
    text = (docs.FOLDER / f"{page}.md").read_text(encoding="utf-8")
    assert docs.rewritten(text) == text


def test_every_public_name_is_in_the_reference(docs):
    """How it is called, and what it says of itself."""
    text = (docs.FOLDER / "library.md").read_text(encoding="utf-8")
    for name in energyplan.__all__:
        assert f"\n### {name}\n" in text
        assert getattr(energyplan, name).__doc__.split("\n")[0] in text


@pytest.mark.parametrize(("page", "block"), [one for one in _blocks("toml") if one[0] != "tariff"])
def test_plans_can_be_brewed(page, block):
    """Each plan on a help page reads and simulates."""
    from energyplan.day.brewday import simulate

    assert simulate(parse_plan(block, source=page)).energy_kwh > 0


@pytest.mark.parametrize(("page", "block"), [one for one in _blocks("toml") if one[0] == "tariff"])
def test_tariffs_can_price(page, block):
    """Each tariff on the help page reads; those with a list of prices get one."""
    series = {
        "prices.csv": "start,price\n2026-12-01T00:00Z,80\n2026-12-01T01:00Z,90\n",
        "quarters.csv": "when;cost\n"
        + "".join(f"01.12.2026 {k // 4:02d}:{k % 4 * 15:02d};9,5\n" for k in range(1, 96)),
        "carbon.csv": "start,carbon\n2026-12-01T00:00Z,300\n2026-12-01T01:00Z,310\n",
        "roof.csv": "start,power\n2026-12-01T00:00Z,0\n2026-12-01T01:00Z,0.4\n",
    }
    assert parse_tariff(block, source=page, series_texts=series).table.name


@pytest.mark.parametrize(("page", "block"), _blocks("csv"))
def test_logs_can_be_read(page, block):
    """Each log on a help page reads."""
    assert parse_log(block, source=page).times_s.size > 3


@pytest.mark.parametrize(("page", "line"), COMMANDS)
def test_commands_answer(page, line, tmp_path, monkeypatch):
    """Each command on a help page exits with 0 and says something, or writes its file."""
    monkeypatch.chdir(tmp_path)
    program, *words = shlex.split(line)
    assert program == "energyplan"
    result = CliRunner().invoke(made(), words)
    assert result.exit_code == 0, result.output
    assert result.output.strip() or list(Path(tmp_path).iterdir())


def _named() -> list[tuple[str, str]]:
    """What README and help pages say within a line to type, beside what runs: command and words after it."""
    texts = [(Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")]
    texts += [(FOLDER / f"{page}.md").read_text(encoding="utf-8") for page in PAGES]
    return [found for text in texts for found in re.findall(r"`energyplan (tariff [a-z]+|[a-z]+)([^`]*)`", text)]


def test_commands_named_in_a_sentence_have_the_options_named_with_them():
    """No option that was renamed or left stays in a sentence or a table."""
    top = typer.main.get_command(made()).commands  # type: ignore[attr-defined]
    told = top | {f"tariff {name}": one for name, one in top["tariff"].commands.items()}
    assert len(_named()) > 20
    for name, words in _named():
        there = {option for one in told[name].params for option in one.opts}
        assert set(re.findall(r"(?<![\w-])--?[a-z][\w-]*", words)) <= there, (name, words)


def test_every_page_can_be_asked_for():
    """``explain`` prints each page; of another topic it names those there are."""
    for page in PAGES:
        assert CliRunner().invoke(made(), ["explain", page]).output.strip()
    nothing = CliRunner().invoke(made(), ["explain", "moon"])
    assert nothing.exit_code != 0


@pytest.mark.parametrize(("page", "block"), _blocks("python"))
def test_programs_run(page, block):
    """Each program on a help page runs."""
    exec(compile(block, page, "exec"), {"__name__": page})  # noqa: S102 - our own page


def test_every_key_of_a_tariff_has_a_place_and_an_example():
    """Each key of the tariff file's tables stands on its page, in the examples or in the table of keys."""
    from energyplan.tariffs import tables

    page = (FOLDER / "tariff.md").read_text(encoding="utf-8")
    models = (
        tables.TariffTable,
        tables.PriceSource,
        tables.PeakCharge,
        tables.CarbonSource,
        tables.Generation,
        tables.Tier,
    )
    for model in models:
        for name, field in model.model_fields.items():
            assert re.search(rf"\b{field.alias or name}\b", page), f"{model.__name__}: {field.alias or name}"
