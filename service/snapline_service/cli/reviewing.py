"""Commands for whoever reads a change of the catalogue before or after it is in force."""

from collections.abc import Iterable
from pathlib import Path

import click
from rich.table import Table

from snapline.wire.changes import AuditQuery
from snapline.wire.diffs import Diff
from snapline.wire.impact import Impact
from snapline.wire.validation import Finding
from snapline_service.access.keys import find_group
from snapline_service.changes import store as events
from snapline_service.changes.period import require_period
from snapline_service.changes.shown import event_of
from snapline_service.cli.drafting import draft_argument, draft_in
from snapline_service.cli.options import REVISION, database_option, group_option, opened, out, tell_table
from snapline_service.database import reading
from snapline_service.diffs import comparing
from snapline_service.diffs.page import page
from snapline_service.drafts import drafts
from snapline_service.errors import InvalidValue, NotFound
from snapline_service.impact import impact
from snapline_service.requests import convert
from snapline_service.revisions.revision_files import in_force
from snapline_service.validation import reporting


@click.command()
@draft_argument
@group_option
@database_option
def validate(draft_id: str | None, group: str, database_url: str | None) -> None:
    """Report what is wrong or doubtful in DRAFT, by default the newest that is open.

    Errors stop a publication; warnings are to be read, and accepted with a reason before a review.
    """
    with opened(database_url) as (engine, settings), reading(engine) as session:
        row = draft_in(session, group, draft_id)
        published = in_force(session, engine, settings, row.group_id)
        report = reporting.report(session, row, published.path if published else None)
        told = drafts.told(session, row)
    tell_findings(report.items)
    out.print(f"Draft {told}: errors: {report.errors}, warnings: {report.warnings}.")


def tell_findings(found: Iterable[Finding]) -> None:
    """Print what is wrong or doubtful in a draft, if there is anything."""
    rows = Table("severity", "document", "at", "what", "how to mend it", "may stand because")
    for one in found:
        document = f"{one.kind} {one.name}"
        rows.add_row(one.severity, document, one.pointer, one.text, one.mend, one.acknowledged or "")
    if rows.rows:
        tell_table(rows)


@click.command()
@click.argument("older", type=REVISION, required=False)
@click.argument("newer", type=REVISION, required=False)
@group_option
@click.option("--draft", "draft_id", help="What this draft changes in its base.")
@click.option("--html", type=click.Path(path_type=Path), help="Write it as a page to this file too.")
@database_option
def diff(
    *,
    older: int | None,
    newer: int | None,
    group: str,
    draft_id: str | None,
    html: Path | None,
    database_url: str | None,
) -> None:
    """Tell what differs from revision OLDER to NEWER; without them, what the newest draft changes."""
    if (older is None) != (newer is None) or (older and draft_id):
        message = "Two revisions are compared, or one draft."
        raise InvalidValue(message, pointer="/older", mend="Give OLDER and NEWER, or --draft alone.")
    with opened(database_url) as (engine, _), reading(engine) as session:
        if older and newer:
            found = comparing.revisions(session, find_group(session, group).id, older, newer)
        else:
            row = draft_in(session, group, draft_id)
            out.print(f"Draft {drafts.told(session, row)}:")
            found = comparing.draft(session, row)
    _tell(found)
    if html:
        html.write_text(page(found), encoding="utf-8")
        out.print(f"Wrote {html}.")


def _tell(found: Diff) -> None:
    for item in found.items:
        out.print(item.text)
    out.print(f"From {found.before} to {found.after}; documents that differ: {found.documents}.")
    if found.documents_shown < found.documents:
        out.print(f"These are the first {found.documents_shown}.")


@click.command("impact")
@draft_argument
@click.option("--revision", type=REVISION, help="What this revision touched in the one before it.")
@group_option
@database_option
def impact_(draft_id: str | None, revision: int | None, group: str, database_url: str | None) -> None:
    """Tell what DRAFT would touch: vehicles and their systems, fixtures, bays, kept visits."""
    if draft_id and revision:
        raise InvalidValue("Both a draft and a revision are named.", pointer="/revision", mend="Name one.")
    with opened(database_url) as (engine, settings), reading(engine) as session:
        row = None if revision else draft_in(session, group, draft_id)
        group_id = find_group(session, group).id
        published = in_force(session, engine, settings, group_id)
        if published is None:
            raise NotFound("Nothing is in force that could be touched.", mend="Publish a revision first.")
        if row:
            _tell_impact(
                f"Draft {drafts.told(session, row)} touches", impact.of_draft(session, row, published)
            )
        else:
            found = impact.of_revision(session, group_id, revision or 0, published)
            _tell_impact(f"Revision {revision} touched", found)


def _tell_impact(who: str, found: Impact) -> None:
    rows = Table("vehicle", "systems", "fixtures gained", "fixtures lost")
    for one in found.fixtures:
        rows.add_row(one.name, *("\n".join(names) for names in (one.systems, one.gained, one.lost)))
    tell_table(rows)
    for lost in found.bays_lost:
        out.print(f"{lost.site}, {lost.bay}: no longer serves {lost.procedure} of {lost.vehicle_id}.")
    for homeless in found.homeless:
        out.print(f"No bay of the group serves {homeless.procedure} of {homeless.vehicle_id}.")
    for visit in found.visits_changed:
        out.print(f"{visit.visit_id} on {visit.date} at {visit.site}: {' '.join(visit.texts)}")
    out.print(
        f"{who} vehicles: {found.vehicles} ({found.vehicles_examined} examined), "
        f"kept visits: {len(found.visits_changed)} of {found.visits_examined}."
    )


@click.command()
@group_option
@click.option("--type", "type_", help="A type of event, such as draft.approved, or what is before its dot.")
@click.option("--holder", help="Who did it: a holder's id or name.")
@click.option("--since", help="A day or moment in UTC: 2027-01-31.")
@click.option("--until", help="A day or moment in UTC, left out itself.")
@click.option("--last", type=click.IntRange(1, 10_000), default=50, show_default=True, help="How many.")
@database_option
def audit(
    *,
    group: str,
    type_: str | None,
    holder: str | None,
    since: str | None,
    until: str | None,
    last: int,
    database_url: str | None,
) -> None:
    """List who did what and when, newest first."""
    given = {"type": type_, "holder": holder, "since": since, "until": until}
    asked = {name: value for name, value in given.items() if value is not None}
    wanted = convert(asked, AuditQuery, known_words=True)
    require_period(wanted)
    rows = Table("when", "who", "what", "about")
    with opened(database_url) as (engine, _), reading(engine) as session:
        for row in events.audit(session, find_group(session, group).id, wanted, None, last):
            event = event_of(row)
            rows.add_row(event.timestamp, event.by.name, event.type, event.subject)
    if rows.rows:
        tell_table(rows)
    else:
        _tell_nothing(wanted)


def _tell_nothing(wanted: AuditQuery) -> None:
    kind = f" of type '{wanted.type}'" if wanted.type else ""
    who = f" by '{wanted.holder}'" if wanted.holder else ""
    when = " in that time" if wanted.since or wanted.until else ""
    out.print(f"Nothing{kind}{who}{when} is recorded.")
