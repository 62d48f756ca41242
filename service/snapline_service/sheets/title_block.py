"""The strip at the foot of a sheet: notes on the left, the title block on the right (after ISO 7200)."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate

from snapline_service.sheets.drawing import OUTLINE, Item, Line, Text
from snapline_service.sheets.labels import fixture_statements
from snapline_service.sheets.lengths import UNIT_NAMES, Units
from snapline_service.sheets.lettering import ASCENT, LINE_PITCH, Box, Lettered, wrap
from snapline_service.sheets.scale_bar import CAPTION_MM, draw_scale_bar
from snapline_service.sheets.scene import PlanScene

NOTE_MM, TITLE_MM, HEADING_MM = 2.8, 3.5, 4.5
_BLOCK_WIDTH_MM = 112.0
_PAD_MM = 2.0
_NOTE_COLUMNS = 2
_NOTES_MM = 140.0  # over both columns
_PARAGRAPH_GAP_MM = 0.8
_CELL_HEIGHT_MM = 9.5
_SCALE_BAR_HEIGHT_MM = 11.0
SIGNS = (
    "Dot: reference point. Small ring: foot or corner. Bold ring: sensor. Bold arrow: where a fixture faces "
    "or a sensor looks. Cross: mark. Dotted: tape. Dashes: keep clear. Corners: room needed overall."
)
_MOST_TITLES = 5


Paragraph = tuple[Lettered, ...]


@dataclass(frozen=True, slots=True)
class Strip:
    """What the strip says, broken into lines, and how high it must be."""

    columns: tuple[tuple[Paragraph, ...], ...]
    titles: tuple[Lettered, ...]
    revision: tuple[str, ...]
    height_mm: float


def compose(scene: PlanScene, width_mm: float, *, numbered: bool) -> Strip:
    """Break everything the strip says into lines; ``numbered`` adds the fixtures' statements by number."""
    notes = _notes(scene, (width_mm - _BLOCK_WIDTH_MM) / _NOTE_COLUMNS - 2 * _PAD_MM, numbered=numbered)
    columns = _in_columns(notes)
    titles = _titles(scene)
    revision = tuple(wrap(scene.revision_text, NOTE_MM, _BLOCK_WIDTH_MM - 2 * _PAD_MM, most_lines=2))
    block_mm = _height(titles) + _CELL_HEIGHT_MM + _SCALE_BAR_HEIGHT_MM + _revision_height(revision)
    notes_mm = max(map(_heights, columns)) + 2 * _PAD_MM
    return Strip(columns, titles, revision, max(block_mm, notes_mm))


def draw_strip(strip: Strip, box: Box, scale: int, units: Units) -> list[Item]:
    """Draw the strip into its box."""
    divide = box.x_max - _BLOCK_WIDTH_MM
    items: list[Item] = [
        Line((box.x_min, box.y_min), (box.x_max, box.y_min), OUTLINE),
        Line((divide, box.y_min), (divide, box.y_max), OUTLINE),
    ]
    column_mm = (divide - box.x_min) / _NOTE_COLUMNS
    for number, column in enumerate(strip.columns):
        y = box.y_min + _PAD_MM
        for paragraph in column:
            items += _block(paragraph, box.x_min + number * column_mm + _PAD_MM, y, "notes")
            y += _paragraph_height(paragraph)
    items += _block(strip.titles, divide + _PAD_MM, box.y_min + _PAD_MM, "title")
    bottom = box.y_max - _revision_height(strip.revision)
    items += _revision(strip.revision, Box(divide, bottom, box.x_max, box.y_max))
    items += _scale_bar(Box(divide, bottom - _SCALE_BAR_HEIGHT_MM, box.x_max, bottom), scale, units)
    bottom -= _SCALE_BAR_HEIGHT_MM
    items += _cells(Box(divide, bottom - _CELL_HEIGHT_MM, box.x_max, bottom), scale, units)
    return items


def _titles(scene: PlanScene) -> tuple[Lettered, ...]:
    width = _BLOCK_WIDTH_MM - 2 * _PAD_MM
    lines: list[Lettered] = []
    for row, title in enumerate(scene.title_lines[:_MOST_TITLES]):
        size = TITLE_MM if row else HEADING_MM
        lines += [
            Lettered(text, size, bold=not row)
            for text in wrap(title, size, width, most_lines=2, bold=not row)
        ]
    return tuple(lines)


def _notes(scene: PlanScene, width_mm: float, *, numbered: bool) -> list[Paragraph]:
    """Choose what is said: nobody may lose a caution to a list, nor a warning to the fixtures' statements."""
    stops = _section("Stop", scene.stops, width_mm)
    notes: list[Paragraph] = []
    for heading, texts in (
        ("Cautions", scene.cautions),
        ("Not checked or assumed", scene.warnings),
        ("Fixtures (feet are drawn, not named)", _numbered_statements(scene) if numbered else ()),
    ):
        room_mm = _NOTES_MM - _heights(stops + notes)
        notes = _cut_short(_section(heading, texts, width_mm), room_mm) + notes
    notes = stops + notes
    signs = _section("Signs", (SIGNS,), width_mm)
    return notes + signs if _heights(notes + signs) <= _NOTES_MM else notes


def _section(heading: str, texts: tuple[str, ...], width_mm: float) -> list[Paragraph]:
    """Break texts into lines; the heading stays with the first."""
    first = (Lettered(heading, NOTE_MM, bold=True),)
    return [(*(first if not i else ()), *_paragraph(text, width_mm)) for i, text in enumerate(texts)]


def _paragraph(text: str, width_mm: float) -> Paragraph:
    return tuple(Lettered(line, NOTE_MM) for line in wrap(text, NOTE_MM, width_mm, most_lines=4))


def _cut_short(paragraphs: list[Paragraph], room_mm: float) -> list[Paragraph]:
    """Leave out what has no room, and say how much that is."""
    ends_mm = accumulate(map(_paragraph_height, paragraphs))
    kept = [p for p, end_mm in zip(paragraphs, ends_mm, strict=True) if end_mm <= room_mm]
    missing = len(paragraphs) - len(kept)
    if missing:
        kept.append((Lettered(f"… and {missing} more, to be read in the setup itself", NOTE_MM, bold=True),))
    return kept


def _in_columns(paragraphs: list[Paragraph]) -> tuple[tuple[Paragraph, ...], ...]:
    """Share paragraphs out over two columns of nearly the same height, none of them broken."""
    splits = range(len(paragraphs) + 1)
    split = min(splits, key=lambda i: (max(_heights(paragraphs[:i]), _heights(paragraphs[i:])), -i))
    return tuple(paragraphs[:split]), tuple(paragraphs[split:])


def _heights(paragraphs: Iterable[Paragraph]) -> float:
    return sum(map(_paragraph_height, paragraphs))


def _paragraph_height(paragraph: Paragraph) -> float:
    return sum(line.size_mm for line in paragraph) * LINE_PITCH + _PARAGRAPH_GAP_MM


def _numbered_statements(scene: PlanScene) -> tuple[str, ...]:
    return tuple(
        f"{number}  " + "; ".join(fixture_statements(fixture))
        for number, fixture in enumerate(scene.fixtures, start=1)
    )


def _block(lines: tuple[Lettered, ...], x: float, y: float, name: str) -> list[Item]:
    items: list[Item] = []
    for line in lines:
        items.append(Text((x, y + ASCENT * line.size_mm), line.text, line.size_mm, bold=line.bold, name=name))
        y += line.size_mm * LINE_PITCH
    return items


def _height(lines: tuple[Lettered, ...]) -> float:
    return sum(line.size_mm for line in lines) * LINE_PITCH + 2 * _PAD_MM


def _cells(box: Box, scale: int, units: Units) -> list[Item]:
    """Draw the row of captioned cells: view, scale, unit."""
    cells = (
        ("View", "plan, seen from above", 0.0),
        ("Scale", f"1:{scale}", 50.0),
        ("Dimensions in", UNIT_NAMES[units], 76.0),
    )
    items: list[Item] = [_rule(box)]
    for caption, text, offset_mm in cells:
        x = box.x_min + offset_mm
        if offset_mm:
            items.append(Line((x, box.y_min), (x, box.y_max)))
        items += _captioned(caption, (text,), x, box.y_min, TITLE_MM)
    return items


def _scale_bar(box: Box, scale: int, units: Units) -> list[Item]:
    return [
        _rule(box),
        *draw_scale_bar(box, scale, units),
        Text((box.x_max - _PAD_MM, box.y_max - 6.2), "Work from the figures.", CAPTION_MM, "end"),
        Text((box.x_max - _PAD_MM, box.y_max - 2.4), "To scale when printed at 100 %.", CAPTION_MM, "end"),
    ]


def _revision(lines: tuple[str, ...], box: Box) -> list[Item]:
    return [_rule(box), *_captioned("Revision", lines, box.x_min, box.y_min, NOTE_MM)]


def _revision_height(lines: tuple[str, ...]) -> float:
    return 1.0 + CAPTION_MM * LINE_PITCH + max(1, len(lines)) * NOTE_MM * LINE_PITCH + 1.0


def _captioned(caption: str, lines: tuple[str, ...], x: float, y: float, size_mm: float) -> list[Item]:
    top = y + 1.0 + CAPTION_MM * LINE_PITCH
    block = tuple(Lettered(line, size_mm) for line in lines)
    return [
        *_block((Lettered(caption, CAPTION_MM),), x + _PAD_MM, y + 1.0, "caption"),
        *_block(block, x + _PAD_MM, top, "title"),
    ]


def _rule(box: Box) -> Line:
    return Line((box.x_min, box.y_min), (box.x_max, box.y_min))
