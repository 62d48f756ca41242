"""The XML of a workbook, looked through before its values are read: how far its cells reach, which hold none.

What reads the values makes room for every cell up to the last, and takes an error for an empty cell.
"""

import io
import re
import zipfile
from collections.abc import Iterable
from xml.etree import ElementTree
from xml.parsers import expat

from snapline_service.errors import BodyTooLarge, InvalidValue
from snapline_service.faults import pointer
from snapline_service.spreadsheets.archives import pieces
from snapline_service.spreadsheets.cells import Unusable
from snapline_service.spreadsheets.sheets import letters
from snapline_service.spreadsheets.tables import SHEETS

MAX_COLUMNS = 256
MAX_CELLS = 10_000_000  # of all sheets, empty ones too: 32 bytes each
MAX_TAGS = 20_000_000  # of XML: about half a minute's work
MOST_UNUSABLE = 10_000
Marked = dict[int, dict[int, Unusable]]
"""Cells without a value, by the number of the row and the place in it."""

_MAX_LIST_BYTES = 1_000_000
_OTHER_KINDS = {"content.xml", "xl/workbook.bin"}  # which would be tried when the workbook itself is damaged
_ADDRESS = re.compile(r"([A-Za-z]{1,3})([1-9]\d{0,6})")
_ROW = re.compile(r"[1-9]\d{0,6}")
_FORMULA = Unusable(
    shown="",
    detail="The cell holds a formula, which is never worked out here.",
    mend="Replace it by its value.",
)


def look_through(body: bytes) -> dict[str, Marked]:
    """Return for each sheet of a workbook its cells that hold a formula or an error.

    Raises InvalidValue if cells lie too far out, BodyTooLarge, and what the standard library raises for
    damaged files.
    """
    with zipfile.ZipFile(io.BytesIO(body)) as files:
        names = files.namelist()
        parts = _parts(files)
        _require_one_meaning(names, parts.values())
        titles = {part: name for name, part in parts.items()}
        marked, room, tags = dict[str, Marked](), MAX_CELLS, MAX_TAGS
        for part in names:
            if part.lower().endswith((".xml", ".rels")):
                scan = _Scan(titles.get(part, part), room, tags)
                scan.read(files, part)
                room -= scan.rows * scan.columns
                tags -= scan.tags
                marked[part] = scan.marked
    return {name: marked[part] for name, part in parts.items()}


def _parts(files: zipfile.ZipFile) -> dict[str, str]:
    """Return which part of a workbook each sheet is."""
    book = _element(files, "xl/workbook.xml")
    links = _element(files, "xl/_rels/workbook.xml.rels")
    targets = {link.get("Id"): str(link.get("Target")) for link in links}
    found: dict[str, str] = {}
    for sheet in book.iter():
        if sheet.tag.endswith("}sheet"):
            link = next((value for key, value in sheet.attrib.items() if key.endswith("}id")), None)
            target = targets.get(link, "").removeprefix("/")
            found.setdefault(str(sheet.get("name")), target if target.startswith("xl/") else f"xl/{target}")
    return found


def _element(files: zipfile.ZipFile, part: str) -> ElementTree.Element:
    """Return a part that tells about others, and so is small."""
    with files.open(part) as file:
        content = file.read(_MAX_LIST_BYTES + 1)
    if len(content) > _MAX_LIST_BYTES:
        raise _too_large()
    return ElementTree.fromstring(content)  # noqa: S314 - expat bounds entities


def _require_one_meaning(names: list[str], parts: Iterable[str]) -> None:
    """Raise InvalidValue where a file might be read otherwise than it was looked through."""
    plain = {name.replace("\\", "/").lower() for name in names}
    if len(plain) < len(names) or plain & _OTHER_KINDS or not set(parts) <= set(names):
        raise _damaged("its parts contradict one another")
    if not all(part.lower().endswith(".xml") for part in parts):
        raise _damaged("a sheet is not XML")


class _Scan:
    """Goes through one part. Places begin at 1, and count on from the last where the file tells none."""

    def __init__(self, title: str, room: int, most_tags: int) -> None:
        self.marked: Marked = {}
        self.rows = self.columns = self.tags = 0
        self._title, self._room, self._most_tags = title, room, most_tags
        self._row = self._column = 1
        self._here = (1, 1)
        self._is_error, self._text, self._unusable = False, "", 0
        self._parser = expat.ParserCreate()
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.StartDoctypeDeclHandler = self._refuse_doctype

    def read(self, files: zipfile.ZipFile, part: str) -> None:
        for piece in pieces(files, part):
            self.tags += piece.count(b"<")
            if self.tags > self._most_tags:
                raise _too_large()
            self._parser.Parse(piece)
        self._parser.Parse(b"", True)

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        kind = tag.partition(":")[2] or tag
        if kind == "c":
            self._here = self._place(attributes.get("r"))
            self._column = self._here[1] + 1
            self._is_error, self._text = attributes.get("t") == "e", ""
        elif kind in ("v", "is", "f"):
            self._reach()
            if kind == "f":
                self._mark(_FORMULA)
            elif self._is_error:
                self._parser.CharacterDataHandler = self._hear
        elif kind == "row" and "r" in attributes:
            if not _ROW.fullmatch(attributes["r"]):
                raise _damaged(f"a row of the sheet {self._title} has the number '{attributes['r'][:40]}'")
            self._row = int(attributes["r"])

    def _end(self, tag: str) -> None:
        kind = tag.partition(":")[2] or tag
        if kind == "c" and self._is_error:
            self._parser.CharacterDataHandler = None
            self._reach()
            detail = f"The cell holds the spreadsheet program's error {self._text}".rstrip() + "."
            self._mark(Unusable(shown=self._text, detail=detail, mend="Give its value, or empty the cell."))
        elif kind == "row":
            self._row, self._column = self._row + 1, 1

    def _hear(self, text: str) -> None:
        self._text = (self._text + text)[:20]

    def _place(self, address: str | None) -> tuple[int, int]:
        """Return the row and the column of a cell."""
        if address is None:
            return self._row, self._column
        found = _ADDRESS.fullmatch(address)
        if found is None:
            raise _damaged(f"a cell of the sheet {self._title} has the address '{address[:40]}'")
        column = 0
        for letter in found[1].upper():
            column = column * 26 + ord(letter) - ord("A") + 1
        return int(found[2]), column

    def _reach(self) -> None:
        """Make the sheet as large as the cell asks. Raises InvalidValue."""
        row, column = self._here
        self.rows, self.columns = max(self.rows, row), max(self.columns, column)
        if self.columns > MAX_COLUMNS or self.rows * self.columns > self._room:
            raise InvalidValue(
                f"Sheet {self._title}: {letters(column - 1)}{row} lies beyond what an import may have: "
                f"{MAX_COLUMNS} columns, and {MAX_CELLS:,} cells with the empty ones before it.",
                pointer=pointer([self._title, row, letters(column - 1)]),
                mend="Delete the empty rows and columns before it, or import fewer rows at once.",
            )

    def _mark(self, why: Unusable) -> None:
        if self._title not in SHEETS:
            return
        row, column = self._here
        cells = self.marked.setdefault(row, {})
        self._unusable += column not in cells
        cells.setdefault(column, why)
        if self._unusable > MOST_UNUSABLE:
            detail = f"More than {MOST_UNUSABLE:,} cells of the sheet {self._title} hold formulas or errors."
            raise InvalidValue(detail, mend="Copy the sheet, and paste its values alone.")

    def _refuse_doctype(self, *_: object) -> None:
        raise _damaged("it declares a document type")


def _damaged(why: str) -> InvalidValue:
    return InvalidValue(f"The workbook cannot be read: {why}.", mend="Save it again as .xlsx.")


def _too_large() -> BodyTooLarge:
    return BodyTooLarge("Unpacked, the workbook is too large.", mend="Import fewer rows at once.")
