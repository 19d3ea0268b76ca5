"""Outside measurements: a mug of water that cools from 98 degC, and the whole table of hot open tanks.

The mug: 222 readings, one a minute, of the public teaching data set `CoolingWater` (collected by S. Wagon for
students of mathematical modelling; package mosaicData of R. Pruim, D. Kaplan and N. Horton; read in the public
repository vincentarelbundock/Rdatasets, csv/mosaicData/CoolingWater.csv). Neither mug nor room is described, so a
cylinder of 8 cm across and 9 cm high with 0.3 L in it is assumed; the factors take up what is wrong with that.

The boiling points: J. D. Forbes, Further experiments and remarks on the measurement of heights by the boiling point
of water, Trans. Royal Society of Edinburgh 21 (1857), 17 pairs, as reproduced in the data set `forbes` of the
package MASS (Venables and Ripley; read in the same repository, csv/MASS/forbes.csv); used by the README's table.
"""

import numpy as np
import pytest


def rmse(left):
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(left))))


def test_the_data_are_as_described(outside):
    """The mug's 222 minutes from 98.2 to 25.8 degC, Forbes' 17 pairs."""
    mug, forbes = outside("mug"), outside("forbes")
    assert mug["time"].tolist() == list(range(222))
    assert (mug["temperature_c"][0], mug["temperature_c"][-1]) == (98.2, 25.8)
    assert forbes["boiling_point_f"].size == 17


def test_the_mug_is_fitted_with_three_factors(outside, outside_fits):
    """Walls, open surface and air temperature fit 222 minutes within 0.5 K (observed 0.12 K), better than two curves.

    A single exponential leaves 1.48 K, one of three parameters. The open surface comes out near the model's own
    (0.95), the air at 22.1 degC; only the walls (0.18) are far off: a mug is thick and stands on a table.
    """
    fit = outside_fits.mug(outside("mug"))
    assert fit.rmse_k <= 0.5
    assert fit.rmse_k == pytest.approx(0.12, abs=0.02)
    assert fit.open_surface == pytest.approx(1.0, abs=0.25)
    assert 18.0 < fit.air_c < 25.9
    assert fit.largest_k < 1.0


def test_a_single_exponential_is_worse_by_far(outside):
    """The reference: start, end and one time constant, free, leave 1.48 K (issued with the data; reproduced here)."""
    from scipy.optimize import curve_fit

    mug = outside("mug")
    found, _ = curve_fit(lambda t, end, drop, tau: end + drop * np.exp(-t / tau), mug["time"], mug["temperature_c"],
                         p0=(25.0, 70.0, 60.0))  # fmt: skip
    left = mug["temperature_c"] - (found[0] + found[1] * np.exp(-mug["time"] / found[2]))
    assert rmse(left) == pytest.approx(1.48, abs=0.02)


def test_the_whole_table_of_open_tanks(outside_fits):
    """Engineering ToolBox's table, 49 to 99 degC: surface within 10 % to 66 degC, 30 % to 99; wall within 4 %.

    Observed: evaporation 0.94 to 1.04 to 66 degC, 1.13 at 77, 1.30 at 99 (asked: 25 % to 70 degC, factor 1.5 to 88);
    whole surface 0.99 to 1.28; painted wall 0.97 to 1.01. The ratios rise: the table stays behind near the boil.
    """
    ratios = outside_fits.tank_ratios()
    warm = outside_fits.TANK[:, 0] < 70
    below_88 = outside_fits.TANK[:, 0] < 88
    assert np.abs(ratios["evaporation"][warm] - 1).max() < 0.25
    assert ratios["evaporation"][below_88].max() < 1.5
    assert np.abs(ratios["surface"][warm] - 1).max() < 0.10
    assert ratios["surface"].max() < 1.30
    assert np.abs(ratios["wall"] - 1).max() < 0.04


def test_evaporation_from_open_vessels(outside_fits):
    """US DOE, steam tip sheet 19, 43 to 88 degC in dry still air: within 11 % (observed 1.05, 1.01, 0.89)."""
    assert np.abs(outside_fits.open_vessel_ratios() - 1).max() < 0.12


def test_the_table_has_all_its_rows(outside_fits):
    """Every outside source has a line with a deviation; the page is rewritten only between its markers."""
    table = outside_fits.how_far_off()
    for source in ("IAPWS-95", "Forbes", "library ht", "Engineering ToolBox", "tip sheet 19", "CoolingWater", "ASBC",
                   "ICUMSA", "Bubnik", "Pauls & Whites", "Brauwelt", "BS 7671", "common practice"):  # fmt: skip
        assert source in table
    assert len({line.count("|") for line in table.splitlines()}) == 1
    begin, end = outside_fits.MARKERS
    page = outside_fits.rewritten(f"before\n{begin}\nold\n{end}\nafter\n")
    assert page == f"before\n{begin}\n{table}\n{end}\nafter\n"
    with pytest.raises(ValueError, match="no part between"):
        outside_fits.rewritten("a page without markers")
