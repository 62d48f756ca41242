"""What a revision consists of: what differs from the one before, and one hash over all of it."""

import hashlib
import sqlite3
from typing import Any

from msgspec import Struct

from snapline_service.catalogue.store import Entry

# Lines of kind, name and hash in the order of their bytes: no name holds a character below the blank. SQLite
# puts them together without holding up Python's other threads.
_LINES = "SELECT group_concat(kind || ' ' || name || ' ' || hash || char(10), '') FROM ({})"
_ONE = "SELECT kind, name, hash FROM main.entries ORDER BY kind, name"
_BOTH = """
SELECT kind, name, hash FROM base.entries e WHERE NOT EXISTS
    (SELECT 1 FROM main.overridden o WHERE o.kind = e.kind AND o.name = e.name)
UNION ALL SELECT kind, name, hash FROM main.entries ORDER BY kind, name
"""


class Plan(Struct, frozen=True, kw_only=True):
    """A revision to be built: the one it builds on (0: on nothing), and what differs from that.

    ``base_manifest`` is the content hash of the one it builds on.
    """

    group_id: str
    number: int
    base_number: int
    base_manifest: str
    changes: list[Entry]
    retired: list[tuple[str, str]]


class Built(Struct, frozen=True):
    """What a revision came to."""

    manifest_hash: str
    entries: int


def manifest_of(file: sqlite3.Connection, *, supplement: bool = False) -> str:
    """Return one hash over the names and document hashes of a revision; equal content has equal hashes."""
    (lines,) = file.execute(_LINES.format(_BOTH if supplement else _ONE)).fetchone()
    return hashlib.sha256((lines or "").encode()).hexdigest()


def write_meta(file: sqlite3.Connection, number: int, built: Built, **more: Any) -> None:
    """Write what a file says of itself."""
    meta = {"revision": number, "manifest_hash": built.manifest_hash, "entries": built.entries, **more}
    rows = ((key, str(value)) for key, value in meta.items())
    file.executemany("INSERT OR REPLACE INTO main.meta VALUES (?, ?)", rows)
