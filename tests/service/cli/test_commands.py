"""The ``snapline`` command: what it prints, what it returns, and no traceback for what can be mended."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path

import click
import jsonschema_rs
import pytest
from click.testing import CliRunner, Result

from running import PostgreSQL, Service
from service import small
from service.cli.commanded import SECRET, Run, assert_told
from snapline.offline import RevisionFile
from snapline_service import places
from snapline_service.access import keys
from snapline_service.cli import main
from snapline_service.database import connect, migrate, reading

COMMANDS = {
    "catalogue approve", "catalogue audit", "catalogue check", "catalogue diff", "catalogue drafts",
    "catalogue drop", "catalogue export", "catalogue from-spreadsheet", "catalogue generate",
    "catalogue impact", "catalogue import", "catalogue publish", "catalogue rebase", "catalogue restore",
    "catalogue revisions", "catalogue schema", "catalogue send-back", "catalogue settle", "catalogue submit",
    "catalogue to-spreadsheet", "catalogue validate", "contract", "demo", "groups add", "groups list",
    "keys issue", "keys list", "keys revoke", "migrate", "serve", "sheet", "sites import", "sites list",
    "webhooks deliver",
}  # fmt: skip


def commands(command: click.Command, name: str = "") -> Iterator[tuple[str, click.Command]]:
    """Yield every command that does something, with its full name."""
    if isinstance(command, click.Group):
        for part, inner in command.commands.items():
            yield from commands(inner, f"{name} {part}".strip())
    else:
        yield name, command


def test_these_are_all_the_commands() -> None:
    assert {name for name, _ in commands(main)} == COMMANDS


@pytest.mark.parametrize("name", ["", "catalogue", "groups", "keys", "sites", "webhooks", *sorted(COMMANDS)])
def test_every_command_explains_itself(name: str) -> None:
    shown = CliRunner().invoke(main, [*name.split(), "--help"])
    assert shown.exit_code == 0
    first = shown.output.split("\n\n")[1].strip()
    assert len(first) > 10
    assert first[0].isupper()


def test_every_option_of_one_word_is_explained() -> None:
    """What an option means is either its help text or plain from its name and default."""
    plain = {"host", "workers", "vehicles"}
    for name, command in commands(main):
        for option in command.params:
            if isinstance(option, click.Option) and option.name not in plain:
                assert option.help, (name, option.name)


def test_the_version_is_that_of_the_distribution() -> None:
    assert version("snapline-service") in CliRunner().invoke(main, ["--version"]).output


def test_a_command_that_does_not_exist_is_a_mistake_of_use(run: Run) -> None:
    assert_told(run("catalog"), "No such command", status=2)
    assert_told(run("keys", "issue", "--holder", "Ada"), "Missing option '--group'", status=2)


def test_from_nothing_to_a_published_catalogue(run: Run, tmp_path: Path) -> None:
    files = small.write(tmp_path / "files", small.catalogue())
    assert "The schema is at head" in run("migrate").output
    added = run("groups", "add", "north", "--title", "Workshops of the north")
    assert re.fullmatch(r"Added group north \(grp_\w+\)\.\n", added.output)
    assert "5 documents, no faults." in run("catalogue", "check", files).output
    imported = run("catalogue", "import", files, "--group", "north")
    assert re.search(
        r"Draft dft_\w+ on top of revision 0: 5 documents read, 5 new or changed, 0 retired", imported.output
    )
    published = run("catalogue", "publish", "--group", "north", "--note", "first")
    assert re.search(r"Published revision 1: 5 documents, content hash [0-9a-f]{64}\.", published.output)
    for result in (added, imported, published):
        assert result.exit_code == 0
    assert RevisionFile(next((tmp_path / "revisions").rglob("*.sqlite"))).vehicle("ambrel-2020")


def test_groups_are_listed_with_their_titles(run: Run) -> None:
    run("migrate")
    for name in ("south", "north"):
        run("groups", "add", name, "--title", f"Workshops of the {name}")
    rows = run("groups", "list").output.splitlines()
    assert [row.split()[0] for row in rows] == ["north", "south"]
    assert "Workshops of the north" in rows[0]


def test_faults_are_shown_with_file_and_line(ready: Run, tmp_path: Path) -> None:
    spoilt = small.vehicle()
    spoilt["body"], spoilt["modle"] = "hatchbak", "x"
    files = small.write(tmp_path / "spoilt", [spoilt])
    line = next(
        n for n, row in enumerate((files / "ambrel-2020.json").read_text().splitlines(), 1) if "modle" in row
    )
    for command in (["check", files], ["import", files, "--group", "north"]):
        told = ready("catalogue", *command)
        assert_told(told, "2 faults", "hatchback", "/body", "/modle")
        row = next(row for row in told.output.splitlines() if "/modle" in row)
        assert str(files / "ambrel-2020.json") in row
        assert re.search(rf"\b{line}\b", row)
        assert "'model'" in row


def test_brackets_in_files_and_names_are_shown_as_they_are(ready: Run, tmp_path: Path) -> None:
    """The library that draws tables would take them for its own markup."""
    folder = tmp_path / "[draft]"
    small.write(folder, [{**small.source("odd"), "title": 5, "[/bold]": 1}])
    told = ready("catalogue", "check", folder)
    assert_told(told, "[/bold]", "[draft]")
    assert ready("keys", "issue", "--group", "north", "--holder", "[/red] Ada :smile:").exit_code == 0
    assert "[/red] Ada :smile:" in ready("keys", "list", "--group", "north").output


def test_import_with_retirement(ready: Run, tmp_path: Path) -> None:
    files = small.write(tmp_path / "fewer", small.catalogue()[:4])
    done = ready("catalogue", "import", files, "--group", "north", "--retire-missing")
    assert "0 new or changed, 1 retired" in done.output
    assert "Published revision 2: 4 documents" in ready("catalogue", "publish", "--group", "north").output


def test_a_draft_can_be_published_by_name(ready: Run, tmp_path: Path) -> None:
    files = small.write(tmp_path / "next", [small.vehicle(distance_mm=2450)])
    found = re.search(r"dft_\w+", ready("catalogue", "import", files, "--group", "north").output)
    assert found
    done = ready("catalogue", "publish", "--group", "north", "--draft", found[0])
    assert done.exit_code == 0
    assert_told(ready("catalogue", "publish", "--group", "north", "--draft", found[0]), "already published")


@pytest.mark.parametrize("name", ["copy", "copy.ndjson"])
def test_export_and_check_again(ready: Run, tmp_path: Path, name: str) -> None:
    done = ready("catalogue", "export", tmp_path / name, "--group", "north", "--revision", 1)
    assert f"Wrote 5 documents to {tmp_path / name}." in done.output
    assert "5 documents, no faults" in ready("catalogue", "check", tmp_path / name).output


def test_a_failed_export_leaves_the_file_that_was_there(ready: Run, tmp_path: Path) -> None:
    path = tmp_path / "precious.ndjson"
    path.write_text("precious")
    assert_told(ready("catalogue", "export", path, "--group", "nowhere"), "no group called 'nowhere'")
    assert_told(ready("catalogue", "export", path, "--group", "north", "--revision", 9), "Revision 9")
    assert path.read_text() == "precious"


def test_generate_writes_what_check_takes(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "many.ndjson"
    done = run("catalogue", "generate", path, "--vehicles", 3, "--seed", 5)
    assert done.exit_code == 0
    assert "no faults" in run("catalogue", "check", path).output
    assert sum(b'"kind":"vehicle"' in line for line in path.read_bytes().splitlines()) == 3


def test_schema_prints_a_schema(run: Run) -> None:
    printed = run("catalogue", "schema")
    assert jsonschema_rs.validator_for(json.loads(printed.output)).is_valid(small.vehicle())


def test_contract_writes_both_files(run: Run, tmp_path: Path) -> None:
    assert run("contract", tmp_path / "contract").exit_code == 0
    written = {path.name: json.loads(path.read_text()) for path in (tmp_path / "contract").iterdir()}
    assert set(written) == {"openapi.json", "catalogue-1.schema.json"}
    assert written["openapi.json"]["openapi"].startswith("3.")


def issued(result: Result) -> tuple[str, str]:
    """Return the key's id and the key."""
    assert result.exit_code == 0
    key = re.search(r"^SNAPLINE_KEY=(snl_\S+)$", result.stdout, re.MULTILINE)
    name = re.search(r"key_\w+", result.stderr)
    assert key
    assert name
    return name[0], key[1]


def test_issue_prints_the_key_once_for_a_shell_to_take(ready: Run, empty_database: str) -> None:
    done = ready("keys", "issue", "--group", "north", "--holder", "Ada", "--scope", "read", "--valid-days", 7)
    name, key = issued(done)
    assert done.stdout == f"SNAPLINE_KEY={key}\n", "the rest goes to standard error"
    engine = connect(empty_database)
    with reading(engine) as session:
        holder = keys.holder_of(session, keys.digest(key.encode(), SECRET.encode()))
    engine.dispose()
    assert holder is not None
    assert (holder.key_id, holder.holder_name, holder.scopes) == (name, "Ada", frozenset({"read"}))
    assert key not in ready("keys", "list", "--group", "north").output


def test_list_shows_holders_scopes_and_ends(ready: Run) -> None:
    name, _ = issued(ready("keys", "issue", "--group", "north", "--holder", "Ada"))
    row = next(row for row in ready("keys", "list", "--group", "north").output.splitlines() if name in row)
    for word in ("Ada", "read plan", "never"):
        assert word in row


def test_revoke_says_so_and_the_list_shows_it(ready: Run) -> None:
    name, _ = issued(ready("keys", "issue", "--group", "north", "--holder", "Ada"))
    assert f"Revoked {name}." in ready("keys", "revoke", name, "--group", "north").output
    row = next(row for row in ready("keys", "list", "--group", "north").output.splitlines() if name in row)
    assert len(re.findall(r"\d{4}-\d\d-\d\d", row)) == 2, "issued and revoked"


def test_mistakes_with_groups_and_keys_are_told(ready: Run) -> None:
    assert_told(ready("groups", "add", "north"), "already a group called 'north'", "another name")
    assert_told(ready("groups", "add", ""), "empty")
    for arguments in (
        ["keys", "issue", "--group", "nowhere", "--holder", "Ada"],
        ["keys", "list", "--group", "nowhere"],
        ["keys", "revoke", "key_x", "--group", "nowhere"],
        ["catalogue", "publish", "--group", "nowhere"],
    ):
        assert_told(ready(*arguments), "no group called 'nowhere'", "snapline groups add")
    assert_told(ready("keys", "revoke", "key_x", "--group", "north"), "no key 'key_x'", "List")
    wrong = ready("keys", "issue", "--group", "north", "--holder", "Ada", "--scope", "reed")
    assert_told(wrong, "reed", "read", status=2)
    never = ready("keys", "issue", "--group", "north", "--holder", "Ada", "--valid-days", 0)
    assert_told(never, "0", status=2)


def test_mistakes_with_catalogues_are_told(ready: Run, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert_told(ready("catalogue", "check", tmp_path / "empty"), "no catalogue", ".ndjson")
    assert_told(ready("catalogue", "check", tmp_path / "nothing"), "does not exist", status=2)
    again = ready("catalogue", "import", tmp_path / "first", "--group", "north")
    assert_told(again, "what the revision in force says already")
    assert_told(ready("catalogue", "publish", "--group", "north"), "no open draft", "catalogue import")
    assert_told(ready("catalogue", "publish", "--group", "north", "--draft", "dft_x"), "'dft_x'")
    assert_told(ready("catalogue", "export", tmp_path / "first", "--group", "north"), "not an empty folder")
    ready("groups", "add", "south")
    assert_told(ready("catalogue", "export", tmp_path / "x", "--group", "south"), "published nothing")


def test_places_that_cannot_be_written_are_told(ready: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert_told(ready("catalogue", "export", tmp_path / "none" / "a.ndjson", "--group", "north"), "a.ndjson")
    assert_told(ready("catalogue", "export", tmp_path / "file", "--group", "north"), "not an empty folder")
    assert_told(ready("catalogue", "export", tmp_path / "file" / "x", "--group", "north"), "file")
    assert_told(ready("catalogue", "generate", tmp_path / "none" / "a.ndjson", "--vehicles", 1), "a.ndjson")


NEED_A_SCHEMA = [
    ["groups", "add", "north"],
    ["keys", "issue", "--group", "north", "--holder", "Ada"],
    ["keys", "list", "--group", "north"],
    ["keys", "revoke", "key_x", "--group", "north"],
    ["catalogue", "import", places.demo_fixtures() / "correction", "--group", "north"],
    ["catalogue", "publish", "--group", "north"],
    ["catalogue", "export", "nowhere", "--group", "north"],
]


@pytest.mark.parametrize("arguments", NEED_A_SCHEMA, ids=lambda arguments: " ".join(arguments[:2]))
def test_a_database_that_is_not_migrated_is_told(run: Run, arguments: list[object]) -> None:
    assert_told(run(*arguments), "snapline migrate")


def test_a_database_at_an_older_schema_is_told(run: Run, empty_database: str, tmp_path: Path) -> None:
    migrate(empty_database, "access")
    run("groups", "add", "north")
    files = small.write(tmp_path / "files", small.catalogue())
    assert_told(run("catalogue", "import", files, "--group", "north"), "snapline migrate")


UNUSABLE = {
    "nobody listens": ("postgresql://nobody@127.0.0.1:1/none", "cannot be used"),
    "no such host": ("postgresql://nobody@/none?host=/nonexistent", "cannot be used"),
    "another kind": ("mysql://root@host/name", "sqlite:///FILE"),
    "no address": ("snapline.db", "sqlite:///FILE"),
    "no name": ("sqlite:///", "sqlite:///FILE"),
    "garbage": ("postgresql://[", "cannot be used"),
    "bad port": ("postgresql://host:port/name", "sqlite:///FILE"),
    "a folder": ("sqlite:///{}", "cannot be used"),
    "below a file": ("sqlite:///{}/file/snapline.db", "file"),
    "not a database": ("sqlite:///{}/file", "cannot be used"),
}


@pytest.mark.parametrize("name", UNUSABLE)
@pytest.mark.parametrize("command", [["migrate"], ["keys", "list", "--group", "north"]])
def test_a_database_that_cannot_be_used_is_told(
    run: Run, tmp_path: Path, name: str, command: list[str]
) -> None:
    (tmp_path / "file").write_text("This is not a database, and long enough to be looked at as one. " * 20)
    url, word = UNUSABLE[name]
    assert_told(run(*command, "--database", url.format(tmp_path)), word)


def test_migrate_goes_down_and_up(ready: Run) -> None:
    assert ready("migrate", "--to", "catalogue").output == "The schema is at catalogue.\n"
    assert ready("migrate", "--to", "-1").exit_code == 0
    assert_told(ready("catalogue", "publish", "--group", "north"), "snapline migrate")
    assert ready("migrate").exit_code == 0
    assert ready("keys", "list", "--group", "north").exit_code == 0
    assert_told(ready("migrate", "--to", "nonsense"), "nonsense")


def test_the_database_option_goes_before_the_environment(run: Run, tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path}/other.db"
    assert run("migrate", "--database", url).exit_code == 0
    assert run("groups", "add", "north", "--database", url).exit_code == 0
    assert_told(run("keys", "list", "--group", "north"), "snapline migrate")


def test_serve_refuses_what_it_cannot_do(run: Run, demo_service: tuple[Service, str]) -> None:
    taken = demo_service[0].url.rpartition(":")[2]
    assert_told(run("serve", "--port", taken), "Choose another --port")
    assert_told(run("serve", "--port", 70000), "70000", status=2)
    assert_told(run("serve", "--port", 0, "--database", "mysql://x"), "sqlite:///FILE")
    nobody = "postgresql://nobody@127.0.0.1:1/none"
    assert_told(run("serve", "--port", 0, "--database", nobody), "cannot be used")


def test_serve_does_not_migrate_a_database_that_others_may_share(
    run: Run, postgresql: PostgreSQL | None
) -> None:
    if postgresql is None:
        pytest.skip("PostgreSQL is not installed")
    url = postgresql.new_database()
    assert_told(run("serve", "--port", 0, "--database", url), "schema is at 'base'", "snapline migrate")


def test_the_program_returns_its_exit_code_to_the_shell(tmp_path: Path) -> None:
    """CliRunner catches much; a process of its own shows what a script sees."""
    environment = {
        **os.environ,
        "SNAPLINE_DATABASE": f"sqlite:///{tmp_path}/none.db",
        "SNAPLINE_SECRET": SECRET,
    }

    def shell(*arguments: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "snapline_service", *arguments]
        return subprocess.run(
            command, env=environment, cwd=tmp_path, capture_output=True, text=True, check=False
        )

    lost = shell("keys", "list", "--group", "north")
    assert (lost.returncode, lost.stdout) == (1, "")
    assert "snapline migrate" in lost.stderr
    assert "Traceback" not in lost.stderr
    assert shell("migrate").returncode == 0


@pytest.mark.parametrize(
    "name", ["SNAPLINE_REQUESTS_PER_MINUTE", "SNAPLINE_ANSWER_WITHIN_S", "SNAPLINE_LOG_LEVEL"]
)
def test_serve_names_the_setting_that_it_cannot_use(
    run: Run, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("migrate")
    monkeypatch.setenv(name, "loud")
    assert_told(run("serve", "--port", 0), f"{name} cannot be 'loud'", "Give ")


def test_the_demo_takes_no_database(run: Run, tmp_path: Path) -> None:
    refused = run("serve", "--demo", "--port", 0, "--database", f"sqlite:///{tmp_path}/mine.db")
    assert_told(refused, "database of its own", status=2)


def test_without_the_driver_of_the_database_the_line_that_installs_it_is_told(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    refused = run("migrate", "--database", "postgresql://nobody@127.0.0.1:1/none")
    assert_told(refused, "driver for PostgreSQL", "pip install", "'.[postgresql]'")
    line = re.search(r"pip install .*", refused.output)
    assert line
    assert line[0] in (places.demo_fixtures().parent / "README.md").read_text()


UNTOUCHED = [
    ["catalogue", "drafts", "--group", "north"],
    ["catalogue", "audit", "--group", "north"],
    ["catalogue", "publish", "--group", "north"],
    ["groups", "list"],
    ["keys", "issue", "--group", "north", "--holder", "Ada"],
    ["webhooks", "deliver"],
]


@pytest.mark.parametrize("command", UNTOUCHED, ids=lambda command: " ".join(command[:2]))
def test_a_mistyped_database_leaves_nothing_behind(
    tmp_path: Path, command: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "README.md").write_text("This is not a database, but long enough to be taken for one. " * 20)

    def run(url: str, *arguments: str) -> Result:
        return CliRunner().invoke(main, [*arguments, "--database", url])

    absent = run("sqlite:///absent.db", *command)
    assert_told(absent, "no database absent.db", "snapline migrate")
    for arguments in (command, ["migrate"], ["serve", "--port", "0"]):
        assert_told(run("sqlite:///README.md", *arguments), "cannot be used")
    assert [path.name for path in tmp_path.iterdir()] == ["README.md"]
