"""Breaking changes since the last release, and whether the tool that looks for them finds every kind."""

import copy
import json
import shutil
import subprocess

import pytest

from contract.api import DOCUMENT, FOLDER
from contract.breaking import breaking_changes
from contract.changes import BREAKING, GOOD, Change, fields


def git(*arguments: str) -> str | None:
    """Return what git says, or None if it cannot."""
    if shutil.which("git") is None:
        return None
    done = subprocess.run(["git", *arguments], cwd=FOLDER, capture_output=True, text=True, check=False)
    return done.stdout if done.returncode == 0 else None


def test_nothing_breaks_a_program_that_was_written_to_the_last_release() -> None:
    tag = (git("describe", "--tags", "--abbrev=0") or "").strip()
    if not tag:
        pytest.skip("NOT COMPARED: no release is tagged yet, so there is no contract that could be broken")
    released = git("show", f"{tag}:openapi/openapi.json")
    assert released is not None, f"the release {tag} has no openapi/openapi.json"
    assert breaking_changes(json.loads(released), DOCUMENT) == []


def test_a_document_does_not_break_itself() -> None:
    assert breaking_changes(DOCUMENT, copy.deepcopy(DOCUMENT)) == []


@pytest.mark.parametrize(("change", "sentence"), BREAKING.values(), ids=BREAKING)
def test_every_kind_of_breaking_change_is_named(change: Change, sentence: str) -> None:
    changed = copy.deepcopy(DOCUMENT)
    change(changed)
    assert sentence in breaking_changes(DOCUMENT, changed)


@pytest.mark.parametrize("name", ["answer-field-removed", "request-field-removed", "header-removed"])
def test_a_change_in_one_place_makes_one_sentence(name: str) -> None:
    change, sentence = BREAKING[name]
    changed = copy.deepcopy(DOCUMENT)
    change(changed)
    assert breaking_changes(DOCUMENT, changed) == [sentence]


@pytest.mark.parametrize("change", GOOD.values(), ids=GOOD)
def test_what_breaks_nothing_is_not_named(change: Change) -> None:
    changed = copy.deepcopy(DOCUMENT)
    change(changed)
    assert changed != DOCUMENT
    assert breaking_changes(DOCUMENT, changed) == []


def test_all_of_them_together_break_nothing_either() -> None:
    changed = copy.deepcopy(DOCUMENT)
    for change in GOOD.values():
        change(changed)
    assert breaking_changes(DOCUMENT, changed) == []


def test_a_keyword_that_the_comparison_does_not_know_is_an_error_and_not_passed_over() -> None:
    changed = copy.deepcopy(DOCUMENT)
    fields(changed, "SetupRequest")["measured"]["dependentRequired"] = {"a": ["b"]}
    with pytest.raises(ValueError, match="dependentRequired"):
        breaking_changes(DOCUMENT, changed)
