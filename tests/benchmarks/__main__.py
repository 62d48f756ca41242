"""Run the comparison and print the table."""

import tempfile
from pathlib import Path

import click

from benchmarks import bay_fit, look_ups, reverse, scaling, sdk, sequence, starting, visits
from benchmarks.catalogues import Catalogue, catalogue
from benchmarks.report import Report

_CACHE = Path(tempfile.gettempdir()) / "snapline-benchmarks"


@click.command()
@click.option("--vehicles", type=int, multiple=True, default=(10_000, 200_000), show_default=True)
@click.option("--rounds", type=click.IntRange(1, 100), default=9, show_default=True)
@click.option(
    "--requests",
    type=click.IntRange(100),
    default=5000,
    show_default=True,
    help="In a round, to each server.",
)
@click.option(
    "--cache",
    type=click.Path(path_type=Path, file_okay=False),
    default=_CACHE,
    show_default=True,
    help="Where catalogues are kept.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("build/benchmark.md"),
    show_default=True,
)
@click.option("--install", is_flag=True, help="Time a fresh installation too; needs a package index.")
def main(
    *, vehicles: tuple[int, ...], rounds: int, requests: int, cache: Path, out: Path, install: bool
) -> None:
    """Measure the service beside the bare limit and its peers."""
    table = Report()
    catalogues = []
    for size in sorted(vehicles):
        click.echo(f"{size:,} vehicles …", err=True)
        catalogues.append(catalogue(size, cache))
        look_ups.measure(table, catalogues[-1], rounds, requests)
    click.echo("SQL, SDK, start, scaling …", err=True)
    reverse.measure(table, catalogues, rounds)
    sdk.measure(table, catalogues[-1], rounds)
    starting.measure(table, min(rounds, 5), install=install)
    scaling.measure(table, catalogues[-1], requests)
    _making(table, catalogues)
    click.echo("Rooms, orders, visits …", err=True)
    bay_fit.measure(table, rounds)
    sequence.measure(table, rounds)
    visits.measure(table)
    click.echo(str(table))
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(str(table))


def _making(table: Report, catalogues: list[Catalogue]) -> None:
    table.section("Importing and publishing, when the catalogues were made")
    for made in catalogues:
        making, size = made.making, f"{made.vehicles:,} vehicles"
        table.add(f"import {size}", making.import_s, "s", note=f"peak {making.import_peak_mb:,.0f} MB")
        table.add(f"publish {size}", making.publish_s, "s", note=f"peak {making.publish_peak_mb:,.0f} MB")
        table.add(f"revision file of {size}", made.path.stat().st_size / 1e6, "MB")


if __name__ == "__main__":
    main(prog_name="python -m benchmarks")
