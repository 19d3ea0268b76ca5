"""What is asked about starts before anybody says otherwise: the coming week, in the hours in which people are up."""

from datetime import datetime, time, timedelta

from energyplan.advice.startsanswer import StartsQuestion

__all__ = ["DAYS", "DONE_BY", "NOT_BEFORE", "usual_question"]

DAYS = 7
# Nothing that heats is left unattended; common practice, no source.
NOT_BEFORE, DONE_BY = time(6), time(23)


def usual_question(wall: datetime) -> StartsQuestion:
    """The week from a start on, that start among its rows.

    >>> usual_question(datetime(2026, 12, 5, 8, 30)).last
    '2026-12-11'
    """
    return StartsQuestion(
        first=wall.date().isoformat(),
        last=(wall.date() + timedelta(days=DAYS - 1)).isoformat(),
        earliest=f"{NOT_BEFORE:%H:%M}",
        finish_by=f"{DONE_BY:%H:%M}",
        now=wall.isoformat(timespec="minutes"),
    )
