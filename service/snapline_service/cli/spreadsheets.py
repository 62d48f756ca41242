"""Commands for spreadsheets, beside those of the catalogue."""

import sys
from pathlib import Path

import click
import msgspec

from snapline.wire.spreadsheets import SpreadsheetImportQuery, SpreadsheetQuery, SpreadsheetReport
from snapline_service.access.keys import find_group
from snapline_service.access.people import at_command_line
from snapline_service.cli.options import REVISION, database_option, group_option, opened, operator, out
from snapline_service.database import reading, writing
from snapline_service.errors import InvalidValue
from snapline_service.spreadsheets import exporting, importing, routes
from snapline_service.spreadsheets.tables import SHEETS


@click.command("to-spreadsheet")
@click.argument("path", type=click.Path(path_type=Path))
@group_option
@click.option("--revision", default="current", show_default=True, help="A number, or the one in force.")
@click.option("--sheet", type=click.Choice(list(SHEETS)), help="This sheet alone, as CSV.")
@database_option
def to_spreadsheet(
    path: Path, group: str, revision: str, sheet: str | None, database_url: str | None
) -> None:
    """Write a revision's flat parts to PATH: .xlsx, .zip (one CSV file a sheet) or, with --sheet, .csv."""
    ends = {".csv"} if sheet else {".xlsx", ".zip"}
    if path.suffix not in ends:
        message = f"The name of the file must end in {' or '.join(sorted(ends))}."
        raise InvalidValue(message, pointer="/path", mend="Choose another name, or see --sheet.")
    form = "xlsx" if path.suffix == ".xlsx" else "csv"
    query = msgspec.convert({"format": form, "sheet": sheet}, SpreadsheetQuery)
    with opened(database_url) as (engine, _), reading(engine) as session:
        group_id = find_group(session, group).id
        number = routes.number_of(session, group_id, revision)
        path.write_bytes(exporting.write(session, group_id, number, query))
    out.print(f"Wrote revision {number} to {path}.")


@click.command("from-spreadsheet")
@click.argument("path", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@group_option
@click.option("--base-revision", type=REVISION, help="Default: what the file says, else in force.")
@click.option("--sheet", type=click.Choice(list(SHEETS)), help="What a single CSV file holds.")
@click.option("--delimiter", type=click.Choice(["comma", "semicolon", "tab"]), help="Between cells.")
@click.option("--decimal", type=click.Choice(["point", "comma"]), help="In numbers.")
@click.option("--encoding", type=click.Choice(["utf-8", "utf-16", "windows-1252"]), help="Of the text.")
@click.option("--units", type=click.Choice(["mm", "in"]), help="What columns ending in _mm hold.")
@click.option("--note", help="Why, for the draft.")
@click.option("--validate-only", is_flag=True, help="Report, and write nothing.")
@database_option
def from_spreadsheet(
    path: Path, group: str, validate_only: bool, database_url: str | None, **stated: str | int | None
) -> None:
    """Put what was edited in the file PATH into a new draft.

    How the file is written is detected where it is not stated, and told. Everything doubtful is named by
    sheet, row and column, and then nothing is written.
    """
    given = {name: value for name, value in stated.items() if value is not None}
    asked = msgspec.convert(given, SpreadsheetImportQuery)
    with opened(database_url) as (engine, _):
        with reading(engine) as session:
            group_id = find_group(session, group).id
            found = importing.find(session, group_id, path.read_bytes(), asked)
        _stop_on(found.report)
        report = found.report
        if not validate_only:
            with writing(engine) as session:
                person = at_command_line(operator())
                report = importing.keep(session, group_id, person, found, asked.note)
    _tell(report)


def _stop_on(report: SpreadsheetReport) -> None:
    """Print every problem and end the command, if there is any."""
    for one in report.problems:
        cell = f"{one.column or ''}{one.row}"
        value = f" '{one.value}'" if one.value else ""
        click.echo(f"{one.sheet}!{cell} {one.name or 'whole row'}{value}: {one.detail} {one.mend}")
    count = len(report.problems) + report.more_problems
    if count:
        click.echo(f"{count} problem{'' if count == 1 else 's'}; nothing was imported.", err=True)
        sys.exit(1)


def _tell(report: SpreadsheetReport) -> None:
    for one in report.detected:
        how = ", ".join(
            f"{name} {value}"
            for name, value in (
                ("delimiter", repr(one.delimiter) if one.delimiter else None),
                ("decimal", one.decimal),
                ("encoding", one.encoding),
                ("units", one.units),
            )
            if value
        )
        out.print(f"{one.sheet}: {one.rows} rows ({how}).")
    out.print(
        f"{report.changed_cells} cells and {report.changed_documents} documents changed, "
        f"{report.new_rows} rows new, {report.retired_rows} retired, "
        f"compared with revision {report.base_revision}."
    )
    out.print(f"Draft {report.draft_id}." if report.draft_id else "Nothing was written.")
