"""Commands run as a person would run them, on each engine."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service import small
from service.cli.commanded import SECRET, Run
from snapline_service.cli import main


@pytest.fixture
def run(empty_database: str, tmp_path: Path) -> Run:
    """Run a command as a person would, against a database on each engine that nobody has migrated."""
    environment = {
        "SNAPLINE_DATABASE": empty_database,
        "SNAPLINE_DATA": str(tmp_path / "revisions"),
        "SNAPLINE_SECRET": SECRET,
    }

    def run(*arguments: object) -> Result:
        return CliRunner(env=environment).invoke(main, [str(argument) for argument in arguments])

    return run


@pytest.fixture
def ready(run: Run, tmp_path: Path) -> Run:
    """The same with a schema, a group and a published catalogue."""
    files = small.write(tmp_path / "first", small.catalogue())
    for arguments in (
        ["migrate"],
        ["groups", "add", "north"],
        ["catalogue", "import", files, "--group", "north"],
        ["catalogue", "publish", "--group", "north"],
    ):
        assert run(*arguments).exit_code == 0
    return run
