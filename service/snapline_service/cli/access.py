"""Commands for groups and keys."""

import click
from rich.table import Table

from snapline.wire.keys import SCOPES
from snapline_service.access import keys as access
from snapline_service.access.people import at_command_line
from snapline_service.cli.options import database_option, group_option, opened, operator, out, tell_table


@click.group()
def groups() -> None:
    """Add and list workshop groups.

    Each has its own catalogue and sees nothing of the others.
    """


@groups.command("add")
@click.argument("name")
@click.option("--title", help="What people call it. Default: its name.")
@database_option
def add_group(name: str, title: str | None, database_url: str | None) -> None:
    """Create the group NAME."""
    with opened(database_url) as (engine, _):
        group_id = access.add_group(engine, name, title or name)
    out.print(f"Added group {name} ({group_id}).")


@groups.command("list")
@database_option
def list_groups(database_url: str | None) -> None:
    """List the groups."""
    with opened(database_url) as (engine, _):
        for group in access.groups(engine):
            click.echo(f"{group.name}  {group.title}  {group.id}")


@click.group()
def keys() -> None:
    """Issue, list and revoke API keys.

    Each belongs to a holder of a group and carries scopes: read (look-ups), plan (setups and calculators),
    record, edit, review, equip, and administer (keys).
    """


@keys.command("issue")
@group_option
@click.option("--holder", required=True, help="The person or program that will use it.")
@click.option(
    "--scope",
    "scopes",
    multiple=True,
    type=click.Choice(SCOPES),
    default=("read", "plan"),
    show_default=True,
    help="May be given several times.",
)
@click.option("--valid-days", type=click.IntRange(1, 36500), help="Let it expire. Default: it does not.")
@database_option
def issue_key(
    group: str, holder: str, scopes: tuple[str, ...], valid_days: int | None, database_url: str | None
) -> None:
    """Issue a key. It is shown this once and cannot be shown again."""
    with opened(database_url) as (engine, settings):
        issued = access.issue(
            engine,
            settings.secret,
            group=group,
            holder=holder,
            scopes=scopes,
            valid_days=valid_days,
            by=at_command_line(operator()),
        )
    click.echo(f"Issued {issued.key_id} to {holder} ({issued.holder_id}). Keep the key now:", err=True)
    click.echo(f"SNAPLINE_KEY={issued.token}")


@keys.command("list")
@group_option
@database_option
def list_keys(group: str, database_url: str | None) -> None:
    """List a group's keys."""
    rows = Table("key", "holder", "scopes", "issued", "expires", "revoked")
    with opened(database_url) as (engine, _):
        for key, holder in access.listing(engine, group=group):
            times = (key.created_at[:10], (key.expires_at or "never")[:10], (key.revoked_at or "")[:10])
            rows.add_row(key.id, holder.name, key.scopes, *times)
    tell_table(rows)


@keys.command("revoke")
@click.argument("key_id")
@group_option
@database_option
def revoke_key(key_id: str, group: str, database_url: str | None) -> None:
    """Revoke the key KEY_ID for good; running services refuse it within a second."""
    with opened(database_url) as (engine, _):
        access.revoke(engine, group=group, key_id=key_id, by=at_command_line(operator()))
    out.print(f"Revoked {key_id}.")
