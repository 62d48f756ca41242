"""The foot of a page: a title block with the data fields of ISO 7200 that are known, and the code."""

from snapline_service.sheets.code import code
from snapline_service.sheets.document import Section, SheetDocument
from snapline_service.sheets.drawing import OUTLINE, THIN, Item, Line, Text
from snapline_service.sheets.lengths import UNIT_NAMES
from snapline_service.sheets.lettering import ASCENT, CAPITAL_MIDDLE, Box, wrap

CODE_MM, CODE_TEXT_MM = 32.0, 5.0
FOOT_MM = CODE_MM + CODE_TEXT_MM
_CAPTION_MM, _FIELD_MM, _CODE_LETTER_MM = 2.2, 3.2, 2.2
_PAD_MM = 1.5
BY_HAND = ("VIN or registration", "Set out by, date", "Verified by, date")

# Caption, the field's name, and its share of the row.
_Cell = tuple[str, str, float]


def draw_foot(
    document: SheetDocument, section: Section, frame: Box, number_of: tuple[int, int]
) -> list[Item]:
    """Draw the title block along the foot of the frame."""
    block, (number, count) = document.title_block, number_of
    top, split = frame.y_max - FOOT_MM, frame.x_max - CODE_MM
    rows: tuple[tuple[_Cell, ...], ...] = (
        (("Title", block.title, 64.0), ("Identification number", block.identification_number, 36.0)),
        (("Supplementary title", block.supplementary_title, 64.0), ("Revision", block.revision, 36.0)),
        (
            ("Legal owner", block.legal_owner, 44.0),
            ("Document type", block.document_type, 20.0),
            ("Date of issue", block.date_of_issue, 20.0),
            ("Sheet", f"{number}/{count}", 16.0),
        ),
        (
            *((name, "", 28.0) for name in BY_HAND),
            ("Dimensions in", UNIT_NAMES[document.units], 16.0),
        ),
    )
    items: list[Item] = [
        Line((frame.x_min, top), (frame.x_max, top), OUTLINE),
        Line((split, top), (split, top + CODE_MM), THIN),
        Line((frame.x_min, top + CODE_MM), (frame.x_max, top + CODE_MM), THIN),
        code(section.code, (split, top), CODE_MM),
    ]
    height_mm = CODE_MM / len(rows)
    for row, cells in enumerate(rows):
        box = Box(frame.x_min, top + row * height_mm, split, top + (row + 1) * height_mm)
        items += _row(cells, box, is_first=not row)
    room_mm = frame.x_max - frame.x_min - 2 * _PAD_MM
    line = wrap(section.code, _CODE_LETTER_MM, room_mm, most_lines=1)[0]
    at = (frame.x_min + _PAD_MM, frame.y_max - CODE_TEXT_MM / 2 + CAPITAL_MIDDLE * _CODE_LETTER_MM)
    return [*items, Text(at, line, _CODE_LETTER_MM, name="code.text")]


def _row(cells: tuple[_Cell, ...], box: Box, *, is_first: bool) -> list[Item]:
    items: list[Item] = [] if is_first else [Line((box.x_min, box.y_min), (box.x_max, box.y_min), THIN)]
    x = box.x_min
    for caption, text, share in cells:
        width_mm = (box.x_max - box.x_min) * share / 100.0
        if x > box.x_min:
            items.append(Line((x, box.y_min), (x, box.y_max), THIN))
        at = (x + _PAD_MM, box.y_min + 0.8 + ASCENT * _CAPTION_MM)
        items.append(Text(at, caption, _CAPTION_MM, name="caption"))
        at = (x + _PAD_MM, box.y_max - 1.6)
        lines = wrap(text, _FIELD_MM, width_mm - 2 * _PAD_MM, most_lines=1)
        items += [Text(at, line, _FIELD_MM, name="title") for line in lines]
        x += width_mm
    return items
