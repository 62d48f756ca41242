"""Commands that move a draft on: submit, approve, send back, rebase, settle, drop.

Whoever works at the machine acts under the name of their account there.
"""

from collections.abc import Callable

import click
import msgspec
from rich.table import Table
from sqlmodel import Session

from snapline.wire.drafts import Acknowledgement
from snapline.wire.validation import ValidationReport
from snapline_service.access.keys import find_group
from snapline_service.access.people import Person, at_command_line
from snapline_service.catalogue import draft_store
from snapline_service.catalogue.tables import DraftRow
from snapline_service.cli.options import database_option, group_option, opened, operator, out, tell_table
from snapline_service.database import reading, writing
from snapline_service.drafts import drafts, rebasing, review
from snapline_service.errors import InvalidValue
from snapline_service.revisions.revision_files import in_force
from snapline_service.validation import reporting

draft_argument = click.argument("draft_id", metavar="[DRAFT]", required=False)


def draft_in(session: Session, group: str, draft_id: str | None, *, to_change: bool = False) -> DraftRow:
    """Return a draft; by default the only one that is open, or to read it the newest.

    Raises NotFound, Conflict.
    """
    group_id = find_group(session, group).id
    if draft_id is None:
        meant = drafts.only_open if to_change else drafts.newest_open
        draft_id = meant(session, group_id).id
    return drafts.found(session, group_id, draft_id, to_change=to_change)


@click.command()
@draft_argument
@group_option
@click.option("--note", default="", help="What the reviewer should know.")
@click.option("--because", help="Why all warnings that stand may stand; see: snapline catalogue validate.")
@database_option
def submit(
    draft_id: str | None, group: str, note: str, because: str | None, database_url: str | None
) -> None:
    """Submit DRAFT for review, by default the only one that is open."""
    with opened(database_url) as (engine, settings), writing(engine) as session:
        row = draft_in(session, group, draft_id, to_change=True)
        published = in_force(session, engine, settings, row.group_id)
        path = published.path if published else None
        given = _accepted(reporting.report(session, row, path), because) if because else []
        person = at_command_line(operator())
        review.submit(session, row, person, text=note, given=given, published=path)
        name = row.id
    out.print(f"Draft {name} is in review.")


def _accepted(report: ValidationReport, because: str) -> list[Acknowledgement]:
    warnings = (one for one in report.items if one.severity == "warning")
    return [Acknowledgement(finding=one.id, reason=because) for one in warnings]


def _act(
    database_url: str | None,
    group: str,
    draft_id: str | None,
    act: Callable[[Session, DraftRow, Person], None],
) -> str:
    """Do something to a draft and return its id."""
    with opened(database_url) as (engine, _), writing(engine) as session:
        row = draft_in(session, group, draft_id, to_change=True)
        act(session, row, at_command_line(operator()))
        return row.id


@click.command()
@draft_argument
@group_option
@database_option
def approve(draft_id: str | None, group: str, database_url: str | None) -> None:
    """Agree with DRAFT as it is. Whoever changed anything in it cannot."""
    out.print(f"Draft {_act(database_url, group, draft_id, review.approve)} is approved.")


@click.command("send-back")
@draft_argument
@group_option
@click.option("--note", required=True, help="Why.")
@database_option
def send_back(draft_id: str | None, group: str, note: str, database_url: str | None) -> None:
    """Send DRAFT back to who edits it."""

    def act(session: Session, row: DraftRow, person: Person) -> None:
        review.send_back(session, row, person, note)

    name = _act(database_url, group, draft_id, act)
    out.print(f"Draft {name} is sent back.")


@click.command()
@draft_argument
@group_option
@database_option
def drop(draft_id: str | None, group: str, database_url: str | None) -> None:
    """Give DRAFT up; it stays readable."""
    out.print(f"Draft {_act(database_url, group, draft_id, drafts.drop)} is dropped.")


@click.command()
@draft_argument
@group_option
@database_option
def rebase(draft_id: str | None, group: str, database_url: str | None) -> None:
    """Put DRAFT on top of the revision in force, merged field by field; list what conflicts."""
    name = _act(database_url, group, draft_id, rebasing.rebase)
    rows = Table("conflict", "document", "at", "published", "draft")
    with opened(database_url) as (engine, _), reading(engine) as session:
        waiting = draft_store.conflicts(session, name, still_open=True)
        for row in waiting:
            document = f"{row.kind} {row.name}"
            rows.add_row(
                str(row.number), document, rebasing.pointer_of(row), row.published or "–", row.draft or "–"
            )
    out.print(f"Draft {name} is on top of the revision in force.")
    if waiting:
        tell_table(rows)
        out.print(f"Settle each: snapline catalogue settle NUMBER --take draft --group {group}")


@click.command()
@click.argument("number", type=click.IntRange(1))
@draft_argument
@group_option
@click.option("--take", type=click.Choice(["draft", "published"]), help="Whose side holds.")
@click.option("--value", help="Or another value, as JSON.")
@database_option
def settle(
    *,
    number: int,
    draft_id: str | None,
    group: str,
    take: str | None,
    value: str | None,
    database_url: str | None,
) -> None:
    """Settle conflict NUMBER of DRAFT."""
    if (take is None) == (value is None):
        raise InvalidValue("A conflict is settled by a side or by a value.", mend="Give --take or --value.")
    try:
        other = msgspec.json.decode(value) if value is not None else msgspec.UNSET
    except msgspec.DecodeError:
        raise InvalidValue("The value is not JSON.", mend="Put texts in quotes: '\"text\"'.") from None

    def act(session: Session, row: DraftRow, person: Person) -> None:
        rebasing.choose(session, row, person, number, take=take or "value", value=other)

    name = _act(database_url, group, draft_id, act)
    out.print(f"Conflict {number} of draft {name} is settled.")
