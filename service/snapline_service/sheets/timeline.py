"""The steps of a visit as bars over the hours of a day."""

from collections.abc import Iterator
from dataclasses import dataclass

from snapline_service.sheets.drawing import (
    DASHED,
    OUTLINE,
    THIN,
    Drawing,
    Fill,
    Item,
    Line,
    LineStyle,
    Polygon,
    Text,
)
from snapline_service.sheets.lettering import wrap

_WIDTH_MM, _LABEL_MM, _EDGE_MM = 180.0, 62.0, 4.0
_ROW_MM, _BAR_MM, _HEAD_MM = 6.0, 4.0, 8.0
_LETTER_MM, _TIME_MM = 2.8, 2.6
_MOST_TICKS = 9


@dataclass(frozen=True, slots=True)
class Bar:
    """One step in minutes from the beginning of the visit; ``dashed`` round what may not come to pass."""

    label: str
    start_min: float
    end_min: float
    fill: Fill = "solid"
    dashed: bool = False


def timeline_drawing(bars: tuple[Bar, ...], start_of_day_min: float) -> Drawing:
    """Draw the bars one below the other, with clock times above."""
    end_min = max((bar.end_min for bar in bars), default=60.0)
    height_mm = _HEAD_MM + len(bars) * _ROW_MM + _EDGE_MM
    across = (_WIDTH_MM - _LABEL_MM - 2 * _EDGE_MM) / max(end_min, 1.0)
    items = [*_ticks(end_min, start_of_day_min, across, height_mm), *_bars(bars, across)]
    words = f"{len(bars)} steps in {end_min:g} minutes."
    return Drawing(_WIDTH_MM, height_mm, tuple(items), "Order of work", words)


def _ticks(end_min: float, start_of_day_min: float, across: float, height_mm: float) -> Iterator[Item]:
    step_min = next(s for s in (15, 30, 60, 120, 240, 480, 1440, 10080) if end_min / s <= _MOST_TICKS)
    first = -(-start_of_day_min // step_min) * step_min
    at_min = first - start_of_day_min
    while at_min <= end_min:
        x = _LABEL_MM + _EDGE_MM + at_min * across
        yield Line((x, _HEAD_MM - 2.0), (x, height_mm - _EDGE_MM / 2), DASHED, name="tick")
        yield Text((x, _HEAD_MM - 3.5), _clock(start_of_day_min + at_min), _TIME_MM, "middle", name="time")
        at_min += step_min


def _bars(bars: tuple[Bar, ...], across: float) -> Iterator[Item]:
    for number, bar in enumerate(bars):
        top = _HEAD_MM + number * _ROW_MM + (_ROW_MM - _BAR_MM) / 2
        left = _LABEL_MM + _EDGE_MM + bar.start_min * across
        right = max(left + 0.5, _LABEL_MM + _EDGE_MM + bar.end_min * across)
        corners = ((left, top), (right, top), (right, top + _BAR_MM), (left, top + _BAR_MM))
        yield Polygon(corners, _outline(bar), bar.fill, name=f"step.{number + 1}")
        line = wrap(bar.label, _LETTER_MM, _LABEL_MM - 1.0, most_lines=1)[0]
        yield Text((_EDGE_MM, top + _BAR_MM - 0.9), line, _LETTER_MM, name=f"label.{number + 1}")


def _outline(bar: Bar) -> LineStyle:
    if bar.dashed:
        return DASHED
    return OUTLINE if bar.fill == "hatch" else THIN


def _clock(minutes: float) -> str:
    whole = round(minutes) % (24 * 60)
    return f"{whole // 60:02d}:{whole % 60:02d}"
