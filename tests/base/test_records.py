"""Frozen records behave as the standard library's dataclasses do."""

import dataclasses
import pickle
from dataclasses import FrozenInstanceError, field
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.base import records


def pair(**how: Any) -> list[type]:
    """The same class, made by the standard library and by us."""

    def body(make: Any) -> type:
        class Rest:
            """A rest."""

            name: str
            minutes: float = 60.0
            notes: list[str] = field(default_factory=list)

        return make(frozen=True, **how)(Rest)  # type: ignore[no-any-return]

    return [body(dataclasses.dataclass), body(records.dataclass)]


HOW = [
    {"slots": True, "kw_only": True},
    {"slots": True, "kw_only": True, "eq": False},
    {"slots": True},
    {"kw_only": True},
    {"repr": False},
]


@pytest.mark.parametrize("how", HOW, ids=str)
@given(values=st.fixed_dictionaries({"name": st.text()}, optional={"minutes": st.floats(allow_nan=False)}))
def test_values_words_and_equality_are_those_of_the_standard_library(how, values):
    """Made by name, shown, compared, hashed, replaced, laid open: no difference."""
    theirs, ours = (made(**values) for made in pair(**how))
    assert dataclasses.asdict(ours) == dataclasses.asdict(theirs)
    if how.get("repr", True) and len(repr(values["name"])) <= 80:
        assert repr(ours) == repr(theirs)
    assert (ours == type(ours)(**values)) == (theirs == type(theirs)(**values))
    other = dataclasses.replace(ours, name="other")
    assert (other.name, ours.name) == ("other", values["name"])
    assert [(one.name, one.kw_only) for one in dataclasses.fields(ours)] == [
        (one.name, one.kw_only) for one in dataclasses.fields(theirs)
    ]


@pytest.mark.parametrize("how", HOW, ids=str)
@pytest.mark.parametrize(
    ("args", "values"),
    [((), {}), ((), {"name": "a", "other": 1}), (("a",), {"name": "b"}), (("a", 1.0, [], 4), {}), ((), {"minutes": 1})],
)
def test_what_the_standard_library_refuses_is_refused(how, args, values):
    """Too few, too many, twice, unknown."""
    for made in pair(**how):
        with pytest.raises(TypeError):
            made(*args, **values)


def test_a_record_is_frozen_and_its_defaults_are_its_own():
    """Neither set nor deleted; a list by default is a new one each time."""
    _, made = pair(slots=True, kw_only=True)
    one, two = made(name="a"), made(name="a")
    assert one.notes is not two.notes
    with pytest.raises(FrozenInstanceError):
        one.name = "b"
    with pytest.raises(FrozenInstanceError):
        del one.name
    assert not hasattr(one, "__dict__")


def test_a_record_is_shown_in_one_line():
    """Arrays, long lists and long texts in short; what is short as it is."""
    shown = repr(pair()[1](name="a\n" * 500, minutes=np.arange(1000.0), notes=list(range(1000))))
    assert len(shown) < 200
    assert "\n" not in shown
    assert "<array (1000,)>" in shown
    assert "<list of 1000>" in shown


@records.dataclass(frozen=True, slots=True)
class Ranged:
    """Checked after it is made."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise ValueError("the wrong way round")


def test_records_are_checked_hashed_and_pickled():
    """By place, with a check of their own, equal after a journey."""
    one = Ranged(1.0, 2.0)
    assert hash(one) == hash(Ranged(low=1.0, high=2.0))
    assert pickle.loads(pickle.dumps(one)) == one  # noqa: S301 - our own bytes
    with pytest.raises(ValueError, match="wrong way"):
        Ranged(2.0, 1.0)
