"""What a whole sheet says, before anybody decides how it looks.

The writers for paper and for the screen share it. Words come ready made and never hold a signed number.
A ``Section`` begins a new page.
"""

from dataclasses import dataclass
from typing import Literal

from snapline_service.sheets.drawing import Drawing
from snapline_service.sheets.lengths import Units
from snapline_service.sheets.scene import PlanScene

Weight = Literal["plain", "warning", "stop"]


@dataclass(frozen=True, slots=True)
class Blank:
    """A field to write in by hand, with the unit of what is written; ``tick`` asks for a mark alone.

    ``parts`` name several fields in one, two in a row.
    """

    unit: str = ""
    tick: bool = False
    parts: tuple[str, ...] = ()


Cell = str | Blank


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its heading, its share of the width, and whether it holds figures."""

    heading: str
    share: float
    is_figure: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings. The first column says what a row is about."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Statements:
    """Sentences under a heading. A ``stop`` says that work must not begin, a ``warning`` what is not sure."""

    title: str
    texts: tuple[str, ...]
    weight: Weight = "plain"


Block = Table | Statements


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the sheet on a page of its own: a plan or another drawing, if any, and what is said of it.

    ``code`` is the text that the printed code holds.
    """

    title: str
    code: str
    blocks: tuple[Block, ...]
    plan: PlanScene | Drawing | None = None


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """The data fields of a title block by ISO 7200, as far as they are known."""

    legal_owner: str
    title: str
    supplementary_title: str
    identification_number: str
    revision: str
    date_of_issue: str
    document_type: str = "Setting-out sheet"


@dataclass(frozen=True, slots=True)
class SheetDocument:
    """One procedure on one vehicle, ready to be written down. ``banners`` head every page, gravest first."""

    title_block: TitleBlock
    sections: tuple[Section, ...]
    banners: tuple[str, ...] = ()
    units: Units = "mm"
