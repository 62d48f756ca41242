"""Commands for the requirement catalogue."""

import sys
from pathlib import Path

import click
import msgspec
from rich.table import Table

from snapline_service.access.keys import find_group
from snapline_service.access.people import at_command_line
from snapline_service.catalogue import draft_store, files, store
from snapline_service.catalogue.documents import json_schema
from snapline_service.catalogue.files import FileFault
from snapline_service.catalogue.synthetic import synthetic_documents
from snapline_service.cli.options import (
    REVISION,
    database_option,
    group_option,
    opened,
    operator,
    out,
    progress,
    tell_table,
)
from snapline_service.cli.reviewing import tell_findings
from snapline_service.database import reading, writing
from snapline_service.drafts import actions
from snapline_service.drafts import drafts as draft_actions
from snapline_service.revisions import revisions as published_revisions

_PATH = click.Path(exists=True, path_type=Path)


@click.group()
def catalogue() -> None:
    """Check, import, publish and export catalogues.

    A catalogue is a folder of .json documents or one .ndjson file. Their JSON Schema is printed by
    `snapline catalogue schema`.
    """


@catalogue.command()
@click.argument("path", type=_PATH)
def check(path: Path) -> None:
    """Check the files at PATH by themselves and report every fault."""
    with progress("Checking") as show:
        count, faults = actions.check_files(path, lambda done: show(done, None))
    stop_on(faults)
    out.print(f"{count} documents, no faults.")


@catalogue.command("import")
@click.argument("path", type=_PATH)
@group_option
@click.option("--retire-missing", is_flag=True, help="Retire what the files do not contain.")
@database_option
def import_(path: Path, group: str, retire_missing: bool, database_url: str | None) -> None:
    """Put the files at PATH into a new draft. With any fault, nothing is imported."""
    with opened(database_url) as (engine, _), progress("Importing") as show:
        imported, faults = actions.import_files(
            engine,
            path,
            group=group,
            by=operator(),
            retire_missing=retire_missing,
            seen=lambda done: show(done, None),
        )
    stop_on(faults)
    if imported:
        out.print(
            f"Draft {imported.draft_id} on top of revision {imported.base_revision}: {imported.documents} "
            f"documents read, {imported.changed} new or changed, {imported.retired} retired. "
            f"Publish it with: snapline catalogue publish --group {group} --draft {imported.draft_id}"
        )


@catalogue.command()
@group_option
@click.option("--draft", "draft_id", help="Default: the only one that is open.")
@click.option("--note", default="", help="Why, for those who look back.")
@database_option
def publish(group: str, draft_id: str | None, note: str, database_url: str | None) -> None:
    """Make a draft the next revision, which never changes again.

    Whoever works at this machine is trusted: a draft that nobody else has approved is published too, and the
    revision says for ever that it was not reviewed. Over HTTP a second person must approve it first. Errors
    that `snapline catalogue validate` reports stop it; warnings are printed and do not.
    """
    with opened(database_url) as (engine, settings), progress("Publishing") as show:
        published = actions.publish(
            engine, settings, group=group, by=operator(), draft_id=draft_id, note=note, progress=show
        )
    tell_findings(one for one in published.report.items if not one.acknowledged)
    out.print(f"Draft {published.draft}.")
    out.print(
        f"Published revision {published.number}: {published.entries} documents, content hash "
        f"{published.manifest_hash}."
    )
    if published.reviewed_by:
        out.print(f"Reviewed by {published.reviewed_by}.")
    else:
        out.print("Published at the command line, without review.")


@catalogue.command()
@group_option
@click.option("--all", "all_", is_flag=True, help="Those that are published or dropped too.")
@database_option
def drafts(group: str, all_: bool, database_url: str | None) -> None:
    """List a group's drafts, newest first."""
    rows = Table("draft", "state", "on revision", "changes", "editors", "approved by", "note")
    with opened(database_url) as (engine, _), reading(engine) as session:
        for row in draft_store.listing(session, find_group(session, group).id, None, None, 200):
            if all_ or row.state in draft_store.OPEN:
                shown = draft_actions.shown(session, row)
                counts = (str(shown.base_revision), str(shown.changes))
                people = (", ".join(shown.editors), shown.approved_by or "")
                rows.add_row(shown.id, shown.state, *counts, *people, shown.note)
    tell_table(rows)


@catalogue.command()
@group_option
@database_option
def revisions(group: str, database_url: str | None) -> None:
    """List a group's revisions, newest first; the newest is in force."""
    rows = Table("revision", "published", "by", "review", "note")
    with opened(database_url) as (engine, _), reading(engine) as session:
        for row, origin in store.revisions(session, find_group(session, group).id, None, 200):
            shown = published_revisions.described(row, origin)
            review = f"reviewed by {shown.reviewed_by}" if shown.reviewed_by else shown.review
            rows.add_row(str(shown.number), shown.published_at, shown.published_by, review, shown.note)
    tell_table(rows)


@catalogue.command()
@group_option
@click.argument("number", type=REVISION)
@click.option("--note", default="", help="Why, for those who look back.")
@database_option
def restore(group: str, number: int, note: str, database_url: str | None) -> None:
    """Put the content of revision NUMBER into a new draft, which is published like any other."""
    with opened(database_url) as (engine, _), writing(engine) as session:
        group_id = find_group(session, group).id
        draft = draft_actions.restore(session, group_id, at_command_line(operator()), number, note)
        changes = draft_store.count_changes(session, draft.id)
        name = draft.id
    out.print(
        f"Draft {name} brings back revision {number}: {changes} changes. "
        f"Publish it with: snapline catalogue publish --group {group} --draft {name}"
    )


@catalogue.command()
@click.argument("path", type=click.Path(path_type=Path))
@group_option
@click.option("--revision", type=REVISION, help="Default: the one in force.")
@database_option
def export(path: Path, group: str, revision: int | None, database_url: str | None) -> None:
    """Write a revision to PATH: a new folder, or a file whose name ends in .ndjson."""
    write = files.write_lines if path.suffix == ".ndjson" else files.write_folder
    with opened(database_url) as (engine, _), reading(engine) as session:
        count = write(actions.export(session, group=group, number=revision), path)
    out.print(f"Wrote {count} documents to {path}.")


@catalogue.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--vehicles", type=click.IntRange(1), default=1000, show_default=True)
@click.option("--seed", type=int, default=1, show_default=True, help="Equal seeds give equal catalogues.")
def generate(path: Path, vehicles: int, seed: int) -> None:
    """Write a synthetic, invented catalogue of any size to the .ndjson file PATH."""
    with progress("Generating") as show:
        documents = synthetic_documents(vehicles, seed)
        shown = (document for count, document in enumerate(documents, 1) if show(count, None) is None)
        count = files.write_lines(shown, path)
    out.print(f"Wrote {count} documents to {path}.")


@catalogue.command()
def schema() -> None:
    """Print the JSON Schema of catalogue documents."""
    click.echo(msgspec.json.format(msgspec.json.encode(json_schema()), indent=2).decode())


def stop_on(faults: list[FileFault]) -> None:
    """Print every fault and end the command, if there is any."""
    if not faults:
        return
    for fault in faults:
        click.echo(
            f"{fault.file}:{fault.line}: {fault.field or 'whole document'}: {fault.detail} {fault.mend}"
        )
    click.echo(f"{len(faults)} fault{'' if len(faults) == 1 else 's'}; nothing was imported.", err=True)
    sys.exit(1)
