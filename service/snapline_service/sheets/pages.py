"""A whole document as pages of paper: a section begins a page, a table may run on to the next."""

from collections.abc import Iterator, Sequence
from typing import Literal

from snapline_service.sheets.document import Section, SheetDocument
from snapline_service.sheets.drawing import OUTLINE, THIN, Drawing, Item, Line, Polygon, Text
from snapline_service.sheets.field import description, drawn
from snapline_service.sheets.foot import FOOT_MM, draw_foot
from snapline_service.sheets.layout import HEADING_MM, Piece, corners, pieces
from snapline_service.sheets.lettering import LINE_PITCH, Box, wrap
from snapline_service.sheets.moving import height_band, moved
from snapline_service.sheets.plan_view import FILING_MARGIN_MM, MARGIN_MM
from snapline_service.sheets.scale_bar import draw_scale_bar
from snapline_service.sheets.scene import PlanScene

PaperSize = Literal["a4", "letter"]

SIZES_MM: dict[PaperSize, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
_PLAN_WIDTH_MM = 180.0
_MOST_PLAN_MM, _SCALE_MM = 140.0, 9.0
_BANNER_MM, _BANNER_HEIGHT_MM, _MOST_BANNER_LINES = 6.0, 9.0, 4
_TITLE_MM, _TITLE_HEIGHT_MM = 5.0, 9.0
_INSET_MM, _FIELD_INSET_MM = 3.0, 2.0


def pages(document: SheetDocument, paper: PaperSize = "a4") -> tuple[Drawing, ...]:
    """Set a document on pages. Raises ``InvalidValue`` for a stage that no scale shows."""
    width, height = SIZES_MM[paper]
    frame = Box(FILING_MARGIN_MM, MARGIN_MM, width - MARGIN_MM, height - MARGIN_MM)
    made = [
        (section, *page) for section in document.sections for page in _section_pages(document, section, frame)
    ]
    outline = Polygon(corners(frame), OUTLINE, name="frame")
    named = f"{document.title_block.title} – {document.title_block.supplementary_title}"
    return tuple(
        Drawing(
            width,
            height,
            (outline, *items, *draw_foot(document, section, frame, (number, len(made)))),
            f"{named} – {section.title}",
            words,
        )
        for number, (section, items, words) in enumerate(made, start=1)
    )


def plan_drawing(document: SheetDocument, section: Section) -> Drawing | None:
    """Draw a section's plan by itself, or None where it has none. Raises ``InvalidValue`` as ``pages``."""
    if section.plan is None or isinstance(section.plan, Drawing):
        return section.plan
    items, bottom, words = _plan(document, section.plan, 0.0, 0.0, _PLAN_WIDTH_MM)
    return Drawing(_PLAN_WIDTH_MM, bottom, tuple(items), section.title, words)


def _section_pages(document: SheetDocument, section: Section, frame: Box) -> Iterator[tuple[list[Item], str]]:
    """Yield what stands on each page of a section, and the description of its plan."""
    body = frame._replace(y_max=frame.y_max - FOOT_MM)
    head, top = _head(document, section.title, body)
    left, width_mm = body.x_min + _INSET_MM, body.x_max - body.x_min - 2 * _INSET_MM
    rest = [piece for block in section.blocks for piece in pieces(block, left, width_mm)]
    first, words = list(head), section.title
    first_top = top
    if section.plan:
        plan_items, first_top, words = _plan(document, section.plan, body.x_min, top, body.x_max)
        first += [*plan_items, Line((body.x_min, first_top), (body.x_max, first_top), THIN)]
    starts = (first_top, top + _INSET_MM)
    for number, items in enumerate(_broken(rest, starts, body.y_max - _INSET_MM)):
        if number == 0:
            yield [*first, *items], words
        else:
            again, _ = _head(document, f"{section.title} (continued)", body)
            yield [*again, *items], f"{section.title}, continued"


def _broken(rest: Sequence[Piece], starts: tuple[float, float], bottom: float) -> list[list[Item]]:
    """Share pieces out over pages, the first of which begins lower than the others."""
    made: list[list[Item]] = [[]]
    y, top = starts
    for piece, following in zip(rest, [*rest[1:], None], strict=True):
        needed_mm = piece.height_mm + (following.height_mm if piece.keeps_next and following else 0.0)
        if y + needed_mm > bottom and y > top:
            made.append([])
            y = top
            if piece.heading:
                made[-1] += piece.heading.draw(y)
                y += piece.heading.height_mm
        made[-1] += piece.draw(y)
        y += piece.height_mm
    return made


def _head(document: SheetDocument, title: str, body: Box) -> tuple[list[Item], float]:
    """Draw banners and title across the head of a page; give where the rest begins."""
    items: list[Item] = []
    y, width_mm = body.y_min, body.x_max - body.x_min - 2 * _INSET_MM
    for banner in document.banners:
        lines = wrap(banner, _BANNER_MM, width_mm, most_lines=_MOST_BANNER_LINES, bold=True)
        height_mm = _BANNER_HEIGHT_MM + (len(lines) - 1) * _BANNER_MM * LINE_PITCH
        items.append(Polygon(corners(Box(body.x_min, y, body.x_max, y + height_mm)), OUTLINE))
        for number, line in enumerate(lines):
            base = y + _BANNER_HEIGHT_MM - 2.4 + number * _BANNER_MM * LINE_PITCH
            at = ((body.x_min + body.x_max) / 2, base)
            items.append(Text(at, line, _BANNER_MM, "middle", bold=True, name="banner"))
        y += height_mm
    at = (body.x_min + _INSET_MM, y + _TITLE_HEIGHT_MM - 2.6)
    line = wrap(title, _TITLE_MM, width_mm, most_lines=1, bold=True)[0]
    items.append(Text(at, line, _TITLE_MM, bold=True, name="section"))
    return items, y + _TITLE_HEIGHT_MM


def _plan(
    document: SheetDocument, scene: PlanScene | Drawing, left: float, top: float, right: float
) -> tuple[list[Item], float, str]:
    """Draw the plan with its scale beneath; give where it ends, and in words what it shows."""
    if isinstance(scene, Drawing):
        indent_mm = left + (right - left - scene.width_mm) / 2
        return list(moved(scene.items, indent_mm, top)), top + scene.height_mm, scene.description
    field = Box(left, top, right, top + _MOST_PLAN_MM).grown(-_FIELD_INSET_MM)
    plan, _ = drawn(scene, "names", document.units, lambda _: field)
    highest, lowest = height_band(plan.items)
    up_mm = highest - field.y_min  # the plan stands in the middle of its field: close up to the title
    bottom = lowest - up_mm + _FIELD_INSET_MM + _SCALE_MM
    bar = draw_scale_bar(Box(left, bottom - _SCALE_MM, right, bottom), plan.on.scale, document.units)
    at = (right - _INSET_MM, bottom - 2.4)
    view = Text(at, f"1:{plan.on.scale}, seen from above", HEADING_MM, "end", name="scale")
    return [*moved(plan.items, 0.0, -up_mm), *bar, view], bottom, description(plan)
