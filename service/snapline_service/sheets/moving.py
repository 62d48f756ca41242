"""Drawn things as a whole: how high they reach, and the same elsewhere on the paper."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from snapline_service.sheets.drawing import Arrow, Circle, Code, Dimension, Item, Line, Point, Polygon, Text
from snapline_service.sheets.lettering import text_box


def height_band(items: Iterable[Item]) -> tuple[float, float]:
    """Give the top and the bottom of some items on the paper."""
    ys = [y for item in items for y in _heights(item)]
    return min(ys), max(ys)


def moved(items: Iterable[Item], right_mm: float, down_mm: float) -> Iterator[Item]:
    """Give the same items further to the right and further down the paper."""

    def there(point: Point) -> Point:
        return point[0] + right_mm, point[1] + down_mm

    for item in items:
        match item:
            case Line() | Arrow():
                yield replace(item, start=there(item.start), end=there(item.end))
            case Polygon():
                yield replace(item, points=tuple(map(there, item.points)))
            case Circle():
                yield replace(item, centre=there(item.centre))
            case Text() | Code():
                yield replace(item, at=there(item.at))
            case Dimension():
                first, second = item.features
                yield replace(
                    item,
                    features=(there(first), there(second)),
                    start=there(item.start),
                    end=there(item.end),
                    text=replace(item.text, at=there(item.text.at)),
                )


def _heights(item: Item) -> Iterator[float]:
    match item:
        case Line() | Arrow():
            yield from (item.start[1], item.end[1])
        case Polygon():
            yield from (y for _, y in item.points)
        case Circle():
            yield from (item.centre[1] - item.radius_mm, item.centre[1] + item.radius_mm)
        case Text():
            box = text_box(item)
            yield from (box.y_min, box.y_max)
        case Code():
            yield from (item.at[1], item.at[1] + len(item.rows) * item.pitch_mm)
        case Dimension():
            for part in item.parts():
                yield from _heights(part)
