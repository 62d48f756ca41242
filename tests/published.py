"""Where published data files stand that are read but never copied into this repository."""

from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[2] / "shared" / "checks" / "data"


def published(name: str) -> Path:
    """Return a published data file by its path in the folder, or skip the test and say what is missing."""
    path = FOLDER / name
    if not path.exists():
        pytest.skip(f"published data '{name}' is not at ../shared/checks/data beside the repository")
    return path
