"""What may hurt, said under every page."""

__all__ = [
    "CAUTIONS",
]

MAINS_CAUTION = (
    "Mains current, water and 100 °C wort: keep leads dry and fully unwound, test the residual current device, "
    "and leave nothing that heats unattended."
)
RATINGS_CAUTION = (
    "The check compares the plan with the ratings you entered. It is no design; local codes rule, and a licensed "
    "electrician decides."
)
CAUTIONS = (MAINS_CAUTION, RATINGS_CAUTION)
