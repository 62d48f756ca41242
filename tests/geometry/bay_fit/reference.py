"""The same question answered without any of the service's geometry: shapely alone, place by place.

Nothing here knows Minkowski sums, free space or relaxed walls: a pose is turned into polygons, and the
polygons are compared with the bay.
"""

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, affinity, box

from snapline_service.geometry.bay_fit import Bay, Obstacle, Part, Procedure

Array = NDArray[np.float64]


def rectangle(x_min: float, y_min: float, x_max: float, y_max: float) -> tuple[tuple[float, float], ...]:
    """Return a rectangle's corners, counter-clockwise."""
    return (x_min, y_min), (x_max, y_min), (x_max, y_max), (x_min, y_max)


def sheet(length: float, width: float, kind: str = "solid") -> Procedure:
    """Return a procedure of one rectangle, centred."""
    x, y = length / 2, width / 2
    return Procedure("sheet", (Part("sheet", kind, rectangle(-x, -y, x, y)),))  # type: ignore[arg-type]


def parts_of(procedures: Sequence[Procedure]) -> list[Part]:
    return [part for procedure in procedures for part in procedure.parts]


def placed(part: Part, x_mm: float, y_mm: float, heading_deg: float) -> Polygon:
    turned = affinity.rotate(Polygon(part.polygon), heading_deg, origin=(0, 0))
    return affinity.translate(turned, x_mm, y_mm)


def meets(obstacle: Obstacle, part: Part) -> bool:
    tops = [z for z in (obstacle.z_max_mm, part.z_max_mm) if z is not None]
    return max(obstacle.z_min_mm, part.z_min_mm) < min(tops, default=float("inf"))


def clearance(bay: Bay, parts: Sequence[Part], x_mm: float, y_mm: float, heading_deg: float) -> float:
    """Return the least distance of shut-in parts from walls and obstacles; negative where they overlap."""
    room = Polygon(bay.ring)
    found = []
    for part in parts:
        polygon = placed(part, x_mm, y_mm, heading_deg)
        found.append(_inside(room, polygon))
        found += [
            _apart(Polygon(obstacle.polygon), polygon) for obstacle in bay.obstacles if meets(obstacle, part)
        ]
    return min(found)


def _inside(room: Polygon, polygon: Polygon) -> float:
    outside = polygon.difference(room)
    # How deep something sticks out is the farthest that any point of it lies from the room.
    if outside.area > 0.0:
        return -max(room.distance(shapely.Point(point)) for point in shapely.get_coordinates(outside))
    return float(room.exterior.distance(polygon))


def _apart(obstacle: Polygon, polygon: Polygon) -> float:
    common = obstacle.intersection(polygon)
    return -float(np.sqrt(common.area)) if common.area > 0.0 else float(obstacle.distance(polygon))


def grid(bay: Bay, parts: Sequence[Part], heading_deg: float, step_mm: float) -> tuple[float, Array]:
    """Return the greatest clearance on a grid of places, and the place; minus infinity where nothing fits."""
    room = Polygon(bay.ring)
    shapely.prepare(room)
    low, high = np.array(room.bounds[:2]), np.array(room.bounds[2:])
    reach = np.array([placed(part, 0, 0, heading_deg).bounds for part in parts])
    low, high = low - reach[:, :2].min(axis=0), high - reach[:, 2:].max(axis=0)
    if (high < low).any():
        return -np.inf, low
    xs, ys = (np.arange(a, b + step_mm, step_mm) for a, b in zip(low, high, strict=True))
    places = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    least = np.full(len(places), np.inf)
    for part in parts:
        corners = shapely.get_coordinates(placed(part, 0, 0, heading_deg))
        polygons = shapely.polygons(places[:, None, :] + corners[None, :, :])
        kept = shapely.contains(room, polygons)
        least = np.where(kept, np.minimum(least, shapely.distance(room.exterior, polygons)), -np.inf)
        for obstacle in bay.obstacles:
            if meets(obstacle, part):
                solid = Polygon(obstacle.polygon)
                touching = shapely.relate_pattern(solid, polygons, "T********")
                least = np.where(touching, -np.inf, np.minimum(least, shapely.distance(solid, polygons)))
        keep = least > -np.inf
        places, least = places[keep], least[keep]
        if not len(places):
            return -np.inf, low
    best = int(least.argmax())
    return float(least[best]), places[best]


def random_bays(seed: int, count: int) -> Iterator[tuple[Bay, tuple[float, ...], tuple[Procedure, ...]]]:
    """Yield bays of several shapes with obstacles, and procedures that they often have no room for."""
    dice = np.random.default_rng(seed)
    for _ in range(count):
        width, depth = dice.uniform(5200, 8200), dice.uniform(3000, 5600)
        ring = _ring(dice, width, depth)
        obstacles = tuple(_obstacle(dice, width, depth) for _ in range(dice.integers(0, 4)))
        headings = (0.0, 180.0) if dice.random() < 0.6 else tuple(dice.uniform(0, 360, 2).tolist())
        yield Bay(ring, obstacles), headings, tuple(_procedures(dice))


def _ring(dice: np.random.Generator, width: float, depth: float) -> tuple[tuple[float, float], ...]:
    shape = dice.integers(0, 4)
    cut_x, cut_y = dice.uniform(300, width / 2), dice.uniform(300, depth / 2)
    if shape == 0:
        ring = list(rectangle(0, 0, width, depth))
    elif shape == 1:  # a corner cut off
        ring = [(0, 0), (width, 0), (width, depth - cut_y), (width - cut_x, depth), (0, depth)]
    elif shape == 2:  # L
        x, y = width - cut_x, depth - cut_y
        ring = [(0, 0), (width, 0), (width, y), (x, y), (x, depth), (0, depth)]
    else:  # a pier in a wall
        x = dice.uniform(1000, width - 1000)
        ring = [
            (0, 0),
            (x, 0),
            (x, 400),
            (x + 300, 400),
            (x + 300, 0),
            (width, 0),
            (width, depth),
            (0, depth),
        ]
    turned = affinity.rotate(Polygon(ring), float(dice.choice([0.0, 0.0, 17.0])), origin=(0, 0))
    corners = list(turned.exterior.coords)[:-1]
    return tuple((float(x), float(y)) for x, y in (corners if dice.random() < 0.7 else corners[::-1]))


def _obstacle(dice: np.random.Generator, width: float, depth: float) -> Obstacle:
    size = dice.uniform(150, 500)
    corner = Polygon([(0, 0), (900, 0), (900, 200), (200, 200), (200, 900), (0, 900)])
    shape = box(0, 0, size, size) if dice.random() < 0.7 else corner
    at = affinity.translate(shape, dice.uniform(0, width), dice.uniform(-0.1, 0.9) * depth)
    z_min, z_max = ((0.0, None), (2000.0, None), (0.0, 900.0))[dice.integers(0, 3)]
    return Obstacle(tuple((x, y) for x, y in at.exterior.coords[:-1]), z_min, z_max)


def _procedures(dice: np.random.Generator) -> Iterator[Procedure]:
    long, wide = dice.uniform(3700, 4600), dice.uniform(1600, 1950)
    car = Part("car", "solid", rectangle(-long / 4, -wide / 2, 3 * long / 4, wide / 2), 0.0, 1500.0)
    for number in range(dice.integers(1, 4)):
        x, y = dice.choice([-1, 1], 2) * dice.uniform([long * 0.4, 500], [long * 0.8, 1500])
        size = dice.uniform(200, 900)
        kind = str(dice.choice(["solid", "clear_zone", "walking_margin"]))
        part = Part("thing", kind, rectangle(x, y, x + size, y + size / 2), 0.0, 2200.0)  # type: ignore[arg-type]
        yield Procedure(f"p{number}", (car, part))


def fewest_by_trial(covers: Sequence[frozenset[int]], wanted: frozenset[int]) -> int:
    """Return the fewest sets that hold all that is wanted, by trying all combinations."""
    for count in range(len(wanted) + 1):
        if any(wanted <= frozenset().union(*chosen) for chosen in product(covers, repeat=count)):
            return count
    raise AssertionError("something is held by no set")
