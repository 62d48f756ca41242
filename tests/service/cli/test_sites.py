"""``snapline sites``: from files into the store, or every fault with its file and line."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.catalogue.demo import FOLDER
from service.sites.test_importing import FILE
from snapline_service.cli import main
from snapline_service.database import migrate


@pytest.fixture
def environment(empty_database: str, tmp_path: Path) -> dict[str, str]:
    migrate(empty_database)
    variables = {
        "SNAPLINE_DATABASE": empty_database,
        "SNAPLINE_DATA": str(tmp_path / "revisions"),
        "SNAPLINE_SECRET": "a secret for tests alone",
    }
    CliRunner(env=variables).invoke(main, ["groups", "add", "north"])
    return variables


def run(environment: dict[str, str], *arguments: object) -> Result:
    return CliRunner(env=environment).invoke(main, ["sites", *map(str, arguments), "--group", "north"])


def test_the_demo_is_imported_and_listed(environment: dict[str, str]) -> None:
    told = run(environment, "import", FOLDER / "sites").output
    assert "4 sites, 9 bays and 52 physical fixtures read, 65 of them new or changed." in told
    assert "0 of them new or changed" in run(environment, "import", FOLDER / "sites").output
    (line,) = (line for line in run(environment, "list").output.splitlines() if "mill-road" in line)
    assert [cell.strip() for cell in line.strip("│").split("│")] == [
        "mill-road", "Wendelbrook Mill Road (invented)", "Europe/Berlin", "3", "24"
    ]  # fmt: skip


def test_every_fault_is_told_with_its_line_and_nothing_is_imported(
    environment: dict[str, str], tmp_path: Path
) -> None:
    bay = {**FILE["bays"][0], "ceiling_mm": 165, "light_min_lux": 900}
    path = tmp_path / "elm-yard.json"
    path.write_text(json.dumps({**FILE, "bays": [bay]}, indent=1))
    refused = run(environment, "import", tmp_path)
    assert refused.exit_code == 1
    lines = path.read_text().splitlines()
    for field in ("ceiling_mm", "light_min_lux"):
        number = next(n for n, line in enumerate(lines, 1) if f'"{field}"' in line)
        assert f"{path}:{number}: /bays/0/{field}: " in refused.output
    assert "2 faults; nothing was imported." in refused.output
    assert "elm-yard" not in run(environment, "list").output


def test_an_unknown_group_is_told(environment: dict[str, str]) -> None:
    refused = CliRunner(env=environment).invoke(main, ["sites", "list", "--group", "south"])
    assert refused.exit_code == 1
    assert "There is no group called 'south'." in refused.output
