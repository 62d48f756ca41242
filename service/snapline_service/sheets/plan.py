"""A plan being drawn: the scene, how it lies on the paper, and what has been drawn so far."""

import math
from dataclasses import dataclass, field

from snapline_service.sheets.drawing import (
    DOTTED,
    OUTLINE,
    Arrow,
    Circle,
    Code,
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

_THICK_COST, _THIN_COST, _DOTTED_COST = 2.0, 1.0, 0.3
_HATCH_COST = 0.33  # for every square millimetre


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

    def footprints(self, *, besides: int | None = None) -> list[tuple[Point, Point]]:
        """Give the edges of the fixtures' footprints, which leaders go around."""
        outlines = [
            self.on.outline(fixture.footprint)
            for number, fixture in enumerate(self.scene.fixtures, start=1)
            if number != besides
        ]
        return [edge for outline in outlines for edge in zip(outline, outline[1:] + outline[:1], strict=True)]

    def _note(self, item: Item) -> None:
        match item:
            case Line() | Arrow():
                self.space.line(item.start, item.end, _cost(item.style))
            case Polygon():
                self.space.outline(item.points, _cost(item.style))
                if item.fill == "hatch":
                    self.space.area(item.points, _HATCH_COST)
            case Circle():
                (x, y), r = item.centre, item.radius_mm
                square = ((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r))
                self.space.outline(square, _THICK_COST)
            case Text():
                self.space.letter(text_box(item))
            case Dimension() | Code():
                raise TypeError("a dimension takes its room where it is placed, and a plan has no code")


def _cost(style: LineStyle | None) -> float:
    if style is DOTTED:
        return _DOTTED_COST
    return _THICK_COST if style is OUTLINE else _THIN_COST
