"""Build a revision file in a process of its own, so that a service's look-ups go on undisturbed.

In a thread it would share the interpreter's lock, and SQLite's own, with look-ups that must not wait.
"""

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import msgspec
from msgspec import Struct
from sqlmodel import Session

from snapline_service import database
from snapline_service.revisions import building
from snapline_service.revisions.content import Built, Plan
from snapline_service.revisions.supplement import meta_of

# Look-ups go before: a build gives way where processors are short.
_NICE = 10
# Starting a process takes as long as preparing the answers of so many documents.
_SOON_DONE = 1000


class _Order(Struct, frozen=True):
    """What the process is told on its standard input; a database's address may hold a password."""

    database: str
    plan: Plan
    place: str
    previous: str | None


def build(session: Session, url: str, plan: Plan, place: Path, previous: Path | None) -> Built:
    """Write a revision's file as ``building.build`` does, apart unless it is soon done.

    Raises OSError or sqlite3.Error if that fails.
    """
    if previous and max(len(plan.changes), int(meta_of(previous).get("entries", 0))) < _SOON_DONE:
        return building.build(session, plan, place, previous)
    if not plan.base_number and len(plan.changes) < _SOON_DONE:
        return building.build(session, plan, place, previous)
    return _build_apart(url, plan, place, previous)


def _build_apart(url: str, plan: Plan, place: Path, previous: Path | None) -> Built:
    order = _Order(url, plan, str(place), str(previous) if previous else None)
    command = [sys.executable, "-m", "snapline_service.revisions.apart"]
    path = os.pathsep.join(filter(None, sys.path))
    done = subprocess.run(  # noqa: S603 - our own module
        command,
        input=msgspec.json.encode(order),
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONPATH": path},
    )
    if done.returncode != 0:
        place.unlink(missing_ok=True)
        said = done.stderr.decode(errors="replace").strip().rpartition("\n")[2]
        raise OSError(said or f"the process that builds it ended with {done.returncode}")
    return msgspec.json.decode(done.stdout, type=Built)


def main() -> int:
    """Build what standard input orders and say what came of it."""
    os.nice(_NICE)
    order = msgspec.json.decode(sys.stdin.buffer.read(), type=_Order)
    engine = database.connect(order.database)
    try:
        with database.reading(engine) as session:
            previous = Path(order.previous) if order.previous else None
            built = building.build(session, order.plan, Path(order.place), previous)
    except (OSError, sqlite3.Error) as error:
        sys.stderr.write(str((isinstance(error, OSError) and error.strerror) or error))
        return 1
    finally:
        engine.dispose()
    sys.stdout.buffer.write(msgspec.json.encode(built))
    return 0


if __name__ == "__main__":
    sys.exit(main())
