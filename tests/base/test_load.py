"""Load profiles: step functions of power over the seconds of a day."""

import numpy as np
import pytest

from energyplan.base.load import LoadProfile, total_mean_w


def load(edges_s: list[float], mean_w: list[float], **columns: list[float]) -> LoadProfile:
    """A profile of one appliance."""
    rest = [0.0] * len(mean_w)
    return LoadProfile(
        name="kettle",
        edges_s=np.array(edges_s),
        mean_w=np.array(mean_w),
        heater_w_per_v2=np.array(columns.get("heater", rest)),
        other_w=np.array(columns.get("other", rest)),
    )


def test_energy_by_hand() -> None:
    """2 kW for half an hour and 300 W for ten minutes are 1.05 kWh."""
    assert load([0, 1800, 2400], [2000, 300]).energy_kwh == pytest.approx(1.05)


def test_values_at_times_are_those_of_the_step_that_begins_there() -> None:
    """Half-open steps, nothing outside."""
    profile = load([-60, 0, 60], [100, 200])
    assert profile.at(profile.mean_w, np.array([-61.0, -60.0, -1.0, 0.0, 59.9, 60.0])).tolist() == [
        0.0, 100.0, 100.0, 200.0, 200.0, 0.0,
    ]  # fmt: skip


def test_appliances_add_up() -> None:
    """Steps of both, energies summed."""
    one, other = load([0, 100], [1000]), load([-50, 50, 200], [500, 20])
    edges_s, mean_w = total_mean_w([one, other])
    assert edges_s.tolist() == [-50, 0, 50, 100, 200]
    assert mean_w.tolist() == [500, 1500, 1020, 20]
    assert float(mean_w @ np.diff(edges_s)) / 3.6e6 == pytest.approx(one.energy_kwh + other.energy_kwh)


@pytest.mark.parametrize(
    ("edges_s", "mean_w", "words"),
    [
        ([0.0], [], "0 steps need"),
        ([0.0, 1.0], [1.0, 2.0], "1 steps need 1 powers"),
        ([0.0, 1.0], [-1.0], "finite and not negative"),
        ([0.0, 1.0], [np.nan], "finite and not negative"),
        ([0.0, 0.0], [1.0], "edges must be finite and increase"),
        ([0.0, np.inf], [1.0], "edges must be finite and increase"),
    ],
)
def test_profiles_that_are_none(edges_s: list[float], mean_w: list[float], words: str) -> None:
    """Shapes, signs and order are checked once, when the profile is made."""
    with pytest.raises(ValueError, match=words):
        load(edges_s, mean_w)
