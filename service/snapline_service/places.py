"""Where the two data folders are: inside the wheel, or at the top of a source checkout."""

from pathlib import Path

_PACKAGE = Path(__file__).parent


def migrations() -> Path:
    """Return the folder of schema migrations."""
    return _folder("migrations")


def demo_fixtures() -> Path:
    """Return the folder of the invented demo scenario."""
    return _folder("demo_fixtures")


def _folder(name: str) -> Path:
    packed = _PACKAGE / name
    return packed if packed.is_dir() else _PACKAGE.parent.parent / name
