"""``python -m energyplan.cli``."""

from energyplan.cli import main

main()
