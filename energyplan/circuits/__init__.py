"""A day's loads against the circuit that feeds them: currents, ratings, findings, and what would be enough."""
