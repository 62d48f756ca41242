"""Whoever reads a change of the catalogue at the command line sees what it does before it is in force."""

import re
from pathlib import Path

import pytest

from service import small
from service.cli.commanded import Run, assert_told


def corrected(run: Run, folder: Path) -> str:
    """Put a correction into a draft and return its id."""
    files = small.write(folder, [*small.catalogue()[:3], small.vehicle(distance_mm=2555)])
    found = re.search(r"Draft (dft_\w+)", run("catalogue", "import", files, "--group", "north").output)
    assert found
    return found[1]


def test_a_draft_is_told_in_words(ready: Run, tmp_path: Path) -> None:
    draft = corrected(ready, tmp_path / "second")
    told = ready("catalogue", "diff", "--group", "north", "--html", tmp_path / "diff.html")
    assert told.exit_code == 0, told.output
    assert "2,400 → 2,555 mm" in told.output
    assert "From revision 1 to this draft; documents that differ: 1." in told.output
    assert "2,555 mm" in (tmp_path / "diff.html").read_text()
    named = ready("catalogue", "diff", "--group", "north", "--draft", draft)
    assert named.output.splitlines() == told.output.splitlines()[:-1]


def test_two_revisions_are_compared(ready: Run, tmp_path: Path) -> None:
    corrected(ready, tmp_path / "second")
    assert ready("catalogue", "publish", "--group", "north").exit_code == 0
    told = ready("catalogue", "diff", "1", "2", "--group", "north")
    assert "2,400 → 2,555 mm" in told.output
    back = ready("catalogue", "diff", "2", "1", "--group", "north")
    assert "2,555 → 2,400 mm" in back.output
    assert_told(
        ready("catalogue", "diff", "1", "9", "--group", "north"),
        "no revision 9",
        "snapline catalogue revisions",
    )
    assert_told(ready("catalogue", "diff", "1", "--group", "north"), "OLDER and NEWER")
    assert_told(
        ready("catalogue", "diff", "abc", "2", "--group", "north"), "A revision is a number", status=2
    )
    assert_told(ready("catalogue", "diff", "1", "0", "--group", "north"), "0", status=2)


def test_impact_and_validation_are_told(ready: Run, tmp_path: Path) -> None:
    draft = corrected(ready, tmp_path / "second")
    touched = ready("catalogue", "impact", "--group", "north")
    assert touched.exit_code == 0, touched.output
    assert re.search(rf"Draft {draft} .* touches vehicles: 1", touched.output)
    report = ready("catalogue", "validate", draft, "--group", "north")
    assert report.exit_code == 0, report.output
    assert "errors: 0" in report.output
    assert ready("catalogue", "publish", "--group", "north").exit_code == 0
    after = ready("catalogue", "impact", "--group", "north", "--revision", "2")
    assert "Revision 2 touched vehicles: 1" in after.output
    assert_told(ready("catalogue", "impact", draft, "--revision", "2", "--group", "north"), "Name one")


def test_without_an_open_draft_there_is_nothing_to_tell(ready: Run) -> None:
    assert_told(ready("catalogue", "impact", "--group", "north"), "no open draft")
    assert_told(
        ready("catalogue", "validate", "dft_x", "--group", "north"),
        "nothing called 'dft_x'",
        "catalogue drafts",
    )


def test_the_audit_says_who_published(ready: Run) -> None:
    told = ready("catalogue", "audit", "--group", "north", "--type", "catalogue")
    assert told.exit_code == 0, told.output
    assert "catalogue.published" in told.output
    assert "at the command line" in told.output
    assert "draft.created" not in told.output


def test_a_draft_goes_through_review_at_the_command_line(ready: Run, tmp_path: Path) -> None:
    draft = corrected(ready, tmp_path / "second")
    assert_told(ready("catalogue", "submit", "--group", "north"), "acknowledge")  # a warning stands
    sent = ready("catalogue", "submit", "--group", "north", "--because", "Measured twice.")
    assert f"Draft {draft} is in review." in sent.output
    assert_told(ready("catalogue", "approve", draft, "--group", "north"), "somebody else")
    back = ready("catalogue", "send-back", "--group", "north", "--note", "Which page?")
    assert f"Draft {draft} is sent back." in back.output
    assert f"Draft {draft} is dropped." in ready("catalogue", "drop", "--group", "north").output
    assert_told(ready("catalogue", "drop", draft, "--group", "north"), "dropped")


def test_an_overtaken_draft_is_rebased_and_settled(ready: Run, tmp_path: Path) -> None:
    slow = corrected(ready, tmp_path / "slow")
    files = small.write(tmp_path / "quick", [*small.catalogue()[:3], small.vehicle(distance_mm=2600)])
    quickly = ready("catalogue", "import", files, "--group", "north")
    quick = re.search(r"dft_\w+", quickly.output)
    assert quick
    assert ready("catalogue", "publish", "--group", "north", "--draft", quick[0]).exit_code == 0
    assert_told(ready("catalogue", "publish", "--group", "north", "--draft", slow), "Rebase it")
    told = ready("catalogue", "rebase", slow, "--group", "north")
    assert told.exit_code == 0, told.output
    assert re.search(r"1 .*distance_mm.*2600 .*2555", told.output)
    open_ = ready("catalogue", "publish", "--group", "north", "--draft", slow)
    assert_told(open_, "open conflicts", "snapline catalogue settle")
    assert_told(ready("catalogue", "settle", "1", slow, "--group", "north"), "--take or --value")
    assert_told(ready("catalogue", "settle", "1", slow, "--group", "north", "--value", "2,5"), "not JSON")
    settled = ready("catalogue", "settle", "1", slow, "--group", "north", "--value", "2580")
    assert f"Conflict 1 of draft {slow} is settled." in settled.output
    assert_told(ready("catalogue", "settle", "1", slow, "--group", "north", "--take", "draft"), "already")
    assert "2,600 → 2,580 mm" in ready("catalogue", "diff", "--group", "north").output


def inside_the_car() -> list[small.Document]:
    """Return a catalogue whose board stands within the car, as a slip of the datum makes it."""
    car = small.vehicle(distance_mm=-700)
    car["dimensions"]["width_mm"] = 1800
    for procedure in car["procedures"]:
        for stage in procedure.get("stages", []):
            for item in stage["placements"]:
                item.pop("range", None)
    return [*small.catalogue()[:3], car]


@pytest.mark.parametrize("first", [True, False], ids=["the first revision", "a later one"])
def test_what_validation_calls_an_error_is_not_put_in_force(run: Run, tmp_path: Path, first: bool) -> None:
    run("migrate")
    run("groups", "add", "north")
    if not first:
        files = small.write(tmp_path / "sound", small.catalogue())
        run("catalogue", "import", files, "--group", "north")
        assert run("catalogue", "publish", "--group", "north").exit_code == 0
    files = small.write(tmp_path / "spoilt", inside_the_car())
    assert run("catalogue", "import", files, "--group", "north").exit_code == 0
    assert "errors: 1" in run("catalogue", "validate", "--group", "north").output
    refused = run("catalogue", "publish", "--group", "north")
    assert_told(refused, "/vehicles/ambrel-2020/procedures/0/", "700 mm inside the vehicle", "Correct its")
    numbers = re.findall(r"^│ (\d+) ", run("catalogue", "revisions", "--group", "north").output, re.MULTILINE)
    assert numbers == ([] if first else ["1"])


def test_warnings_are_printed_and_do_not_stop_whoever_publishes_here(ready: Run, tmp_path: Path) -> None:
    corrected(ready, tmp_path / "second")
    published = ready("catalogue", "publish", "--group", "north")
    assert published.exit_code == 0, published.output
    assert "warning" in published.output
    assert "vehicle ambrel-2020" in published.output


CHANGING = [
    ["publish"],
    ["submit"],
    ["approve"],
    ["send-back", "--note", "Which page?"],
    ["rebase"],
    ["settle", "1", "--take", "draft"],
    ["drop"],
]


@pytest.mark.parametrize("command", CHANGING, ids=lambda command: command[0])
def test_with_several_open_drafts_a_change_names_its_own(
    ready: Run, tmp_path: Path, command: list[str]
) -> None:
    mine, theirs = (corrected(ready, tmp_path / name) for name in ("mine", "theirs"))
    before = ready("catalogue", "drafts", "--group", "north").output
    refused = ready("catalogue", *command, "--group", "north")
    assert_told(refused, "Several drafts are open", mine, theirs, "no note", "edited by", "Give the id")
    assert ready("catalogue", "drafts", "--group", "north").output == before


@pytest.mark.parametrize("command", ["validate", "diff", "impact"])
def test_whoever_only_reads_is_told_which_draft_it_was(ready: Run, tmp_path: Path, command: str) -> None:
    corrected(ready, tmp_path / "older")
    newest = corrected(ready, tmp_path / "newest")
    read = ready("catalogue", command, "--group", "north")
    assert read.exit_code == 0, read.output
    assert re.search(rf"Draft {newest} \(no note; edited by .+ at the command line\)", read.output)


def test_a_publication_says_which_draft_it_was(ready: Run, tmp_path: Path) -> None:
    draft = corrected(ready, tmp_path / "second")
    ready("catalogue", "publish", "--group", "north")
    restored = ready("catalogue", "restore", "1", "--group", "north", "--note", "never mind")
    name = re.search(r"dft_\w+", restored.output)
    assert name
    assert f"--draft {name[0]}" in restored.output
    assert name[0] != draft
    published = ready("catalogue", "publish", "--group", "north")
    assert f"Draft {name[0]} (never mind; edited by " in published.output


@pytest.mark.parametrize("day", ["yesterday", "25.11.2026", "2026-13-45", "2026-02-30T10:00Z", ""])
@pytest.mark.parametrize("option", ["--since", "--until"])
def test_the_audit_refuses_what_is_no_day(ready: Run, option: str, day: str) -> None:
    assert_told(ready("catalogue", "audit", "--group", "north", option, day), f"{option[2:]}: ")


def test_the_audit_refuses_a_period_that_ends_before_it_begins(ready: Run) -> None:
    period = ["--since", "2026-11-25", "--until", "2026-11-24"]
    assert_told(ready("catalogue", "audit", "--group", "north", *period), "before it begins")


def test_an_audit_that_finds_nothing_says_so(ready: Run) -> None:
    def told(*options: str) -> str:
        return ready("catalogue", "audit", "--group", "north", *options).output

    assert_told(ready("catalogue", "audit", "--group", "north", "--type", "draught"), "/type: ", "draft")
    assert told("--type", "draft.approved") == "Nothing of type 'draft.approved' is recorded.\n"
    assert "Nothing by 'Nobody' is recorded." in told("--holder", "Nobody")
    assert "Nothing in that time is recorded." in told("--since", "2001-01-01", "--until", "2001-01-02")
    assert "catalogue.published" in told("--since", "2001-01-01T10:00Z", "--type", "catalogue")
