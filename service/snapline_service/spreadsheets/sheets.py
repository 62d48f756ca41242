"""One sheet as it was read: its headings and its rows, whichever kind of file it came from."""

from collections.abc import Iterable, Iterator

from msgspec import Struct
from msgspec.structs import replace

from snapline.wire.spreadsheets import CellProblem
from snapline_service.faults import nearest
from snapline_service.spreadsheets.cells import Reading, Unusable
from snapline_service.spreadsheets.detecting import Confidence, normal
from snapline_service.spreadsheets.tables import SHEETS, Column, Sheet


class Header(Struct, frozen=True):
    """The columns of a sheet in the order of the file; None stands for one that cannot be used."""

    sheet: Sheet
    columns: tuple[Column | None, ...]
    inches: frozenset[str]
    problems: tuple[CellProblem, ...]

    def place(self, name: str) -> str | None:
        """Return the letters of a column; None if the file does not have it."""
        found = (index for index, column in enumerate(self.columns) if column and column.name == name)
        index = next(found, None)
        return None if index is None else letters(index)


class Table(Struct, frozen=True, kw_only=True):
    """A sheet of a file. ``rows`` are read once, each with its number; ``width``: of CSV, the headings."""

    header: Header
    rows: Iterable[tuple[int, list[object]]]
    reading: Reading
    width: int | None = None
    delimiter: str | None = None
    encoding: str | None = None
    encoding_confidence: Confidence | None = None


def header_of(sheet: Sheet, headings: list[object]) -> Header:
    """Return the columns that a heading row names."""
    known = {column.name: column for column in sheet.all_columns}
    columns: list[Column | None] = []
    inches: set[str] = set()
    problems: list[CellProblem] = []
    problem = CellProblem(sheet=sheet.name, row=1, column=None, name=None, value="", detail="", mend="")
    likely = likely_sheet(headings)
    foreign = {column.name for column in SHEETS[likely].all_columns} if likely != sheet.name else set()
    for index, heading in enumerate(headings):
        if isinstance(heading, Unusable):
            where = replace(problem, column=letters(index), value=heading.shown)
            problems.append(replace(where, detail=heading.detail, mend=heading.mend))
            columns.append(None)
            continue
        name, in_inches = normal(str(heading or ""))
        column = known.get(name)
        here = replace(problem, column=letters(index), name=name[:80], value=str(heading)[:80])
        if column and column in columns:
            problems.append(replace(here, detail="This heading stands twice.", mend="Keep one of the two."))
            column = None
        elif column is None and name:
            mend = nearest(name, list(known))
            if name in foreign:
                mend = f"This looks like the sheet {likely}: import it as that one."
            problems.append(replace(here, detail="This heading is not known in this sheet.", mend=mend))
        if column and in_inches:
            inches.add(column.name)
        columns.append(column)
    for column in sheet.keys:
        if column not in columns:
            detail = f"The column '{column.name}' is missing: it says what each row is about."
            problems.append(replace(problem, name=column.name, detail=detail, mend=f"Add '{column.name}'."))
    return Header(sheet, tuple(columns), frozenset(inches), tuple(problems))


def likely_sheet(headings: list[object]) -> str:
    """Return the sheet to which most headings belong."""
    names = {normal(str(heading))[0] for heading in headings}
    return max(
        SHEETS,
        key=lambda name: (
            {column.name for column in SHEETS[name].keys} <= names,
            len(names & {column.name for column in SHEETS[name].all_columns}),
        ),
    )


def letters(index: int) -> str:
    """Return how spreadsheet programs name a column: A to Z, then AA."""
    return "".join(_letters(index))


def _letters(index: int) -> Iterator[str]:
    if index >= 26:
        yield from _letters(index // 26 - 1)
    yield chr(ord("A") + index % 26)
