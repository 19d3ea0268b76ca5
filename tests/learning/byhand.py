"""What the tests by hand share: bins with round numbers."""

import numpy as np

from energyplan.learning.bins import Bins


def bins_of(times_s, shown_c, watts=None, *, readings=None, used_j=None, lid=-1):
    """Bins without a log, by default one reading each; a meter by the mean power between them, or by its energy."""
    times_s = np.array(times_s, dtype=float)
    if watts is not None:
        used_j = np.r_[0.0, np.cumsum(np.array(watts) * np.diff(times_s))]
    return Bins(
        times_s=times_s,
        temperature_c=np.array(shown_c, dtype=float),
        readings=np.ones(times_s.size) if readings is None else np.array(readings, dtype=float),
        used_j=None if used_j is None else np.array(used_j, dtype=float),
        lid=np.broadcast_to(np.array(lid, dtype=np.int8), times_s.shape),
    )
