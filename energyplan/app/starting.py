"""Hours in which people are up, before anybody says otherwise."""

from datetime import time

__all__ = ["DONE_BY", "NOT_BEFORE"]

# Nothing that heats is left unattended; common practice, no source.
NOT_BEFORE, DONE_BY = time(6), time(23)
