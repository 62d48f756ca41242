"""Settings, read once from the environment."""

import math
import os
import secrets
from contextlib import suppress
from pathlib import Path

from msgspec import Struct

from snapline_service.errors import InvalidValue

LOG_LEVELS = ("debug", "info", "warning", "error", "critical")
_SHORTEST_SECRET = 16
_YES = ("1", "true", "yes", "on")
_NO = ("0", "false", "no", "off")


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


def database_url(database: str | None = None) -> str:
    """Return the database's address. ``database`` goes before SNAPLINE_DATABASE."""
    return database or os.environ.get("SNAPLINE_DATABASE") or "sqlite:///snapline.db"


def load(database: str | None = None) -> Settings:
    """Return the settings; see ``database_url``. Raises InvalidValue for a variable that cannot be used."""
    url = database_url(database)
    folder = Path(os.environ.get("SNAPLINE_DATA") or _default_folder(url))
    return Settings(
        database=url,
        data_folder=folder,
        revision_files_kept=_whole_number("SNAPLINE_REVISION_FILES_KEPT", 3),
        requests_per_minute=_whole_number("SNAPLINE_REQUESTS_PER_MINUTE", 6000),
        answer_within_s=_seconds("SNAPLINE_ANSWER_WITHIN_S", 30.0),
        body_within_s=_seconds("SNAPLINE_BODY_WITHIN_S", 30.0),
        log_level=_word("SNAPLINE_LOG_LEVEL", "info", LOG_LEVELS),
        webhooks_deliver=_yes_or_no("SNAPLINE_WEBHOOKS_DELIVER", "yes"),
        webhooks_allow_private=_yes_or_no("SNAPLINE_WEBHOOKS_ALLOW_PRIVATE", "no"),
        secret=_secret(folder),  # last, since it may make a file
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


def _whole_number(name: str, default: int) -> int:
    given = os.environ.get(name) or str(default)
    if not (given.isascii() and given.isdigit() and int(given) > 0):
        raise _unusable(name, given, "Give a whole number above 0.")
    return int(given)


def _seconds(name: str, default: float) -> float:
    given = os.environ.get(name) or str(default)
    try:
        number = float(given)
    except ValueError:
        number = math.nan
    if not (math.isfinite(number) and number > 0):
        raise _unusable(name, given, "Give a number of seconds above 0.")
    return number


def _word(name: str, default: str, allowed: tuple[str, ...]) -> str:
    given = os.environ.get(name) or default
    if given.lower() not in allowed:
        raise _unusable(name, given, f"Give one of {', '.join(allowed)}.")
    return given.lower()


def _yes_or_no(name: str, default: str) -> bool:
    return _word(name, default, (*_YES, *_NO)) in _YES


def _unusable(name: str, given: str, mend: str) -> InvalidValue:
    return InvalidValue(f"{name} cannot be '{given[:80]}'.", mend=mend)


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
