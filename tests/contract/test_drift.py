"""The committed contract is what the code makes."""

from pathlib import Path

import pytest

from snapline_service import contract

FOLDER = Path(__file__).parents[2] / "openapi"


@pytest.mark.parametrize("name", sorted(contract.files()))
def test_the_committed_contract_is_current(name: str) -> None:
    committed = (FOLDER / name).read_bytes()
    assert committed == contract.files()[name], "run: snapline contract openapi"
