"""Put a revision file in its place with its hash beside it, and tell whether it is still what was written."""

import hashlib
import os
import re
from pathlib import Path


def place(built: Path, path: Path) -> None:
    """Move a file that was built to its place; its hash goes beside it as ``sha256sum`` writes it."""
    line = f"{sha256(built)}  {path.name}\n"
    built.replace(path)
    beside = built.with_suffix(".hash.building")
    try:
        with beside.open("w") as file:
            file.write(line)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(hash_path(path))
    finally:
        beside.unlink(missing_ok=True)


def remove(path: Path) -> None:
    """Remove a file and its hash."""
    path.unlink(missing_ok=True)
    hash_path(path).unlink(missing_ok=True)


def is_whole(path: Path) -> bool:
    """Whether every byte of a file is as it was written: reads all of it."""
    return recorded(path) == sha256(path)


def recorded(path: Path) -> str | None:
    """Return the hash that was written beside a file."""
    try:
        found = re.fullmatch(r"([0-9a-f]{64})  .*\n", hash_path(path).read_text())
    except (OSError, UnicodeDecodeError):
        return None
    return found[1] if found else None


def sha256(path: Path) -> str:
    """Return a file's SHA-256 in hexadecimal; other threads run meanwhile."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def hash_path(path: Path) -> Path:
    """Return where a file's hash is."""
    return path.with_suffix(".sha256")
