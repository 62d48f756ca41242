"""Settings, read once from the environment."""

import os
import secrets
from contextlib import suppress
from pathlib import Path

from msgspec import Struct

from snapline_service.errors import InvalidValue

_SHORTEST_SECRET = 16


class Settings(Struct, frozen=True):
    """Where the service keeps its data, and its limits.

    ``secret`` keys the stored hashes of API keys. It comes from SNAPLINE_SECRET or, if that is unset, from
    a file beside the revision files; hosts that share one database must share it. The secrets of webhooks are
    derived from it.
    """

    database: str
    data_folder: Path
    secret: bytes
    revision_files_kept: int = 3
    requests_per_minute: int = 6000
    answer_within_s: float = 30.0
    body_within_s: float = 30.0
    log_level: str = "info"
    webhooks_deliver: bool = True
    webhooks_allow_private: bool = False


def load(database: str | None = None) -> Settings:
    """Return the settings. ``database`` goes before SNAPLINE_DATABASE."""
    url = database or os.environ.get("SNAPLINE_DATABASE") or "sqlite:///snapline.db"
    folder = Path(os.environ.get("SNAPLINE_DATA") or _default_folder(url))
    return Settings(
        database=url,
        data_folder=folder,
        secret=_secret(folder),
        revision_files_kept=int(os.environ.get("SNAPLINE_REVISION_FILES_KEPT", "3")),
        requests_per_minute=int(os.environ.get("SNAPLINE_REQUESTS_PER_MINUTE", "6000")),
        answer_within_s=float(os.environ.get("SNAPLINE_ANSWER_WITHIN_S", "30")),
        body_within_s=float(os.environ.get("SNAPLINE_BODY_WITHIN_S", "30")),
        log_level=os.environ.get("SNAPLINE_LOG_LEVEL", "info"),
        webhooks_deliver=os.environ.get("SNAPLINE_WEBHOOKS_DELIVER", "1") == "1",
        webhooks_allow_private=os.environ.get("SNAPLINE_WEBHOOKS_ALLOW_PRIVATE", "0") == "1",
    )


def environment(settings: Settings) -> dict[str, str]:
    """Return the variables from which another process loads the same settings."""
    return {
        "SNAPLINE_DATABASE": settings.database,
        "SNAPLINE_DATA": str(settings.data_folder),
        "SNAPLINE_SECRET": settings.secret.decode(),
        "SNAPLINE_REVISION_FILES_KEPT": str(settings.revision_files_kept),
        "SNAPLINE_REQUESTS_PER_MINUTE": str(settings.requests_per_minute),
        "SNAPLINE_ANSWER_WITHIN_S": str(settings.answer_within_s),
        "SNAPLINE_BODY_WITHIN_S": str(settings.body_within_s),
        "SNAPLINE_LOG_LEVEL": settings.log_level,
        "SNAPLINE_WEBHOOKS_DELIVER": str(int(settings.webhooks_deliver)),
        "SNAPLINE_WEBHOOKS_ALLOW_PRIVATE": str(int(settings.webhooks_allow_private)),
    }


def _default_folder(url: str) -> str:
    path = url.partition(":///")[2] if url.startswith("sqlite") else ""
    return f"{path}.revisions" if path else "snapline.revisions"


def _secret(folder: Path) -> bytes:
    given = os.environ.get("SNAPLINE_SECRET")
    if given:
        if len(given) < _SHORTEST_SECRET:
            message = f"SNAPLINE_SECRET has fewer than {_SHORTEST_SECRET} characters."
            raise InvalidValue(message, mend="Choose a long random one and keep it: keys depend on it.")
        return given.encode()
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "secret"
    if not path.exists():
        # Written beside and linked whole, so that a process that starts now never reads half of one.
        own = folder / f"secret.{os.getpid()}"
        own.touch(0o600)
        own.write_text(secrets.token_hex(32))
        with suppress(FileExistsError):
            path.hardlink_to(own)
        own.unlink()
    return path.read_bytes()
