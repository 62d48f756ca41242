"""Tables and statements set for paper, in pieces that a page may break between."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import accumulate
from math import ceil

from snapline_service.sheets.document import Blank, Block, Cell, Statements, Table
from snapline_service.sheets.drawing import OUTLINE, THIN, Circle, Item, Line, Polygon, Text
from snapline_service.sheets.lettering import ASCENT, CAPITAL_MIDDLE, LINE_PITCH, Box, text_width_mm, wrap

HEADING_MM, BODY_MM, FIGURE_MM, SMALL_MM, STOP_MM = 3.5, 3.0, 3.5, 2.5, 5.0
_PAD_MM, _PART_PAD_MM = 1.2, 0.8
_GAP_MM = 2.5
_WRITING_ROW_MM, _PART_ROW_MM, _TICK_ROW_MM = 7.5, 6.5, 6.0  # room for a hand
_TICK_MM, _BULLET_MM = 4.0, 0.5
_MOST_LINES = 48  # of a page


@dataclass(frozen=True, slots=True)
class Piece:
    """What is not broken over two pages; ``draw`` takes the height on the page at which it begins.

    ``heading`` is said again where a page breaks before this piece; a piece that ``keeps_next`` does not end
    a page.
    """

    height_mm: float
    draw: Callable[[float], list[Item]]
    heading: "Piece | None" = None
    keeps_next: bool = False


def pieces(block: Block, x_mm: float, width_mm: float) -> list[Piece]:
    """Set a block in a column of the page."""
    setter = _Setter(x_mm, width_mm)
    return list(setter.statements(block) if isinstance(block, Statements) else setter.table(block))


@dataclass(frozen=True, slots=True)
class _Setter:
    """A column of the page."""

    x_mm: float
    width_mm: float

    def statements(self, block: Statements) -> Iterator[Piece]:
        if not block.texts:
            return
        if block.weight == "stop":
            yield self._stop(block)
            return
        yield self._title(block.title)
        indent = 3.0
        for text in block.texts:
            lines = wrap(text, BODY_MM, self.width_mm - indent, most_lines=_MOST_LINES)
            yield Piece(_lines_mm(lines, BODY_MM) + 0.8, self._bulleted(lines, indent))

    def table(self, block: Table) -> Iterator[Piece]:
        if not block.rows:
            return
        title, head = self._title(block.title), self._row(block, [c.heading for c in block.columns], True)
        heading = _together(title, head)
        yield heading
        for number, row in enumerate(block.rows, start=1):
            piece, is_last = self._row(block, row, False), number == len(block.rows)
            yield Piece(piece.height_mm, piece.draw, heading, keeps_next=is_last and bool(block.note))
        if block.note:
            lines = wrap(block.note, SMALL_MM, self.width_mm, most_lines=_MOST_LINES)
            yield Piece(_lines_mm(lines, SMALL_MM) + 1.0, self._plain(lines, SMALL_MM, 0.8))

    def _title(self, text: str) -> Piece:
        lines = wrap(text, HEADING_MM, self.width_mm, most_lines=2, bold=True)
        draw = self._plain(lines, HEADING_MM, _GAP_MM, bold=True)
        return Piece(_lines_mm(lines, HEADING_MM) + _GAP_MM, draw, keeps_next=True)

    def _stop(self, block: Statements) -> Piece:
        """Box what stops the work, so large that it is read from across the bay."""
        room_mm = self.width_mm - 4 * _PAD_MM
        lines = wrap(block.title, 2 * STOP_MM, room_mm, most_lines=1, bold=True)
        said = [line for text in block.texts for line in wrap(text, STOP_MM, room_mm, most_lines=_MOST_LINES)]
        title_mm = _lines_mm(lines, 2 * STOP_MM)
        height_mm = title_mm + _lines_mm(said, STOP_MM) + 4 * _PAD_MM

        def draw(y: float) -> list[Item]:
            y += _GAP_MM
            x, top = self.x_mm + 2 * _PAD_MM, y + 2 * _PAD_MM
            return [
                Polygon(corners(Box(self.x_mm, y, self.x_mm + self.width_mm, y + height_mm)), OUTLINE),
                *_lettered(lines, x, top, 2 * STOP_MM, bold=True, name="stop"),
                *_lettered(said, x, top + title_mm, STOP_MM, bold=True, name="stop"),
            ]

        return Piece(height_mm + 2 * _GAP_MM, draw)

    def _row(self, table: Table, cells: tuple[Cell, ...] | list[str], is_head: bool) -> Piece:
        total = sum(column.share for column in table.columns)
        widths = [self.width_mm * column.share / total for column in table.columns]
        lefts = [self.x_mm, *(self.x_mm + end for end in accumulate(widths))]
        sizes = [
            FIGURE_MM if column.is_figure and not is_head and _fits(cell, width) else BODY_MM
            for column, cell, width in zip(table.columns, cells, widths, strict=True)
        ]
        wrapped = [
            wrap(cell, size, width - 2 * _PAD_MM, most_lines=_MOST_LINES, bold=is_head or column.is_figure)
            if isinstance(cell, str)
            else []
            for cell, size, width, column in zip(cells, sizes, widths, table.columns, strict=True)
        ]
        least_mm = max((_room_mm(cell) for cell in cells if isinstance(cell, Blank)), default=0.0)
        tallest_mm = max(_lines_mm(lines, size) for lines, size in zip(wrapped, sizes, strict=True))
        height_mm = max(least_mm, tallest_mm + 2 * _PAD_MM)

        def draw(y: float) -> list[Item]:
            items: list[Item] = [Line((x, y), (x, y + height_mm), THIN) for x in lefts]
            edges = (y, y + height_mm) if is_head else (y + height_mm,)
            items += [Line((lefts[0], edge), (lefts[-1], edge), THIN) for edge in edges]
            for column, cell, lines, size, left, right in zip(
                table.columns, cells, wrapped, sizes, lefts, lefts[1:], strict=False
            ):
                box = Box(left, y, right, y + height_mm)
                if isinstance(cell, Blank):
                    items += _blank(cell, box)
                    continue
                bold = is_head or column.is_figure
                top = y + (height_mm - _lines_mm(lines, size)) / 2
                items += _lettered(lines, left + _PAD_MM, top, size, bold=bold, name="cell")
            return items

        return Piece(height_mm, draw)

    def _bulleted(self, lines: list[str], indent_mm: float) -> Callable[[float], list[Item]]:
        def draw(y: float) -> list[Item]:
            middle = (self.x_mm + _BULLET_MM, y + (ASCENT - CAPITAL_MIDDLE) * BODY_MM)
            bullet = Circle(middle, _BULLET_MM, None, "solid")
            return [bullet, *_lettered(lines, self.x_mm + indent_mm, y, BODY_MM, name="statement")]

        return draw

    def _plain(
        self, lines: list[str], size_mm: float, above_mm: float, *, bold: bool = False
    ) -> Callable[[float], list[Item]]:
        return lambda y: [*_lettered(lines, self.x_mm, y + above_mm, size_mm, bold=bold, name="heading")]


def _together(first: Piece, second: Piece) -> Piece:
    return Piece(
        first.height_mm + second.height_mm + 0.6,
        lambda y: [*first.draw(y), *second.draw(y + first.height_mm + 0.6)],
        keeps_next=True,
    )


def _fits(cell: Cell, width_mm: float) -> bool:
    """Tell whether a figure has room on one line, where it is larger than other words."""
    return isinstance(cell, str) and text_width_mm(cell, FIGURE_MM, bold=True) <= width_mm - 2 * _PAD_MM


def _room_mm(blank: Blank) -> float:
    return _TICK_ROW_MM if blank.tick else max(_WRITING_ROW_MM, _PART_ROW_MM * ceil(len(blank.parts) / 2))


def _blank(blank: Blank, box: Box) -> list[Item]:
    """Leave a cell open, with its unit in the corner, divide it into parts, or draw a square to tick."""
    if blank.parts:
        return list(_parts(blank, box))
    if blank.tick:
        x, y = (box.x_min + box.x_max - _TICK_MM) / 2, (box.y_min + box.y_max - _TICK_MM) / 2
        return [Polygon(corners(Box(x, y, x + _TICK_MM, y + _TICK_MM)), THIN)]
    at = (box.x_max - _PAD_MM, box.y_max - _PAD_MM)
    return [Text(at, blank.unit, SMALL_MM, "end", name="unit")] if blank.unit else []


def _parts(blank: Blank, box: Box) -> Iterator[Item]:
    """Yield fields two in a row, each with its name and unit, and the lines between them."""
    middle, rows = (box.x_min + box.x_max) / 2, ceil(len(blank.parts) / 2)
    height_mm = (box.y_max - box.y_min) / rows
    yield Line((middle, box.y_min), (middle, box.y_max), THIN)
    for number, name in enumerate(blank.parts):
        row, is_right = divmod(number, 2)
        y = box.y_min + row * height_mm
        left, right = (middle, box.x_max) if is_right else (box.x_min, middle)
        if row and not is_right:
            yield Line((box.x_min, y), (box.x_max, y), THIN)
        at = (left + _PART_PAD_MM, y + _PART_PAD_MM + ASCENT * SMALL_MM)
        yield Text(at, name, SMALL_MM, name="part")
        unit_at = (right - _PART_PAD_MM, y + height_mm - _PART_PAD_MM)
        yield Text(unit_at, blank.unit, SMALL_MM, "end", name="unit")


def _lettered(
    lines: list[str], x: float, y: float, size_mm: float, *, bold: bool = False, name: str = ""
) -> Iterator[Text]:
    for number, line in enumerate(lines):
        base = y + ASCENT * size_mm + number * size_mm * LINE_PITCH
        yield Text((x, base), line, size_mm, bold=bold, name=name)


def _lines_mm(lines: list[str], size_mm: float) -> float:
    return len(lines) * size_mm * LINE_PITCH


def corners(box: Box) -> tuple[tuple[float, float], ...]:
    """Give the corners of a rectangle."""
    return (box.x_min, box.y_min), (box.x_max, box.y_min), (box.x_max, box.y_max), (box.x_min, box.y_max)
