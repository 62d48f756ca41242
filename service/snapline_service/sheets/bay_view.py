"""A bay from above with the vehicle and its fixtures in place, to scale.

What stands is numbered where it stands; the numbers are told beneath, in a table of the sheet. Bay axes in
mm: x to the right of the paper, y up.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import atan2, cos, degrees, dist, radians, sin

from snapline_service.sheets.drawing import (
    CHAIN,
    DASHED,
    DOUBLE_CHAIN,
    OUTLINE,
    THIN,
    Arrow,
    Circle,
    Drawing,
    Item,
    Line,
    LineStyle,
    Point,
    Polygon,
    Text,
    unit,
)

_SCALES = (20, 50, 75, 100, 150, 200, 250, 500, 1000)
_ROOM_MM = (168.0, 118.0)
_EDGE_MM = 6.0
_LETTER_MM = 2.8
_MARK_MM = 2.6
_FOOT_MM = 6.0
_CROSS_MM = 1.2
_ASIDE_MM = 3.2
_WALL_NAME_MM = 9.0


@dataclass(frozen=True, slots=True)
class Shape:
    """An outline in the bay; with a ``number`` it is told beneath."""

    points: tuple[Point, ...]
    number: str = ""


@dataclass(frozen=True, slots=True)
class BayScene:
    """What stands where. ``ring`` runs counter-clockwise, ``doors`` are pairs of points.

    ``nose`` and ``tail`` lie on the vehicle's axis; ``axles`` are the middles of its axles.
    """

    name: str
    ring: tuple[Point, ...]
    doors: tuple[tuple[Point, Point], ...]
    obstacles: tuple[Shape, ...]
    vehicle: Shape
    tail: Point
    nose: Point
    axles: tuple[Point, ...]
    fixtures: tuple[Shape, ...]
    clear_zones: tuple[Shape, ...]


class _Paper:
    """From the bay to the paper."""

    def __init__(self, scene: BayScene) -> None:
        points = [*scene.ring, *(p for shape in (*scene.clear_zones, *scene.fixtures) for p in shape.points)]
        xs, ys = [x for x, _ in points], [y for _, y in points]
        self._left, self._top = min(xs), max(ys)
        length_mm, depth_mm = max(xs) - self._left, self._top - min(ys)
        fitting = [s for s in _SCALES if length_mm / s <= _ROOM_MM[0] and depth_mm / s <= _ROOM_MM[1]]
        self.scale = fitting[0] if fitting else _SCALES[-1]
        self.width_mm = _ROOM_MM[0] + 2 * _EDGE_MM
        self.height_mm = depth_mm / self.scale + 2 * _EDGE_MM + _FOOT_MM
        self._indent = (self.width_mm - length_mm / self.scale) / 2

    def at(self, point: Point) -> Point:
        """Return where a point of the bay lies on the paper."""
        x_mm = self._indent + (point[0] - self._left) / self.scale
        return x_mm, _EDGE_MM + (self._top - point[1]) / self.scale

    def polygon(self, points: Iterable[Point], style: LineStyle, name: str, **more: object) -> Polygon:
        """Return an outline on the paper."""
        return Polygon(tuple(map(self.at, points)), style, name=name, **more)  # type: ignore[arg-type]


def bay_drawing(scene: BayScene) -> Drawing:
    """Draw a bay at the largest scale of the row that fits."""
    paper = _Paper(scene)
    items = [
        *_room(scene, paper),
        *_walls(scene, paper),
        *_standing(scene, paper),
        *_numbers(scene, paper),
    ]
    scale = Text(
        (paper.width_mm - _EDGE_MM, paper.height_mm - 2.0), f"1:{paper.scale}, seen from above", 3.0, "end"
    )
    words = f"{scene.name} at 1:{paper.scale} with the vehicle in place and {len(scene.fixtures)} fixtures."
    return Drawing(paper.width_mm, paper.height_mm, (*items, scale), scene.name, words)


def _room(scene: BayScene, paper: _Paper) -> Iterator[Item]:
    yield paper.polygon(scene.ring, OUTLINE, "bay")
    for number, (start, end) in enumerate(scene.doors, 1):
        one, other = paper.at(start), paper.at(end)
        across = unit(one, other)[1] * OUTLINE.width_mm, -unit(one, other)[0] * OUTLINE.width_mm
        corners = ((one, 1), (other, 1), (other, -1), (one, -1))
        opening = tuple((x + side * across[0], y + side * across[1]) for (x, y), side in corners)
        yield Polygon(opening, None, "paper", name=f"door.{number}.opening")
        yield Line(one, other, DASHED, name=f"door.{number}")
    for number, shape in enumerate(scene.obstacles, 1):
        yield paper.polygon(shape.points, THIN, f"obstacle.{number}", fill="hatch")


def _walls(scene: BayScene, paper: _Paper) -> Iterator[Item]:
    """Yield the number of each wall outside its middle and along it, where it is long enough for that."""
    corners = [paper.at(point) for point in scene.ring]
    for number, (start, end) in enumerate(zip(corners, [*corners[1:], corners[0]], strict=True), 1):
        if dist(start, end) >= _WALL_NAME_MM:
            along = unit(start, end)
            # Lettering is read from below or from the right (ISO 129-1).
            turn_deg = 90.0 - (90.0 + degrees(atan2(along[1], along[0]))) % 180.0
            down = sin(radians(turn_deg)), cos(radians(turn_deg))
            # Outside is on the right of a ring that runs counter-clockwise; the paper's y points down.
            x, y = (
                (start[i] + end[i]) / 2 + _ASIDE_MM * (-along[1], along[0])[i] + 0.36 * _LETTER_MM * down[i]
                for i in (0, 1)
            )
            yield Text((x, y), f"wall {number}", _LETTER_MM, "middle", turn_deg, name=f"wall.{number}")


def _standing(scene: BayScene, paper: _Paper) -> Iterator[Item]:
    for number, shape in enumerate(scene.clear_zones, 1):
        yield paper.polygon(shape.points, DOUBLE_CHAIN, f"clear_zone.{number}")
    yield paper.polygon(scene.vehicle.points, OUTLINE, "vehicle")
    yield Line(paper.at(scene.tail), paper.at(scene.nose), CHAIN, name="axis")
    middle = ((scene.tail[0] + scene.nose[0]) / 2, (scene.tail[1] + scene.nose[1]) / 2)
    yield Arrow(paper.at(middle), paper.at(scene.nose), THIN, name="forward")
    for number, axle in enumerate(scene.axles, 1):
        x, y = paper.at(axle)
        yield Line((x - _CROSS_MM, y - _CROSS_MM), (x + _CROSS_MM, y + _CROSS_MM), name=f"axle.{number}")
        yield Line((x - _CROSS_MM, y + _CROSS_MM), (x + _CROSS_MM, y - _CROSS_MM), name=f"axle.{number}")
    for number, shape in enumerate(scene.fixtures, 1):
        yield paper.polygon(shape.points, OUTLINE, f"fixture.{number}", fill="paper")


def _numbers(scene: BayScene, paper: _Paper) -> Iterator[Item]:
    """Yield the numbers in rings, moved aside where one stands already."""
    taken: list[Point] = []
    for shape in (scene.vehicle, *scene.fixtures, *scene.obstacles):
        if shape.number:
            at = _free(paper.at(_middle(shape.points)), taken)
            taken.append(at)
            yield Circle(at, _MARK_MM, THIN, "paper", name=f"mark.{shape.number}")
            yield Text((at[0], at[1] + 0.36 * _LETTER_MM), shape.number, _LETTER_MM, "middle", bold=True)


def _free(at: Point, taken: Iterable[Point]) -> Point:
    places = [at, *((at[0] + dx, at[1] + dy) for r in (6, 12, 18) for dx, dy in _around(r))]
    return next((place for place in places if not any(_near(place, one) for one in taken)), at)


def _around(radius_mm: float) -> tuple[Point, ...]:
    return (radius_mm, 0.0), (0.0, radius_mm), (-radius_mm, 0.0), (0.0, -radius_mm)


def _near(one: Point, other: Point) -> bool:
    return abs(one[0] - other[0]) < 2 * _MARK_MM and abs(one[1] - other[1]) < 2 * _MARK_MM


def _middle(points: tuple[Point, ...]) -> Point:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)
