"""Which day it is, wherever on Earth somebody asks."""

from datetime import UTC, datetime, timedelta


def earliest() -> str:
    """Return the day that it is where days begin last: what lies before it is over everywhere."""
    return (datetime.now(UTC) - timedelta(hours=12)).date().isoformat()


def latest() -> str:
    """Return the day that it is where days begin first: what lies after it has begun nowhere."""
    return (datetime.now(UTC) + timedelta(hours=14)).date().isoformat()
