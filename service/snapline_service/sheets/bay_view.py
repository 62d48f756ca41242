"""A bay from above with the vehicle and its fixtures in place, to scale.

What stands is numbered where it stands; the numbers are told beneath, in a table of the sheet. Bay axes in
mm: x to the right of the paper, y up.
"""

from collections.abc import Iterable, Iterator, Sequence
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
from snapline_service.sheets.lettering import LINE_PITCH, Box, text_width_mm, wrap
from snapline_service.sheets.scale_bar import draw_scale_bar

_SCALES = (20, 50, 75, 100, 150, 200, 250, 500, 1000)
_ROOM_MM = (168.0, 118.0)
_EDGE_MM = 6.0
_LETTER_MM = 2.8
_MARK_MM = 2.6
_KEY = (
    "Thick: walls, car, fixtures. Cross: point to tape from the walls. Chain: the car's axis. "
    "Double chain: keep clear. Dashed: door, or overhead. Hatched: obstacle on the floor."
)
_KEY_MM, _KEY_LINES, _BAR_MM = 2.5, 2, 9.0
_FOOT_MM = _KEY_LINES * _KEY_MM * LINE_PITCH + _BAR_MM
_CROSS_MM = 1.2
_LEADER_MM = 2.5
_FRONT_MM = (4.8, 2.2)  # of the middle of 'front' back from the nose and aside of the axis
_ON_THE_WALL_MM = 0.05
_ASIDE_MM = 3.2
_WALL_NAME_MM = 9.0


@dataclass(frozen=True, slots=True)
class Shape:
    """An outline in the bay; with a ``number`` it is told beneath. ``overhead`` it hangs above the floor."""

    points: tuple[Point, ...]
    number: str = ""
    name: str = ""
    overhead: bool = False


@dataclass(frozen=True, slots=True)
class Door:
    """An opening in the bay's outline."""

    name: str
    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class BayScene:
    """What stands where. ``ring`` runs counter-clockwise.

    ``nose`` and ``tail`` lie on the vehicle's axis; ``taped`` are the points told by tapes from the walls.
    """

    name: str
    ring: tuple[Point, ...]
    doors: tuple[Door, ...]
    obstacles: tuple[Shape, ...]
    vehicle: Shape
    tail: Point
    nose: Point
    taped: tuple[Point, ...]
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
        self._lowest = _EDGE_MM + depth_mm / self.scale

    def at(self, point: Point) -> Point:
        """Return where a point of the bay lies on the paper."""
        x_mm = self._indent + (point[0] - self._left) / self.scale
        return x_mm, _EDGE_MM + (self._top - point[1]) / self.scale

    def is_inside(self, place: Point) -> bool:
        """Tell whether a number has room there, off the outermost walls."""
        off_mm = 2 * _MARK_MM
        return (
            self._indent + off_mm < place[0] < self.width_mm - self._indent - off_mm
            and _EDGE_MM + off_mm < place[1] < self._lowest - off_mm
        )

    def polygon(self, points: Iterable[Point], style: LineStyle, name: str, **more: object) -> Polygon:
        """Return an outline on the paper."""
        return Polygon(tuple(map(self.at, points)), style, name=name, **more)  # type: ignore[arg-type]


def bay_drawing(scene: BayScene) -> Drawing:
    """Draw a bay at the largest scale of the row that fits."""
    paper = _Paper(scene)
    front = _front(scene, paper)
    items = [
        *_room(scene, paper),
        *_walls(scene, paper),
        *_standing(scene, paper),
        front,
        *_numbers(scene, paper, [front.at]),
        *_foot(paper),
    ]
    words = f"{scene.name} at 1:{paper.scale} with the vehicle in place and {len(scene.fixtures)} fixtures."
    return Drawing(paper.width_mm, paper.height_mm, tuple(items), scene.name, words)


def _foot(paper: _Paper) -> Iterator[Item]:
    """Yield what the lines mean, and the scale."""
    top = paper.height_mm - _FOOT_MM
    for number, line in enumerate(wrap(_KEY, _KEY_MM, _ROOM_MM[0], most_lines=_KEY_LINES)):
        at = (_EDGE_MM, top + (number + 1) * _KEY_MM * LINE_PITCH)
        yield Text(at, line, _KEY_MM, name="key")
    yield from draw_scale_bar(
        Box(_EDGE_MM, paper.height_mm - _BAR_MM, paper.width_mm / 2, paper.height_mm), paper.scale, "mm"
    )
    at = (paper.width_mm - _EDGE_MM, paper.height_mm - 2.0)
    yield Text(at, f"1:{paper.scale}, seen from above", 3.0, "end")


def _room(scene: BayScene, paper: _Paper) -> Iterator[Item]:
    yield paper.polygon(scene.ring, OUTLINE, "bay")
    for number, door in enumerate(scene.doors, 1):
        one, other = paper.at(door.start), paper.at(door.end)
        across = unit(one, other)[1] * OUTLINE.width_mm, -unit(one, other)[0] * OUTLINE.width_mm
        corners = ((one, 1), (other, 1), (other, -1), (one, -1))
        opening = tuple((x + side * across[0], y + side * across[1]) for (x, y), side in corners)
        yield Polygon(opening, None, "paper", name=f"door.{number}.opening")
        yield Line(one, other, DASHED, name=f"door.{number}")
    for number, shape in enumerate(scene.obstacles, 1):
        if shape.overhead:
            yield paper.polygon(shape.points, DASHED, f"obstacle.{number}")
        else:
            yield paper.polygon(shape.points, THIN, f"obstacle.{number}", fill="hatch")


def _walls(scene: BayScene, paper: _Paper) -> Iterator[Item]:
    """Yield the number of each wall and the name of each door outside it, where they have the room.

    A wall is numbered at its longest solid stretch; where that is too short, its doors are named there too.
    """
    corners = [paper.at(point) for point in scene.ring]
    for number, wall in enumerate(zip(corners, [*corners[1:], corners[0]], strict=True), 1):
        if dist(*wall) < _WALL_NAME_MM:
            continue
        doors = [_Opening(door, wall, paper) for door in scene.doors if _is_on(wall, door, paper)]
        stretch = max(_stretches(wall, doors), key=lambda one: one[1] - one[0])
        if stretch[1] - stretch[0] >= _WALL_NAME_MM and all(door.has_room for door in doors):
            yield _outside(wall, sum(stretch) / 2, f"wall {number}", f"wall.{number}")
            for door in doors:
                yield _outside(wall, (door.first + door.last) / 2, door.name, f"door of wall.{number}")
        else:
            words = ", ".join([f"wall {number}", *(door.name for door in doors)])
            (line,) = wrap(words, _LETTER_MM, dist(*wall), most_lines=1)
            yield _outside(wall, dist(*wall) / 2, line, f"wall.{number}")


class _Opening:
    """A door along its wall on the paper, from where the wall begins."""

    def __init__(self, door: Door, wall: tuple[Point, Point], paper: _Paper) -> None:
        self.name = door.name
        self.first, self.last = sorted(dist(wall[0], paper.at(end)) for end in (door.start, door.end))
        self.has_room = text_width_mm(door.name, _LETTER_MM) <= self.last - self.first


def _is_on(wall: tuple[Point, Point], door: Door, paper: _Paper) -> bool:
    """Tell whether a door's two ends lie on a wall: a detour over them is no longer than the wall."""
    ends = (paper.at(door.start), paper.at(door.end))
    return all(dist(wall[0], end) + dist(end, wall[1]) - dist(*wall) < _ON_THE_WALL_MM for end in ends)


def _stretches(wall: tuple[Point, Point], doors: Iterable[_Opening]) -> Iterator[tuple[float, float]]:
    at = 0.0
    for door in sorted(doors, key=lambda one: one.first):
        yield at, door.first
        at = door.last
    yield at, dist(*wall)


def _outside(wall: tuple[Point, Point], at_mm: float, words: str, name: str) -> Text:
    """Letter along a wall, outside: on the right of a ring that runs counter-clockwise; y points down."""
    (x, y), along = wall[0], unit(*wall)
    middle = (x + at_mm * along[0] - _ASIDE_MM * along[1], y + at_mm * along[1] + _ASIDE_MM * along[0])
    return _lettered(words, middle, along, name)


def _lettered(words: str, middle: Point, along: Point, name: str) -> Text:
    """Letter along a direction so that it is read from below or from the right (ISO 129-1)."""
    turn_deg = 90.0 - (90.0 + degrees(atan2(along[1], along[0]))) % 180.0
    down_mm = 0.36 * _LETTER_MM
    at = (middle[0] + down_mm * sin(radians(turn_deg)), middle[1] + down_mm * cos(radians(turn_deg)))
    return Text(at, words, _LETTER_MM, "middle", turn_deg, name=name)


def _standing(scene: BayScene, paper: _Paper) -> Iterator[Item]:
    for number, shape in enumerate(scene.clear_zones, 1):
        yield paper.polygon(shape.points, DOUBLE_CHAIN, f"clear_zone.{number}")
    yield paper.polygon(scene.vehicle.points, OUTLINE, "vehicle")
    yield Line(paper.at(scene.tail), paper.at(scene.nose), CHAIN, name="axis")
    middle = ((scene.tail[0] + scene.nose[0]) / 2, (scene.tail[1] + scene.nose[1]) / 2)
    yield Arrow(paper.at(middle), paper.at(scene.nose), THIN, name="forward")
    for number, point in enumerate(scene.taped, 1):
        x, y = paper.at(point)
        yield Line((x - _CROSS_MM, y - _CROSS_MM), (x + _CROSS_MM, y + _CROSS_MM), name=f"taped.{number}")
        yield Line((x - _CROSS_MM, y + _CROSS_MM), (x + _CROSS_MM, y - _CROSS_MM), name=f"taped.{number}")
    for number, shape in enumerate(scene.fixtures, 1):
        yield paper.polygon(shape.points, OUTLINE, f"fixture.{number}", fill="paper")


def _front(scene: BayScene, paper: _Paper) -> Text:
    """Letter the car's nose inside its outline, beside its axis."""
    nose, back = paper.at(scene.nose), unit(paper.at(scene.nose), paper.at(scene.tail))
    at = (
        nose[0] + _FRONT_MM[0] * back[0] - _FRONT_MM[1] * back[1],
        nose[1] + _FRONT_MM[0] * back[1] + _FRONT_MM[1] * back[0],
    )
    return _lettered("front", at, back, "front")


def _numbers(scene: BayScene, paper: _Paper, taken: list[Point]) -> Iterator[Item]:
    """Yield the numbers in rings, moved aside where one stands already; an obstacle's never hides it."""
    for shape in (scene.vehicle, *scene.fixtures):
        at = _free(paper.at(_middle(shape.points)), taken)
        taken.append(at)
        yield from _ring(at, shape.number)
    for shape in scene.obstacles:
        at, foot = _beside(shape, scene, paper, taken)
        taken.append(at)
        yield Line(at, foot, THIN, name=f"leader.{shape.number}")
        yield from _ring(at, shape.number)


def _ring(at: Point, number: str) -> Iterator[Item]:
    yield Circle(at, _MARK_MM, THIN, "paper", name=f"mark.{number}")
    yield Text((at[0], at[1] + 0.36 * _LETTER_MM), number, _LETTER_MM, "middle", bold=True)


def _beside(shape: Shape, scene: BayScene, paper: _Paper, taken: Sequence[Point]) -> tuple[Point, Point]:
    """Return a place for an obstacle's number beside it, off what stands there, and what it points at."""
    covered = [_Extent(map(paper.at, one.points)) for one in (scene.vehicle, *scene.fixtures)]
    places = list(_Extent(map(paper.at, shape.points)).sides())
    inside = [one for one in places if paper.is_inside(one[0])] or places
    free = [one for one in inside if not any(_near(one[0], other) for other in taken)] or inside
    return next((one for one in free if not any(extent.holds(one[0]) for extent in covered)), free[0])


class _Extent:
    """The smallest upright rectangle about points on the paper."""

    def __init__(self, points: Iterable[Point]) -> None:
        xs, ys = zip(*points, strict=True)
        self._middle = ((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2)
        self._half = ((max(xs) - min(xs)) / 2, (max(ys) - min(ys)) / 2)

    def holds(self, place: Point) -> bool:
        """Tell whether a number there would stand over it."""
        return all(abs(place[i] - self._middle[i]) < self._half[i] + _MARK_MM for i in (0, 1))

    def sides(self) -> Iterator[tuple[Point, Point]]:
        """Yield places for a number beside it, first along its longer sides, each with the point it means."""
        (x, y), (half_x, half_y) = self._middle, self._half
        upright = half_y >= half_x
        out_mm = _MARK_MM + _LEADER_MM + min(self._half)
        for along in (0.0, 0.7, -0.7):
            for out in (out_mm, -out_mm):
                if upright:
                    yield (x + out, y + along * half_y), (x, y + along * half_y)
                else:
                    yield (x + along * half_x, y + out), (x + along * half_x, y)


def _free(at: Point, taken: Iterable[Point]) -> Point:
    places = [at, *((at[0] + dx, at[1] + dy) for r in (6, 12, 18) for dx, dy in _around(r))]
    return next((place for place in places if not any(_near(place, one) for one in taken)), at)


def _around(radius_mm: float) -> tuple[Point, ...]:
    return (radius_mm, 0.0), (0.0, radius_mm), (-radius_mm, 0.0), (0.0, -radius_mm)


def _near(one: Point, other: Point) -> bool:
    return abs(one[0] - other[0]) < 2 * _MARK_MM and abs(one[1] - other[1]) < 2 * _MARK_MM


def _middle(points: tuple[Point, ...]) -> Point:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)
