"""``python -m energyplan`` is the command line."""

from energyplan.cli import main

main()
