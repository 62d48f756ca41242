"""A plan being drawn: the scene, how it lies on the paper, and what has been drawn so far."""

import math
from dataclasses import dataclass, field

from snapline_service.sheets.drawing import (
    OUTLINE,
    Arrow,
    Circle,
    Dimension,
    Item,
    Line,
    LineStyle,
    Point,
    Polygon,
    Text,
)
from snapline_service.sheets.lengths import Units
from snapline_service.sheets.lettering import text_box
from snapline_service.sheets.scene import PlanScene
from snapline_service.sheets.space import Space

_THICK_COST, _THIN_COST, _HATCH_COST = 2.0, 1.0, 0.5
_HATCH_ROW_MM = 1.5


@dataclass(frozen=True, slots=True)
class Projection:
    """Vehicle axes to paper: x forward to the right, y left upwards, one to ``scale``."""

    scale: int
    origin: Point

    def paper(self, point: Point) -> Point:
        """Give a point of the vehicle's axes on the paper."""
        return self.origin[0] + point[0] / self.scale, self.origin[1] - point[1] / self.scale

    def outline(self, points: tuple[Point, ...]) -> tuple[Point, ...]:
        """Give several points on the paper."""
        return tuple(self.paper(point) for point in points)

    def ahead(self, point: Point, direction_deg: float, paper_mm: float) -> Point:
        """Give the paper point so far on the paper from a point, in a direction of the vehicle's axes."""
        x, y = self.paper(point)
        turn = math.radians(direction_deg)
        return x + math.cos(turn) * paper_mm, y - math.sin(turn) * paper_mm


@dataclass(slots=True)
class Plan:
    """What is drawn, the room it takes, and the words that found none."""

    scene: PlanScene
    units: Units
    on: Projection
    space: Space
    items: list[Item] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    def draw(self, *items: Item) -> None:
        """Add items and note the room they take."""
        for item in items:
            self._note(item)
            self.items.append(item)

    def draw_dimension(self, dimension: Dimension) -> None:
        """Add a dimension whose room is taken already."""
        self.items.append(dimension)

    def _note(self, item: Item) -> None:
        match item:
            case Line() | Arrow():
                self.space.line(item.start, item.end, _cost(item.style))
            case Polygon():
                self.space.outline(item.points, _cost(item.style))
                if item.fill == "hatch":
                    self._note_hatch(item.points)
            case Circle():
                (x, y), r = item.centre, item.radius_mm
                square = ((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r))
                self.space.outline(square, _THICK_COST)
            case Text():
                self.space.letter(text_box(item))
            case Dimension():
                raise TypeError("a dimension takes its room where it is placed")

    def _note_hatch(self, points: tuple[Point, ...]) -> None:
        xs, ys = zip(*points, strict=True)
        row = min(ys)
        while row < max(ys):
            self.space.line((min(xs), row), (max(xs), row), _HATCH_COST)
            row += _HATCH_ROW_MM


def _cost(style: LineStyle | None) -> float:
    return _THICK_COST if style is OUTLINE else _THIN_COST
