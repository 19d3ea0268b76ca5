"""What the supplier charges, as one step function of price, and what a load costs on it."""
