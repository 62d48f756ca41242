"""Options that several commands share, and what they lead to."""

import getpass
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

import click
import sqlalchemy as sa
from rich.console import Console, ConsoleDimensions
from rich.measure import Measurement
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table

from snapline_service import database, settings
from snapline_service.settings import Settings

F = TypeVar("F", bound=Callable[..., object])
_WIDEST = 100_000


class _Out(Console):
    """Standard output, in lines as long as they are wherever no terminal shows them."""

    @property  # type: ignore[misc] # nobody sets it
    def size(self) -> ConsoleDimensions:
        """Return how much room there is now; what standard output is may change while a program runs."""
        size = super().size
        return size if self.is_terminal else ConsoleDimensions(_WIDEST, size.height)


# What is printed comes from files and people: a bracket in it is a bracket, not markup.
out = _Out(markup=False, emoji=False, highlight=False)


def tell_table(rows: Table) -> None:
    """Print a table; where a terminal is too narrow for it entry after entry, so that nothing is cut."""
    if Measurement.get(out, out.options.update(width=_WIDEST), rows).maximum <= out.width:
        out.print(rows)
        return
    for entry in zip(*(column.cells for column in rows.columns), strict=True):
        for column, cell in zip(rows.columns, entry, strict=True):
            if cell:
                out.print(f"{column.header}: {cell}", soft_wrap=True)
        out.print()


class _Revision(click.IntRange):
    """The number of a revision."""

    name = "revision"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number."""
        try:
            return int(super().convert(value, param, ctx))
        except click.BadParameter:
            message = f"'{value}' is none. A revision is a number from 1; see: snapline catalogue revisions"
            self.fail(message, param, ctx)


REVISION = _Revision(1)


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
    """Yield the database, which must be there, and the settings."""
    engine = database.connect_existing(settings.database_url(database_url))
    try:
        yield engine, settings.load(database_url)  # only now, since it may make the secret's file
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
