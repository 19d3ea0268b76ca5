"""How to measure a vessel in a kitchen: three tests, with minutes and cautions."""

__all__ = ["measure_guide"]

_GUIDE = """\
Three kitchen tests that measure your vessel. Log every minute or oftener; a
kitchen thermometer read by hand every 5 minutes does too. The file is CSV:
time,temperature_c (minutes, degC), and if you have a plug-in meter power_w or
energy_kwh; lid (on, ajar, off) if you move it.

1. Cool-down: the heat loss (75 to 120 min, of which you are needed for 20)
   - Fill the vessel with as much water as you brew with; measure it cold, to
     1 %.
   - Heat to 75 degC, lid on, pump on. Switch the elements off, leave lid and
     pump as they are.
   - Log for 60 to 90 min, down to about 65 degC (a jacketed vessel: 90 to 120
     min).
   - Note the air temperature beside the vessel, at its height, in the middle
     of the test.
   - Not from the boil and not with the lid off: vapour then takes 2 to 4
     times the heat of the walls.

2. Heat-up: the stored heat and the elements' real power (30 to 60 min)
   - Cold water, measured; lid on; pump on; a plug-in meter between outlet and
     vessel if its rating carries the current for that long.
   - Full power without a break to about 80 degC. Log from the moment you
     switch on.
   - Without a meter the volume pins the scale and the log tells the element
     power; with one the meter does, and the log tells the stored heat too.

3. Boil-off: what leaves as steam (40 to 70 min)
   - Boil water, lid off, at the power that you brew with, for 30 to 60 min,
     the meter running.
   - Measure the volume cold before and after: hot water takes 4 % more room,
     which is as much as is boiled off in half an hour.
   - Litres lost per hour x 0.63 kWh is the heat of the steam; what is left of
     the meter's kWh is the dry loss.

Cautions
   - The vessel is hot and heavy; its steam scalds. Stay near while the
     elements are on, and never let them run without water over them.
   - Use an outlet, plug and lead within the ratings you entered; a cheap
     meter may not be made for an hour at full current. Unwind any reel. Ask a
     licensed electrician where you are not sure; local codes come first.
   - Keep cables and meter away from drips, spray and steam.

Then: energyplan calibrate LOG --plan PLAN
"""


def measure_guide() -> str:
    """Describe the three tests that measure a vessel.

    Examples
    --------
    >>> measure_guide().splitlines()[5]
    '1. Cool-down: the heat loss (75 to 120 min, of which you are needed for 20)'
    """
    return _GUIDE
