"""Commands for sites with their bays and physical fixtures."""

from pathlib import Path

import click
from rich.table import Table

from snapline_service.access.keys import find_group
from snapline_service.cli.catalogue import stop_on
from snapline_service.cli.options import database_option, group_option, opened, operator, out, tell_table
from snapline_service.database import reading
from snapline_service.sites import importing, store


@click.group()
def sites() -> None:
    """Import and list a group's sites with their bays and physical fixtures."""


@sites.command("import")
@click.argument("folder", type=click.Path(exists=True, path_type=Path))
@group_option
@database_option
def import_(folder: Path, group: str, database_url: str | None) -> None:
    """Create or replace the sites in FOLDER, one .json file each. With any fault, nothing is imported.

    What is there already and in none of the files stays as it is.
    """
    with opened(database_url) as (engine, _):
        imported, faults = importing.import_files(engine, folder, group=group, by=operator())
    stop_on(faults)
    if imported:
        out.print(
            f"{imported.sites} sites, {imported.bays} bays and {imported.assets} physical fixtures read, "
            f"{imported.changed} of them new or changed."
        )


@sites.command("list")
@group_option
@database_option
def list_(group: str, database_url: str | None) -> None:
    """List a group's sites."""
    rows = Table("site", "name", "time zone", "bays", "physical fixtures")
    with opened(database_url) as (engine, _), reading(engine) as session:
        for site in store.shelf(session, find_group(session, group).id).values():
            counts = (str(len(site.bays)), str(len(site.assets)))
            rows.add_row(site.id, site.name, site.time_zone, *counts)
    tell_table(rows)
