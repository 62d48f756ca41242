"""Marks made by string and tape from the wheel marks, all of them where a string or tape passes the car.

A string from wheel mark to wheel mark along the car's side passes outside the tyres; across the car none
does. So the centreline is found ahead of the car and behind it, halfway between its two sides.
"""

from dataclasses import replace
from math import ceil, dist, radians, tan

import numpy as np

from snapline_service.geometry.made_marks import halfway, produced, taped
from snapline_service.geometry.marks import Marks, extended
from snapline_service.geometry.values import Point
from snapline_service.geometry.vehicle_marks import WHEELS
from snapline_service.setups.figures import length
from snapline_service.setups.ground import SHORT, Ground, Note, by_two_tapes, mark_words
from snapline_service.setups.inputs import Inputs
from snapline_service.setups.means import Means

OFFSET_MM = 600.0
SIDE_LINE_MM = 1500.0
BUMPER_DATUM = "on the line: "  # where a bumper is along the car; across it, string and tape find the middle
_PAST_BUMPER_MM = 300.0
_STEP_MM = 100.0
_STRING_MM = 300.0  # marks nearer to each other, as a person may give them, hold no string straight
_SIDES = ("left", "right")
_ENDS = (("front", "rear", "ahead"), ("rear", "front", "behind"))


def line_marks(ground: Ground, aim_line: str) -> tuple[str, str] | None:
    """Return the marks through which an aim line is drawn, behind the car and ahead of it."""
    for line in (aim_line.replace("_", " "), "centreline"):
        found = f"{line} mark behind", f"{line} mark ahead"
        if set(found) <= set(ground.notes):
            return found
    return None


def with_strings(ground: Ground, inputs: Inputs, means: Means, thrust_yaw_deg: float | None) -> Ground:
    """Add the marks that string and tape give; without marks of all wheels, the bumpers' alone."""
    making = _Making(ground, inputs, means)
    has_wheels = set(WHEELS) <= set(ground.joint.names)
    for end, other, way in _ENDS:
        sides = [has_wheels and making.side(side, end, other, way) for side in _SIDES]
        making.bumper(end, way if all(sides) else None)
        if all(sides):
            making.lines(end, way, thrust_yaw_deg)
        for side, has_line in zip(_SIDES, sides, strict=True):
            if has_line:
                making.offset(side, end, way)
    # Of two marks a few millimetres apart a tape is hooked to one alone: nobody takes the other for it.
    shadowed = {f"centreline mark {way}" for _, _, way in _ENDS if f"thrust line mark {way}" in making.notes}
    known = {*ground.notes, *ground.primary, *shadowed}
    auxiliary = tuple(name for name in making.notes if name not in known)
    return replace(ground, joint=making.joint, notes=making.notes, auxiliary=auxiliary)


class _Making:
    """The marks so far, and what makes the next."""

    def __init__(self, ground: Ground, inputs: Inputs, means: Means) -> None:
        self.joint, self.notes = ground.joint, dict(ground.notes)
        self._inputs, self._means = inputs, means

    def side(self, side: str, end: str, other: str, way: str) -> bool:
        """Produce the line along a side of the car past its bumper; say whether it can be."""
        through = (f"{other} {side} wheel", f"{end} {side} wheel")
        if dist(self.joint.point(through[0]), self.joint.point(through[1])) < _STRING_MM:
            return False
        beyond_mm = self._beyond_mm(end)
        start, past = self._words(through)
        how = f"String from {start} past {past}; mark {self._length(beyond_mm)} beyond {past}."
        name = f"{side} side mark {way}"
        tape = replace(self._means.tape, rounding_mm=0.0)
        self.joint = produced(
            self.joint, name, through, beyond_mm, tape=tape, u_marking_mm=self._means.u_marking_mm
        )
        self.notes[name] = Note(f"{side[0].upper()}{way[0]}", "line", how, through)
        return True

    def bumper(self, end: str, way: str | None) -> None:
        """Bring the bumper to the floor, where there are side marks as far from the one as from the other."""
        name = f"{end} bumper"
        datum = BUMPER_DATUM + name
        if datum not in self.joint.names:
            return
        between = self._between(way) if way else ()
        along, across = np.diag([1.0, 0.0]), np.diag([0.0, 0.5])
        made_from = {datum: along} | dict.fromkeys(between, across)
        own = self._means.u_marking_mm**2
        self.joint = extended(self.joint, name, self.joint.point(datum), made_from, own)
        part = "foremost" if end == "front" else "rearmost"
        how = f"Plumb from the {part} point of the body, without number plate, in the middle of the car"
        how += ": as far from {} as from {}.".format(*self._words(between)) if between else "."
        self.notes[name] = Note(SHORT[name], "bumper", how, between)

    def lines(self, end: str, way: str, thrust_yaw_deg: float | None) -> None:
        """Mark the centreline, and the thrust line, which passes the middle of the rear axle."""
        between = self._between(way)
        one, two = self._words(between)
        how = f"Halve the string from {one} to {two}"
        self._halfway(f"centreline mark {way}", f"C{way[0]}", between, 0.0, f"{how}.")
        if thrust_yaw_deg:
            wheelbase_mm = self._inputs.vehicle.wheelbase_mm or 0.0
            ahead_mm = wheelbase_mm + self._beyond_mm(end) if end == "front" else -self._beyond_mm(end)
            aside_mm = ahead_mm * tan(radians(thrust_yaw_deg))
            towards = one if aside_mm > 0.0 else two
            how = f"{how}; from there {self._length(abs(aside_mm))} along it towards {towards}."
            self._halfway(f"thrust line mark {way}", f"T{way[0]}", between, aside_mm, how)

    def offset(self, side: str, end: str, way: str) -> None:
        """Mark a point straight out from a wheel mark, by a tape from it and one from the side line's end."""
        from_ = (f"{end} {side} wheel", f"{side} side mark {way}")
        point = _square_off(self.joint, *from_, side)
        name, code = f"{end} {side} offset mark", f"{SHORT[from_[0]]}o"
        self.joint = taped(
            self.joint, name, point, from_, tape=self._means.tape, u_marking_mm=self._means.u_marking_mm
        )
        marks = [(mark, self.joint.point(mark)) for mark in from_]
        how = by_two_tapes(self.notes, point, marks, self._means.units)
        self.notes[name] = Note(code, "offset", how, from_)

    def _halfway(self, name: str, short: str, between: tuple[str, str], aside_mm: float, how: str) -> None:
        u_mm = self._means.u_marking_mm
        self.joint = halfway(self.joint, name, *between, u_marking_mm=u_mm, aside_mm=aside_mm)
        self.notes[name] = Note(short, "line", how, between)

    def _words(self, marks: tuple[str, ...]) -> list[str]:
        return [mark_words(self.notes, mark) for mark in marks]

    def _between(self, way: str) -> tuple[str, str]:
        return f"left side mark {way}", f"right side mark {way}"

    def _beyond_mm(self, end: str) -> float:
        overhang_mm = getattr(self._inputs.vehicle, f"{end}_overhang_mm") or 0.0
        return max(SIDE_LINE_MM, _STEP_MM * ceil((overhang_mm + _PAST_BUMPER_MM) / _STEP_MM))

    def _length(self, mm: float) -> str:
        return length(mm, self._means.units)


def _square_off(joint: Marks, wheel: str, along: str, side: str) -> Point:
    at, ahead = np.array(joint.point(wheel)), np.array(joint.point(along))
    u = (ahead - at) / float(np.hypot(*(ahead - at)))
    out = np.array([-u[1], u[0]])
    if (out[1] > 0.0) != (side == "left"):
        out = -out
    x_mm, y_mm = at + OFFSET_MM * out
    return float(x_mm), float(y_mm)
