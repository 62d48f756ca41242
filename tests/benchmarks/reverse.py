"""P4: the reverse look-up's SQL must not feel how large the catalogue is."""

import statistics
import time
from collections.abc import Sequence
from pathlib import Path
from random import Random
from typing import Any

from benchmarks import report
from benchmarks.catalogues import BUSIEST_FIXTURE, Catalogue
from benchmarks.look_ups import reverse_tokens
from benchmarks.measuring import alternate
from benchmarks.report import Report
from snapline.offline import RevisionFile
from snapline.wire.fixtures import FixtureVehicleQuery

_PAGES = 500


class TimedFile(RevisionFile):
    """A revision file that notes how long its SQL takes."""

    def __init__(self, path: str | Path) -> None:
        self.sql_us: list[float] = []
        super().__init__(path)

    def _rows(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        began_s = time.perf_counter()
        rows = super()._rows(sql, *values)
        self.sql_us.append((time.perf_counter() - began_s) * 1e6)
        return rows


def page_us(file: TimedFile, fixture: str, tokens: Sequence[str], pages: int = _PAGES) -> float:
    """Return the median time that SQL takes for one of so many pages of 50, chosen at random."""
    file.sql_us.clear()
    for token in Random(1).choices(tokens, k=pages):
        file.fixture_vehicle_page(fixture, FixtureVehicleQuery(page_size=50, page_token=token))
    return statistics.median(file.sql_us)


def measure(table: Report, catalogues: Sequence[Catalogue], rounds: int) -> None:
    """Add the SQL time of a page in each catalogue, and how it grows from the smallest to the largest."""
    files = {catalogue.vehicles: TimedFile(catalogue.path) for catalogue in catalogues}
    tokens = {size: reverse_tokens(file) for size, file in files.items()}
    took_us = alternate(
        {
            str(size): lambda size=size: page_us(files[size], BUSIEST_FIXTURE, tokens[size])  # type: ignore[misc]
            for size in files
        },
        rounds,
    )
    table.section("Reverse look-up, page of 50 anywhere in the list, SQL alone")
    for size in files:
        note = f"of {50 * (len(tokens[size]) + 1):,} vehicles that the fixture serves"
        table.add(f"P4 {size:,} vehicles", took_us[str(size)], "µs", report.REVERSE_SQL_US, note)
    small, large = min(files), max(files)
    if small < large:
        growth = took_us[str(large)] / took_us[str(small)]
        table.add(f"P4 {large:,} against {small:,}", growth, "×", report.REVERSE_GROWTH)
