"""energyplan: what a brew day on an electric vessel takes from the mains, costs, and may be allowed to draw."""

__version__ = "0.1.0"
