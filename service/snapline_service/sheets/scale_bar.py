"""A bar of a round length, to scale, that shows whether a print kept its size."""

from snapline_service.sheets.drawing import THIN, Item, Polygon, Text
from snapline_service.sheets.lengths import Units, length_figure
from snapline_service.sheets.lettering import Box

CAPTION_MM = 2.5
_PAD_MM = 2.0
_PARTS = 5
_UNITS_MM: dict[Units, float] = {"mm": 1000.0, "in": 304.8}
_LONGEST_MM = 50.0


def draw_scale_bar(box: Box, scale: int, units: Units) -> list[Item]:
    """Draw the bar in five parts, black and white by turns, and say how to take it."""
    length_mm = _length_mm(scale, units)
    x, y = box.x_min + _PAD_MM + 1.0, box.y_max - 2.0
    part = length_mm / scale / _PARTS
    items: list[Item] = []
    for i in range(_PARTS):
        left, right = x + i * part, x + (i + 1) * part
        corners = ((left, y - 1.8), (right, y - 1.8), (right, y), (left, y))
        items.append(Polygon(corners, THIN, "paper" if i % 2 else "solid", name=f"scale_bar.{i + 1}"))
    end = x + length_mm / scale
    return [
        *items,
        Text((x, y - 3.0), "0", CAPTION_MM, "middle"),
        Text((end, y - 3.0), f"{length_figure(length_mm, units)} {units}", CAPTION_MM, "middle"),
    ]


def _length_mm(scale: int, units: Units) -> float:
    """Give the longest of 1, 2, 5 … metres or feet, or tenths of them, that stays short on the paper."""
    steps = [base * 10.0**power for power in range(-1, 4) for base in (1, 2, 5)]
    lengths = [_UNITS_MM[units] * step for step in steps]
    return max(length for length in lengths if length <= _LONGEST_MM * scale)
