"""A small drawing model in paper millimetres, for any writer.

The origin is the paper's upper left corner, x runs to the right and y **down**; a text's ``rotation_deg`` is
counter-clockwise as the reader sees it. An item's ``name`` says which thing it stands for.
"""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]
Fill = Literal["none", "paper", "solid", "hatch"]

ARROW_LENGTH_MM = 3.0  # on a thin line; half as long again on a thick one
_ARROW_LENGTH_PER_WIDTH = 3.0  # ISO 129-1: closed, filled, narrow
EXTENSION_OVERRUN_MM = 2.0


@dataclass(frozen=True, slots=True)
class LineStyle:
    """A line of ISO 128: its number there, its width, and dashes and gaps by turns (none: continuous)."""

    iso: str
    name: str
    width_mm: float
    dash_mm: tuple[float, ...] = ()


# Line elements by ISO 128-2 in multiples of the width d: dash 12, long dash 24, gap 3, dot half.
OUTLINE = LineStyle("01.2", "continuous thick", 0.5)
THIN = LineStyle("01.1", "continuous thin", 0.25)
DASHED = LineStyle("02.1", "dashed thin", 0.25, (3.0, 0.75))
DOTTED = LineStyle("07.1", "dotted thin", 0.35, (0.175, 1.05))
CHAIN = LineStyle("04.1", "long-dashed dotted thin", 0.25, (6.0, 0.75, 0.125, 0.75))
DOUBLE_CHAIN = LineStyle(
    "05.1", "long-dashed double-dotted thin", 0.25, (6.0, 0.75, 0.125, 0.75, 0.125, 0.75)
)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line."""

    start: Point
    end: Point
    style: LineStyle = THIN
    name: str = ""


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed outline. Without a style only its fill shows."""

    points: tuple[Point, ...]
    style: LineStyle | None = OUTLINE
    fill: Fill = "none"
    name: str = ""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle."""

    centre: Point
    radius_mm: float
    style: LineStyle | None = THIN
    fill: Fill = "none"
    name: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of lettering; ``at`` is on the base line, ``size_mm`` the em (a capital is 0.72 of it)."""

    at: Point
    text: str
    size_mm: float = 3.5
    anchor: Anchor = "start"
    rotation_deg: float = 0.0
    bold: bool = False
    name: str = ""


@dataclass(frozen=True, slots=True)
class Arrow:
    """A line with a filled head at its end."""

    start: Point
    end: Point
    style: LineStyle = THIN
    name: str = ""

    def parts(self) -> "tuple[Line, Polygon]":
        """Give the line and the head; the line stops inside the head so that its tip stays sharp."""
        way, half_mm = unit(self.start, self.end), _arrow_length_mm(self.style) / 2
        neck = (self.end[0] - way[0] * half_mm, self.end[1] - way[1] * half_mm)
        return Line(self.start, neck, self.style), arrowhead(self.end, way, self.style)


@dataclass(frozen=True, slots=True)
class Dimension:
    """A distance by ISO 129-1: extension lines from two features to a line with arrowheads, its figure above.

    ``tails_mm`` says how far the line runs on beyond its start and end: above zero the arrowheads stand
    outside and point inwards, as a short distance needs.
    """

    features: tuple[Point, Point]
    start: Point
    end: Point
    text: Text
    tails_mm: tuple[float, float] = (0.0, 0.0)
    name: str = ""

    def parts(self) -> "tuple[Item, ...]":
        """Give the plain items that draw it."""
        ux, uy = unit(self.start, self.end)
        sign = -1.0 if max(self.tails_mm) > 0 else 1.0
        extensions = tuple(
            Line(feature, _beyond(feature, foot, EXTENSION_OVERRUN_MM))
            for feature, foot in zip(self.features, (self.start, self.end), strict=True)
            if math.dist(feature, foot) > 0
        )
        heads = (arrowhead(self.start, (-sign * ux, -sign * uy)), arrowhead(self.end, (sign * ux, sign * uy)))
        return (*extensions, Line(*self.run()), *heads, self.text)

    def run(self) -> tuple[Point, Point]:
        """Give the two ends of the dimension line, tails included."""
        before, after = self.tails_mm
        return _beyond(self.end, self.start, before), _beyond(self.start, self.end, after)


@dataclass(frozen=True, slots=True)
class Code:
    """The squares of a printed code, row by row, its light border included; '1' is dark."""

    at: Point
    pitch_mm: float
    rows: tuple[str, ...]
    name: str = ""

    def bars(self) -> Iterator[tuple[float, float, float]]:
        """Yield each run of dark squares: its left, its top and its width."""
        for number, row in enumerate(self.rows):
            for run in re.finditer("1+", row):
                start, end = run.span()
                x, y = self.at[0] + start * self.pitch_mm, self.at[1] + number * self.pitch_mm
                yield x, y, (end - start) * self.pitch_mm


Item = Line | Polygon | Circle | Text | Arrow | Dimension | Code


@dataclass(frozen=True, slots=True)
class Drawing:
    """One sheet: items in the order in which they are drawn, with a title and a description in words."""

    width_mm: float
    height_mm: float
    items: tuple[Item, ...]
    title: str
    description: str


def unit(start: Point, end: Point) -> Point:
    """Give the unit vector from one point towards another, which must differ."""
    length_mm = math.dist(start, end)
    return (end[0] - start[0]) / length_mm, (end[1] - start[1]) / length_mm


def arrowhead(tip: Point, direction: Point, style: LineStyle = THIN) -> Polygon:
    """Give a filled arrowhead, sized for a line, whose tip points along a unit vector."""
    (x, y), (ux, uy) = tip, direction
    length_mm = _arrow_length_mm(style)
    back_x, back_y = x - ux * length_mm, y - uy * length_mm
    half = length_mm / _ARROW_LENGTH_PER_WIDTH / 2
    return Polygon(
        (tip, (back_x - uy * half, back_y + ux * half), (back_x + uy * half, back_y - ux * half)),
        None,
        "solid",
    )


def _arrow_length_mm(style: LineStyle) -> float:
    return ARROW_LENGTH_MM if style.width_mm <= THIN.width_mm else 1.5 * ARROW_LENGTH_MM


def _beyond(start: Point, end: Point, overrun_mm: float) -> Point:
    ux, uy = unit(start, end)
    return end[0] + ux * overrun_mm, end[1] + uy * overrun_mm
