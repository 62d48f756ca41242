"""``snapline catalogue to-spreadsheet`` and ``from-spreadsheet``."""

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service import small
from service.shop import Shop
from snapline_service.cli import main

Run = Callable[..., Result]


@pytest.fixture
def run(shop: Shop) -> Run:
    shop.put(small.catalogue())
    environment = {
        "SNAPLINE_DATABASE": shop.settings.database,
        "SNAPLINE_DATA": str(shop.settings.data_folder),
        "SNAPLINE_SECRET": shop.settings.secret.decode(),
        "COLUMNS": "250",
    }

    def invoke(*arguments: object) -> Result:
        given = ["catalogue", *map(str, arguments), "--group", shop.name]
        return CliRunner(env=environment).invoke(main, given)

    return invoke


@pytest.mark.parametrize("name", ["out.xlsx", "out.zip"])
def test_a_file_that_nobody_edited_changes_nothing(name: str, run: Run, tmp_path: Path) -> None:
    path = tmp_path / name
    assert "Wrote revision 1" in run("to-spreadsheet", path).output
    told = run("from-spreadsheet", path).output
    assert "0 cells and 0 documents changed" in told
    assert "Nothing was written." in told


def test_an_edited_sheet_becomes_a_draft_and_what_was_detected_is_told(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "fixtures.csv"
    assert run("to-spreadsheet", path, "--sheet", "fixtures").exit_code == 0
    path.write_text("fixture_id;mass_kg\nboard;19,5\n")
    checked = run("from-spreadsheet", path, "--validate-only").output
    assert "fixtures: 1 rows (delimiter ';', decimal comma, encoding utf-8, units mm)." in checked
    assert "Nothing was written." in checked
    assert "Draft dft_" in run("from-spreadsheet", path, "--note", "weighed").output


def test_problems_are_told_by_cell(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "fixtures.csv"
    path.write_text("fixture_id,mass_kg\nboard,heavy\n")
    refused = run("from-spreadsheet", path)
    assert refused.exit_code == 1
    assert "fixtures!B2 mass_kg 'heavy': This is not a number." in refused.output


def test_the_name_of_the_file_says_its_kind(run: Run, tmp_path: Path) -> None:
    refused = run("to-spreadsheet", tmp_path / "out.ods")
    assert refused.exit_code == 1
    assert ".xlsx or .zip" in refused.output
