"""Charts, drawn from data frames."""
