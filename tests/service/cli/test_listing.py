"""What is listed can be read and copied as it stands, however narrow the terminal is, and from a pipe too."""

import re
from pathlib import Path

import pytest

from service import small
from service.cli.commanded import Run
from snapline_service.cli.options import out

LISTS = [["drafts"], ["drafts", "--all"], ["revisions"], ["audit"], ["validate"], ["impact"]]


@pytest.fixture
def drafted(ready: Run, tmp_path: Path) -> tuple[Run, str]:
    """A published catalogue, and the id of a draft on top of it that has a warning."""
    files = small.write(tmp_path / "second", [*small.catalogue()[:3], small.vehicle(distance_mm=2555)])
    found = re.search(r"dft_\w+", ready("catalogue", "import", files, "--group", "north").output)
    assert found
    return ready, found[0]


@pytest.mark.parametrize("command", LISTS, ids=" ".join)
def test_in_a_pipe_every_entry_is_one_whole_line(drafted: tuple[Run, str], command: list[str]) -> None:
    run, draft = drafted
    listed = run("catalogue", *command, "--group", "north")
    assert listed.exit_code == 0, listed.output
    assert "…" not in listed.output
    whole = {
        "drafts": draft,
        "audit": f"/v1/drafts/{draft}",
        "validate": "vehicle ambrel-2020",
        "revisions": "at the command line",
        "impact": draft,
    }
    assert any(whole[command[0]] in line for line in listed.output.splitlines())


@pytest.mark.parametrize("command", LISTS, ids=" ".join)
def test_at_a_narrow_terminal_nothing_is_cut(
    drafted: tuple[Run, str], command: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    run, _ = drafted
    wide = run("catalogue", *command, "--group", "north").output
    cells = {cell.strip() for row in wide.splitlines() if row.startswith("│") for cell in row.split("│")}
    monkeypatch.setattr(out, "_force_terminal", True)
    monkeypatch.setenv("COLUMNS", "80")
    narrow = run("catalogue", *command, "--group", "north").output
    assert "…" not in narrow
    assert [cell for cell in cells if cell not in narrow] == []


def test_a_key_is_listed_whole_at_a_narrow_terminal(ready: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    issued = ready("keys", "issue", "--group", "north", "--holder", "Ada of the workshop behind the mill")
    name = re.search(r"key_\w+", issued.stderr)
    assert name
    monkeypatch.setattr(out, "_force_terminal", True)
    monkeypatch.setenv("COLUMNS", "80")
    assert name[0] in ready("keys", "list", "--group", "north").output
