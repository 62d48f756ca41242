"""Which cells of a sheet differ from the revision that it was exported from."""

from collections.abc import Iterator
from functools import lru_cache
from itertools import islice
from typing import Any

import msgspec
from msgspec import Struct
from sqlmodel import Session

from snapline.wire.spreadsheets import CellProblem, Units
from snapline_service import plausible
from snapline_service.catalogue import store
from snapline_service.spreadsheets.cells import MM_PER_INCH, CellFault, Raw, same, text_of, value_of
from snapline_service.spreadsheets.sheets import Header, Table
from snapline_service.spreadsheets.tables import EMPTY, RETIRE, SHEETS, Column, Keys, Value

MOST_PROBLEMS = 1000
_BATCH = 500


class Problems:
    """What is wrong in the cells: the first thousand, and how many more."""

    def __init__(self) -> None:
        self.told: list[CellProblem] = []
        self.more = 0

    def add(self, problem: CellProblem) -> None:
        """Tell a problem, or count it."""
        if len(self.told) < MOST_PROBLEMS:
            self.told.append(problem)
        else:
            self.more += 1


class Row(Struct, frozen=True):
    """One row of a file, so that what is wrong in it can be placed."""

    header: Header
    number: int
    cells: list[Any]

    def raw(self, name: str) -> Raw:
        """Return what stands in a column; None if the file does not have it."""
        found = zip(self.header.columns, self.cells, strict=False)
        return next((cell for column, cell in found if column and column.name == name), None)

    def problem(self, name: str | None, detail: str, mend: str) -> CellProblem:
        """Return what is wrong in a column, or in the row as a whole."""
        letters = self.header.place(name) if name else None
        raw = self.raw(name) if name else None
        value = "" if raw is None else str(raw)[:200]
        return CellProblem(
            sheet=self.header.sheet.name,
            row=self.number,
            column=letters,
            name=name,
            value=value,
            detail=detail,
            mend=mend,
        )


class Edit(Struct, frozen=True):
    """What a row changes: by column the new value and the old one. ``old`` is None for a row that is new."""

    row: Row
    keys: Keys
    cells: dict[str, tuple[Value, Value]]
    is_new: bool
    retires: bool


class Book:
    """A group's vehicles and fixtures in the revision that was exported and in the one in force."""

    def __init__(self, session: Session, group_id: str, base: int, current: int) -> None:
        self._session, self._group_id = session, group_id
        self.current = current
        self.base = base
        self.hashes = {
            (entry.kind, entry.name): entry.hash
            for kind in EMPTY
            for entry in store.entries(session, group_id, current, kind)
        }
        self._base_hashes = self.hashes
        if base != current:
            self._base_hashes = {
                (entry.kind, entry.name): entry.hash
                for kind in EMPTY
                for entry in store.entries(session, group_id, base, kind)
            }
        self._bodies: dict[str, bytes] = {}
        self.base_rows = lru_cache(maxsize=_BATCH)(self._base_rows)

    def fetch(self, kind: str, names: set[str]) -> None:
        """Read what is about to be compared with, all at once."""
        hashes = {self._base_hashes.get((kind, name)) for name in names} - {None}
        self._bodies = dict(store.bodies(self._session, self._group_id, map(str, hashes)))

    def document(self, kind: str, name: str) -> dict[str, Any] | None:
        """Return a document that is in force, as a JSON value."""
        digest = self.hashes.get((kind, name))
        return self._json(digest) if digest else None

    def _base_rows(self, sheet_name: str, name: str) -> dict[Keys, dict[str, Value]]:
        sheet = SHEETS[sheet_name]
        digest = self._base_hashes.get((sheet.kind, name))
        document = self._json(digest) if digest else None
        return {
            keys: {column.name: column.of(item) for column in sheet.columns}
            for keys, item in (sheet.items(document) if document else ())
        }

    def _json(self, digest: str) -> dict[str, Any]:
        body = self._bodies.get(digest)
        if body is None:
            ((_, body),) = store.bodies(self._session, self._group_id, [digest])
        found: dict[str, Any] = msgspec.json.decode(body)
        return found


def edits(table: Table, book: Book, problems: Problems, units: Units | None) -> Iterator[Edit | None]:
    """Yield for every row that is not empty what it changes; None if nothing, or if it cannot be used."""
    for problem in table.header.problems:
        problems.add(problem)
    if any(column not in table.header.columns for column in table.header.sheet.keys):
        return
    reader = _Reader(table, book, problems, units)
    about = table.header.columns.index(table.header.sheet.keys[0])
    rows = (Row(table.header, number, cells) for number, cells in table.rows if any(map(_filled, cells)))
    while batch := list(islice(rows, _BATCH)):
        names = {str(row.cells[about]).strip() for row in batch if about < len(row.cells)}
        book.fetch(table.header.sheet.kind, names)
        yield from map(reader.edit, batch)


def _filled(cell: object) -> bool:
    return cell is not None and cell != ""


class _Reader:
    """Compares the rows of one sheet."""

    def __init__(self, table: Table, book: Book, problems: Problems, units: Units | None) -> None:
        self._table, self._book, self._problems, self._units = table, book, problems, units
        self._sheet = table.header.sheet
        keys = [column.name for column in self._sheet.keys]
        places = [(index, column) for index, column in enumerate(table.header.columns) if column]
        self._keys = [next(p for p in places if p[1].name == name) for name in keys]
        self._others = [place for place in places if place[1].name not in keys]
        self._in_inches = table.header.inches
        if units == "in":
            self._in_inches |= {column.name for _, column in places if column.name.endswith("_mm")}
        self._by_text = table.reading.decimal != "comma"
        self._seen: dict[Keys, int] = {}

    def edit(self, row: Row) -> Edit | None:
        """Return what a row changes."""
        if not self._has_its_width(row):
            return None
        given = {column.name: self._value(row, index, column) for index, column in self._keys}
        if any(value is _UNUSABLE for value in given.values()) or not self._addressed(row, given):
            return None
        keys = tuple(given.values())
        base = self._book.base_rows(self._sheet.name, str(keys[0])).get(keys)
        cells: dict[str, tuple[Value, Value]] = {}
        usable, retires = True, False
        for index, column in self._others:
            old = (base or {}).get(column.name)
            if base is not None and self._same(row, index, column, old):
                continue
            value = self._value(row, index, column)
            if value is _UNUSABLE:
                usable = False
            elif column.name == RETIRE:
                retires = bool(value)
            elif not same(value, column.otherwise if base is None else old):
                usable = self._plausible(row, column, value, old) and usable
                cells[column.name] = (value, old)
        if not usable or not (cells or retires or base is None):
            return None
        return Edit(row, keys, cells, base is None, retires)

    def _has_its_width(self, row: Row) -> bool:
        """Whether a row has a cell for each heading, and no more but empty ones."""
        width, count = self._table.width, len(row.cells)
        if width is None or (count >= width and not any(map(_filled, row.cells[width:]))):
            return True
        detail = f"The row has {count} cells, and the headings are {width}."
        mend = "Put a number with a decimal comma in quotes, or use another delimiter; leave out no cell."
        self._problems.add(row.problem(None, detail, mend))
        return False

    def _addressed(self, row: Row, given: dict[str, Any]) -> bool:
        """Whether the keys are there, and stand in no row before."""
        for name, value in given.items():
            if value is None and name != "extent":
                self._tell(row, name, "The cell is empty: it says what the row is about.", "Fill it in.")
                return False
        first = self._seen.setdefault(tuple(given.values()), row.number)
        if first != row.number:
            self._tell(row, next(iter(given)), f"Row {first} is about the same.", "Keep one of the two.")
        return first == row.number

    def _same(self, row: Row, index: int, column: Column, old: Value) -> bool:
        """Whether a cell is as it was exported, which needs no reading."""
        raw = row.cells[index] if index < len(row.cells) else ""
        if column.name in self._in_inches:
            return False
        if isinstance(raw, str):
            return self._by_text and raw == text_of(old)
        return isinstance(raw, float) and not isinstance(old, bool) and same(raw, old)

    def _value(self, row: Row, index: int, column: Column) -> Any:
        raw = row.cells[index] if index < len(row.cells) else None
        try:
            return value_of(column, raw, self._table.reading, inches=column.name in self._in_inches)
        except CellFault as fault:
            self._tell(row, column.name, fault.detail, fault.mend)
            return _UNUSABLE

    def _plausible(self, row: Row, column: Column, value: Value, old: Value) -> bool:
        """Tell a figure in millimetres that is sensible only in inches, unless millimetres are stated."""
        name = column.name
        if self._units or name in self._in_inches or not name.endswith("_mm"):
            return True
        if not isinstance(value, int | float):
            return True
        as_inches = value * float(MM_PER_INCH)
        odd = not plausible.is_dimension(name, value) and plausible.is_dimension(name, as_inches)
        if isinstance(old, int | float):
            odd |= not plausible.agrees(value, old) and plausible.agrees(as_inches, old)
        if odd:
            inch_name = name.removesuffix("_mm") + "_in"
            mend = f"Give millimetres, name the column {inch_name}, or state units=mm if the figure is right."
            self._tell(row, name, f"{value:g} mm looks like inches ({as_inches:g} mm).", mend)
        return not odd

    def _tell(self, row: Row, name: str, detail: str, mend: str) -> None:
        self._problems.add(row.problem(name, detail, mend))


_UNUSABLE: Any = object()
