"""Days and times of day as a page writes them. The year of a typical year means nothing."""

from datetime import datetime

from restcab.said import clock


def time_of_day(when: datetime | str) -> str:
    """Time of day of a moment, as 20:00; a text is in ISO format."""
    moment = _moment(when)
    return clock(moment.hour + moment.minute / 60.0)


def day(when: datetime | str) -> str:
    """Day and month of a moment, as 21 July; a text is in ISO format."""
    return f"{_moment(when):%d %B}"


def day_and_time(when: datetime | str) -> str:
    """Day, month and time of day of a moment, as 21 July, 20:00; a text is in ISO format."""
    return f"{day(when)}, {time_of_day(when)}"


def _moment(when: datetime | str) -> datetime:
    return datetime.fromisoformat(when) if isinstance(when, str) else when
