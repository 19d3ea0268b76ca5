"""Sentences take values that know what they are, and nothing else."""

import pickle

import pytest

from energyplan.base.kinds import CELSIUS, KWH, WORD, WRITTEN, Style
from energyplan.base.sentence import Sentence, Span, listed, words


@pytest.mark.parametrize("bare", [1.0, "text", None, 3])
def test_a_bare_value_is_refused(bare: object) -> None:
    """What a number or text is must be said."""
    with pytest.raises(TypeError, match="give it a kind"):
        Sentence("{x}", x=bare)


def test_names_and_values_belong_together() -> None:
    """Neither a name without a value nor a value without a name."""
    with pytest.raises(TypeError):
        Sentence("{x}")
    with pytest.raises(TypeError):
        Sentence("no name", x=KWH(1.0))


def test_braces_that_a_person_wrote_are_not_obeyed() -> None:
    """A name is filled in once, as text."""
    assert str(Sentence("Step {name}", name=WRITTEN("{name} {0.__class__}"))) == "Step {name} {0.__class__}"


def test_a_face_chooses_what_makes_text_harmless() -> None:
    """Only what a person wrote passes through it."""
    said = Sentence("{step} *now*: {clause}", step=WRITTEN("*x*"), clause=Sentence("{y}", y=WRITTEN("[y]")))
    assert words(said, Style(written=lambda text: f"<{text}>")) == "<*x*> *now*: <[y]>"


def test_ranges_and_lists() -> None:
    """One unit at the end of a range; "and" before the last."""
    assert str(Span(KWH, 6.91, 8.56)) == "6.9 to 8.6 kWh"
    assert str(Span(CELSIUS, 64.0, 64.01)) == "64 °C"
    assert str(listed([WORD("a"), WORD("b"), WORD("c")])) == "a, b and c"
    assert str(listed([WORD("a")])) == "a"


def test_a_sentence_survives_a_cache() -> None:
    """Pickled, compared and hashed by what it says."""
    said = Sentence("{x} it is", x=CELSIUS(20.0))
    assert pickle.loads(pickle.dumps(said)) == said  # noqa: S301
    assert hash(said) == hash(Sentence("{x} it is", x=CELSIUS(20.0)))


@pytest.mark.parametrize(
    ("last", "said"), [("and", "a, b and c"), ("or", "a, b or c"), (";", "a; b; c"), (",", "a, b, c")]
)
def test_a_row_of_things_has_no_blank_before_its_signs(last: str, said: str) -> None:
    """Words join the last two, signs join all; one thing stands alone."""
    assert str(listed([WORD("a"), WORD("b"), WORD("c")], last)) == said
    assert str(listed([WORD("a")], last)) == "a"
