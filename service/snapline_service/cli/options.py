"""Options that several commands share, and what they lead to."""

import getpass
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

import click
import sqlalchemy as sa
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from snapline_service import database, settings
from snapline_service.settings import Settings

F = TypeVar("F", bound=Callable[..., object])
# What is printed comes from files and people: a bracket in it is a bracket, not markup.
out = Console(markup=False, emoji=False, highlight=False)


def database_option(function: F) -> F:
    """Add --database."""
    text = (
        "sqlite:///FILE or postgresql://USER@HOST/NAME. Default: SNAPLINE_DATABASE, or sqlite:///snapline.db."
    )
    return click.option("--database", "database_url", metavar="URL", help=text)(function)


def group_option(function: F) -> F:
    """Add --group."""
    return click.option("--group", required=True, help="The group's name.")(function)


@contextmanager
def opened(database_url: str | None) -> Iterator[tuple[sa.Engine, Settings]]:
    """Yield the database and the settings."""
    chosen = settings.load(database_url)
    engine = database.connect(chosen.database)
    try:
        yield engine, chosen
    finally:
        engine.dispose()


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int | None], None]]:
    """Show a bar on work that takes long; yields a function of done and total (None if unknown)."""
    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def operator() -> str:
    """Return who works at this command line, for the record of drafts and revisions."""
    return f"{getpass.getuser()} at the command line"
