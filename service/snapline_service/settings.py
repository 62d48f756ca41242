"""Settings, read once from the environment."""

import os
import secrets
from pathlib import Path

from msgspec import Struct


class Settings(Struct, frozen=True):
    """Where the service keeps its data.

    ``secret`` keys the stored hashes of API keys. It comes from SNAPLINE_SECRET or, if that is unset, from
    a file beside the revision files; hosts that share one database must share it.
    """

    database: str
    data_folder: Path
    secret: bytes
    revision_files_kept: int = 3


def load(database: str | None = None) -> Settings:
    """Return the settings. ``database`` goes before SNAPLINE_DATABASE."""
    url = database or os.environ.get("SNAPLINE_DATABASE") or "sqlite:///snapline.db"
    folder = Path(os.environ.get("SNAPLINE_DATA") or _default_folder(url))
    return Settings(
        database=url,
        data_folder=folder,
        secret=_secret(folder),
        revision_files_kept=int(os.environ.get("SNAPLINE_REVISION_FILES_KEPT", "3")),
    )


def _default_folder(url: str) -> str:
    path = url.partition(":///")[2] if url.startswith("sqlite") else ""
    return f"{path}.revisions" if path else "snapline.revisions"


def _secret(folder: Path) -> bytes:
    given = os.environ.get("SNAPLINE_SECRET")
    if given:
        return given.encode()
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "secret"
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_bytes()
    with os.fdopen(handle, "wb") as file:
        file.write(secrets.token_hex(32).encode())
    return path.read_bytes()
