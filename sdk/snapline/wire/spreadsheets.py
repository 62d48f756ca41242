"""The flat parts of the catalogue as spreadsheets: what is asked for, what was understood, what is wrong."""

from typing import Annotated, Literal

from msgspec import Meta

from snapline.wire.common import Wire

SheetName = Literal["vehicles", "placements", "fixtures", "disturbances"]
DecimalMark = Literal["point", "comma"]
Units = Literal["mm", "in"]


class SpreadsheetQuery(Wire, frozen=True, kw_only=True):
    """A workbook with every sheet, a ZIP file with a CSV file for each, or one sheet as CSV."""

    format: Annotated[Literal["xlsx", "csv"], Meta(description="xlsx or csv.")] = "xlsx"
    sheet: Annotated[SheetName, Meta(description="One sheet alone, as CSV.")] | None = None


class SpreadsheetImportQuery(Wire, frozen=True, kw_only=True):
    """What the file cannot say by itself; whatever is left out is detected, and the answer tells it."""

    base_revision: (
        Annotated[
            int,
            Meta(
                ge=1,
                description="The revision that was exported: by default what the file says, else in force.",
            ),
        ]
        | None
    ) = None
    sheet: Annotated[SheetName, Meta(description="What a single CSV file holds.")] | None = None
    delimiter: Annotated[
        Literal["comma", "semicolon", "tab"] | None, Meta(description="What stands between CSV cells.")
    ] = None
    decimal: Annotated[DecimalMark, Meta(description="The decimal mark of numbers in text.")] | None = None
    encoding: Annotated[
        Literal["utf-8", "utf-16", "windows-1252"] | None, Meta(description="The encoding of CSV.")
    ] = None
    units: (
        Annotated[
            Units,
            Meta(description="What columns ending in _mm hold; 'mm' confirms figures that look like inches."),
        ]
        | None
    ) = None
    note: Annotated[str, Meta(max_length=2000, description="Why, for the draft.")] = ""


class Detected(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How one sheet was read. ``decimal`` is null where nothing in it told, ``units`` lists the inch columns.

    Confidence is stated, certain (a byte order mark, or nothing else is possible) or likely.
    """

    sheet: SheetName
    rows: int
    delimiter: str | None = None
    decimal: DecimalMark | None = None
    encoding: str | None = None
    encoding_confidence: Literal["stated", "certain", "likely"] | None = None
    units: Units = "mm"
    inch_columns: tuple[str, ...] = ()


class CellProblem(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What is wrong in a cell; without a ``column`` it is the whole row, in row 1 the headings."""

    sheet: str
    row: int
    column: str | None
    name: str | None
    value: str
    detail: str
    mend: str


class SpreadsheetReport(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What an import did, or would do. Without changes there is no draft.

    At most 1,000 problems are told, ``more_problems`` counts the rest.
    """

    base_revision: int
    rows: int
    changed_cells: int
    changed_documents: int
    new_rows: int
    retired_rows: int
    detected: tuple[Detected, ...]
    draft_id: str | None = None
    problems: tuple[CellProblem, ...] = ()
    more_problems: int = 0
