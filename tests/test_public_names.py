"""The public names of the package."""

import pytest

import energyplan


@pytest.mark.parametrize("name", energyplan.__all__)
def test_every_public_name_is_there(name):
    """Each name in ``__all__`` can be had from the package, and has a docstring."""
    assert getattr(energyplan, name).__doc__


def test_other_names_are_not():
    """An unknown name is an ordinary AttributeError."""
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        energyplan.nonsense  # noqa: B018
