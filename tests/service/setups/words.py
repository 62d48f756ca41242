"""Read a placement's sentence as a person with a tape does, and find the point from the words alone."""

import re
from collections.abc import Callable, Mapping
from math import cos, radians, sin
from typing import NamedTuple

from service.setups.job import Point

_DATUMS = {
    "the front bumper": "front_bumper",
    "the rear bumper": "rear_bumper",
    "the front axle": "front_axle",
    "the rear axle": "rear_axle",
    "the front left wheel centre": "wheel:front_left",
    "the front right wheel centre": "wheel:front_right",
    "the rear left wheel centre": "wheel:rear_left",
    "the rear right wheel centre": "wheel:rear_right",
}
_CROSSED = ("the front bumper", "the rear bumper", "the front axle", "the rear axle")
_MIDDLE = ("the centreline", "the thrust line")  # of a car whose thrust line runs straight
_FORWARD: Point = (1.0, 0.0)


class Line(NamedTuple):
    """The points p with a x + b y = c."""

    a: float
    b: float
    c: float


def _across(direction: Point, through: Point, offset_mm: float = 0.0) -> Line:
    """Return the line at right angles to a direction, so far along it from a point."""
    u, v = direction
    return Line(u, v, u * through[0] + v * through[1] + offset_mm)


def _left(direction: Point) -> Point:
    return -direction[1], direction[0]


def _number(text: str) -> float:
    return float(text.replace(",", ""))


class Reader:
    """Knows where on the car things are, and which way its sensors look [degrees] from which height [mm]."""

    def __init__(
        self, place_of: Callable[[str], Point], yaws: Mapping[str, float], heights: Mapping[str, float]
    ) -> None:
        self._place_of = place_of
        self._sensors = {f"the {name.replace('_', ' ')}": name for name in yaws}
        self._yaws, self._heights = yaws, heights

    def point(self, sentence: str) -> tuple[float, float, float]:
        """Return the point that the words describe; words that say nothing raise AssertionError."""
        ground, _, height = sentence.removesuffix(".").partition("; ")
        along, _, lateral = (ground[0].lower() + ground[1:]).partition(", ")
        if not lateral:
            assert along.endswith(" along its axis"), sentence
            lateral = "on the axis of " + along.partition(" from ")[2].removesuffix(" along its axis")
        one, two = self._read_along(along), self._read_lateral(lateral)
        det = one.a * two.b - one.b * two.a
        return (
            (one.c * two.b - one.b * two.c) / det,
            (one.a * two.c - one.c * two.a) / det,
            self._read_height(height),
        )

    def _place(self, words: str) -> Point:
        return self._place_of(_DATUMS.get(words) or f"sensor:{self._sensors[words]}")

    def _axis(self, words: str) -> Point:
        yaw = radians(self._yaws[self._sensors[words]])
        return cos(yaw), sin(yaw)

    def _read_along(self, words: str) -> Line:
        if found := re.fullmatch(r"level with (.*)", words):
            return _across(_FORWARD, self._place(found[1]))
        if found := re.fullmatch(r"([\d,.]+) mm (ahead of|behind) (.*)", words):
            distance = _number(found[1]) * (1 if found[2] == "ahead of" else -1)
            return _across(_FORWARD, self._place(found[3]), distance)
        found = re.fullmatch(r"([\d,.]+) mm (out|back) from (.*) along (?:its axis|the axis of (.*))", words)
        assert found, words
        datum, sensor = found[3], found[4] or found[3]
        direction, place = self._axis(sensor), self._place(datum)
        if datum in _CROSSED:  # a line across the car is met where the axis crosses it
            x, y = self._place(sensor)
            place = place[0], y + (place[0] - x) * direction[1] / direction[0]
        return _across(direction, place, _number(found[1]) * (1 if found[2] == "out" else -1))

    def _read_lateral(self, words: str) -> Line:
        words, _, looking = words.partition(", looking along ")
        found = re.fullmatch(r"(?:on|in line with|([\d,.]+) mm (?:to the )?(left|right) of) (.*)", words)
        assert found, words
        distance = _number(found[1] or "0") * (-1 if found[2] == "right" else 1)
        datum = found[3].removeprefix("the axis of ")
        if looking:
            axis = self._axis(datum if looking == "it" else looking.removeprefix("the axis of "))
            return _across(_left(axis), self._place(datum), distance)
        if found[3] != datum and not distance:
            return _across(_left(self._axis(datum)), self._place(datum))
        place = (0.0, 0.0) if datum in _MIDDLE else self._place(datum)
        return _across(_left(_FORWARD), place, distance)

    def _read_height(self, words: str) -> float:
        found = re.search(r"(?:on|level with|([\d,.]+) mm (above|below)) (the [a-z ]+)$", words)
        assert found, words
        level = 0.0 if found[3] == "the floor" else self._heights[self._sensors[found[3]]]
        return level + _number(found[1] or "0") * (-1 if found[2] == "below" else 1)
