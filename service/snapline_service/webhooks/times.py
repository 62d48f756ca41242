"""Times as the database has them."""

from datetime import UTC, datetime, timedelta


def in_s(seconds: float) -> str:
    """Return the time so many seconds from now (before it, if negative) as ``database.now`` does."""
    return (datetime.now(UTC) + timedelta(seconds=seconds)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
