"""Lettering beside the thing it is about, with a leader where it cannot touch it."""

import math
from dataclasses import dataclass
from typing import Literal

from snapline_service.sheets.drawing import Anchor, Circle, Line, Point, Text
from snapline_service.sheets.lettering import ASCENT, LINE_PITCH, Lettered, text_width_mm
from snapline_service.sheets.plan import Plan
from snapline_service.sheets.space import Spot, Terms

ANYWHERE_MM = 1000.0
_DOT_MM = 0.5
_PARTS_OF_A_LINE = 16


@dataclass(frozen=True, slots=True)
class Manner:
    """How lettering may be placed: how far off, over how much drawing, with what margin about it.

    A leader to a surface ends in a dot, one to a line just ends (ISO 128-2); what needs none has none.
    """

    reach_mm: float
    most_covered: float
    margin_mm: float
    leader_to: Literal["surface", "line", "nothing"]


LABEL = Manner(60.0, most_covered=25.0, margin_mm=1.5, leader_to="surface")
MARK = Manner(30.0, most_covered=25.0, margin_mm=0.6, leader_to="line")
LINE_NAME = Manner(14.0, most_covered=12.0, margin_mm=0.6, leader_to="line")
ZONE_NAME = Manner(14.0, most_covered=12.0, margin_mm=0.6, leader_to="surface")


def call_out(
    plan: Plan,
    lines: tuple[Lettered, ...],
    targets: tuple[Point, ...],
    manner: Manner,
    *,
    name: str,
    within: int | None = None,
) -> bool:
    """Letter some lines beside the nearest target; False, with nothing drawn, where no place is free.

    A label's leader goes around the fixtures, a foot's around all but the one that it stands ``within``.
    """
    margin = manner.margin_mm
    width_mm = max(text_width_mm(line.text, line.size_mm, bold=line.bold) for line in lines)
    height_mm = sum(line.size_mm for line in lines[:-1]) * LINE_PITCH + lines[-1].size_mm
    size_mm = (width_mm + 2 * margin, height_mm + 2 * margin)
    spot = plan.space.spot(size_mm, targets, terms_for(plan, manner, within))
    if spot is None:
        return False
    (x, anchor), y = _where_led(spot, margin), spot.box.y_min + margin
    for line in lines:
        at = (x, y + line.size_mm * ASCENT)
        plan.draw(Text(at, line.text, line.size_mm, anchor, bold=line.bold, name=name))
        y += line.size_mm * LINE_PITCH
    plan.space.letter(spot.box)
    lead(plan, spot, manner)
    return True


def _where_led(spot: Spot, margin_mm: float) -> tuple[float, Anchor]:
    """Return where lettering is set: towards its leader, as the reader's font may be narrower than ours."""
    box = spot.box
    share = (spot.leader[0][0] - box.x_min) / (box.x_max - box.x_min) if spot.leader else 0.0
    if share > 2.0 / 3.0:
        return box.x_max - margin_mm, "end"
    if share > 1.0 / 3.0:
        return (box.x_min + box.x_max) / 2.0, "middle"
    return box.x_min + margin_mm, "start"


def terms_for(plan: Plan, manner: Manner, within: int | None = None) -> Terms:
    """Give the terms for a place by a manner."""
    walls = plan.footprints(besides=within) if manner is LABEL or within else ()
    return Terms(manner.reach_mm, manner.most_covered, walls)


def lead(plan: Plan, spot: Spot, manner: Manner) -> None:
    """Draw the leader that a place needs, if it does."""
    if spot.leader and manner.leader_to != "nothing":
        plan.items.append(Line(*spot.leader))
        if manner.leader_to == "surface":
            plan.items.append(Circle(spot.leader[1], _DOT_MM, None, "solid"))
        plan.space.lead(*spot.leader)


def on_ring(centre: Point, radius_mm: float) -> tuple[Point, ...]:
    """Give points of a ring for a leader to end on."""
    turns = [math.radians(45.0 * i) for i in range(8)]
    return tuple((centre[0] + radius_mm * math.cos(t), centre[1] + radius_mm * math.sin(t)) for t in turns)


def on_edges(outline: tuple[Point, ...]) -> tuple[Point, ...]:
    """Give points of an outline for a leader to end on, its corners left out."""
    return tuple(
        (a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part)
        for a, b in zip(outline, outline[1:] + outline[:1], strict=True)
        for part in (0.25, 0.5, 0.75)
    )


def inside(outline: tuple[Point, ...]) -> tuple[Point, ...]:
    """Give points well inside a convex outline, its middle first."""
    xs, ys = zip(*outline, strict=True)
    x, y = sum(xs) / len(xs), sum(ys) / len(ys)
    return ((x, y), *((x + (a - x) * 0.6, y + (b - y) * 0.6) for a, b in on_edges(outline)))


def along(start: Point, end: Point) -> tuple[Point, ...]:
    """Give points along a line, its ends left out."""
    parts = [i / _PARTS_OF_A_LINE for i in range(1, _PARTS_OF_A_LINE)]
    return tuple((start[0] + (end[0] - start[0]) * p, start[1] + (end[1] - start[1]) * p) for p in parts)
