"""Where a dimension line goes: a row beside the features, free of lettering and of other dimension lines."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from snapline_service.sheets.drawing import ARROW_LENGTH_MM, Dimension, Point, Text, unit
from snapline_service.sheets.lettering import ASCENT, Box, text_box, text_width_mm
from snapline_service.sheets.space import Space

ROW_FIRST_MM = 10.0  # common practice: first line 10 mm off the outline, the next ones 7 mm apart
ROW_PITCH_MM = 7.0
FIGURE_MM = 3.5
_FIGURE_LIFT_MM = 1.0
FIGURE_ROOM_MM = _FIGURE_LIFT_MM + ASCENT * FIGURE_MM + 0.5  # above its line
_COVERED_COST = 4.0
_MOST_MUDDLE = 120.0


@dataclass(frozen=True, slots=True)
class Span:
    """A distance on the paper; its extension lines start at ``features``, which are level with its ends."""

    start: Point
    end: Point
    features: tuple[Point, Point]
    figure: str
    name: str


def rows_beside(points: tuple[Point, ...], span: Span, count: int) -> list[float]:
    """Give rows beyond all the points on both sides of a span, as coordinates along its normal."""
    nx, ny = _normal(span)
    across = [x * nx + y * ny for x, y in points]
    steps = [ROW_FIRST_MM + ROW_PITCH_MM * i for i in range(count)]
    return [max(across) + step for step in steps] + [min(across) - step for step in steps]


def place_dimension(space: Space, span: Span, rows: list[float]) -> Dimension | None:
    """Find the cheapest of some rows for a span and take its room, or give None where none is free."""
    best, best_cost = None, math.inf
    for row in sorted(rows, key=lambda row: _extension_mm(span, row)):
        extension_mm = _extension_mm(span, row)
        if extension_mm >= best_cost:
            break  # what follows reaches at least as far, and nothing makes it cheaper than that
        for candidate, aside_mm in _candidates(span, row):
            known = extension_mm + aside_mm / 10
            cost = known + _muddle(space, candidate, best_cost - known)
            if cost < best_cost:
                best, best_cost = candidate, cost
    if best is not None:
        _take(space, best)
    return best


def _candidates(span: Span, row: float) -> Iterator[tuple[Dimension, float]]:
    """Yield the dimensions that a row allows, and how far off its middle the figure of each stands."""
    way, (nx, ny) = unit(span.start, span.end), _normal(span)
    length_mm = math.dist(span.start, span.end)
    start, end = (_moved(p, (nx, ny), row - p[0] * nx - p[1] * ny) for p in (span.start, span.end))
    for tails, middle_mm in _figure_places(length_mm, text_width_mm(span.figure, FIGURE_MM)):
        text = _figure(_moved(start, way, middle_mm), way, span)
        yield Dimension(span.features, start, end, text, tails, span.name), abs(middle_mm - length_mm / 2)


def _extension_mm(span: Span, row: float) -> float:
    """Give how long the two extension lines to a row are together."""
    nx, ny = _normal(span)
    return sum(abs(row - x * nx - y * ny) for x, y in span.features)


def _figure_places(length_mm: float, width_mm: float) -> list[tuple[tuple[float, float], float]]:
    """Give tails and the figure's middle along the line: between the arrowheads, else beyond either end."""
    room_mm = length_mm - width_mm - 2 * ARROW_LENGTH_MM - 1.0
    if room_mm >= 0:
        return [((0.0, 0.0), length_mm / 2 + part * room_mm) for part in (0.0, -0.3, 0.3)]
    short, long = 2 * ARROW_LENGTH_MM, width_mm + ARROW_LENGTH_MM + 2.0
    off = ARROW_LENGTH_MM + 1.0 + width_mm / 2
    return [((short, long), length_mm + off), ((long, short), -off)]


def _figure(foot: Point, way: Point, span: Span) -> Text:
    """Put a figure above its line, to be read from the bottom or from the right (ISO 129-1)."""
    turn_deg = math.degrees(math.atan2(-way[1], way[0]))
    if turn_deg > 90.0 + 1e-6:
        turn_deg -= 180.0
    elif turn_deg <= -90.0 + 1e-6:
        turn_deg += 180.0
    turn = math.radians(turn_deg)
    at = _moved(foot, (-math.sin(turn), -math.cos(turn)), _FIGURE_LIFT_MM)
    return Text(at, span.figure, FIGURE_MM, "middle", turn_deg, name=f"{span.name}.figure")


def _muddle(space: Space, dimension: Dimension, bound: float) -> float:
    """Weigh what a candidate crosses; infinite where that meets lettering, cannot be read or is the bound."""
    run, figure_box, extensions = dimension.run(), text_box(dimension.text), _extensions(dimension)
    possible = (
        space.limits.holds(_around(*run))
        and space.is_free(figure_box)
        and all(space.is_clear(*line) for line in (run, *extensions))
        and space.is_apart(*run)
    )
    if not possible:
        return math.inf
    muddle = space.closeness(*run) + space.covered(figure_box) * _COVERED_COST
    limit = min(bound, _MOST_MUDDLE)
    if muddle < limit:
        muddle += space.crossings(extensions)
    return muddle if muddle <= limit else math.inf


def _take(space: Space, dimension: Dimension) -> None:
    space.letter(text_box(dimension.text))
    space.guard(*dimension.run())
    for line in _extensions(dimension):
        space.line(*line, 1.0)


def _extensions(dimension: Dimension) -> list[tuple[Point, Point]]:
    return list(zip(dimension.features, (dimension.start, dimension.end), strict=True))


def _around(start: Point, end: Point) -> Box:
    (x0, y0), (x1, y1) = start, end
    return Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))


def _normal(span: Span) -> Point:
    ux, uy = unit(span.start, span.end)
    return -uy, ux


def _moved(point: Point, way: Point, length_mm: float) -> Point:
    return point[0] + way[0] * length_mm, point[1] + way[1] * length_mm
