"""The names of the things on a plan, each lettered at the thing itself."""

from snapline_service.sheets.callout import (
    ANYWHERE_MM,
    LINE_NAME,
    MARK,
    ZONE_NAME,
    Manner,
    along,
    call_out,
    inside,
    on_ring,
)
from snapline_service.sheets.drawing import Anchor, Point, Text
from snapline_service.sheets.features import (
    FOOT_RING_MM,
    MARK_ARM_MM,
    SENSOR_RING_MM,
    aim_line_ends,
    centreline_ends,
    is_centreline,
    vehicle_corners,
)
from snapline_service.sheets.lettering import ASCENT, Box, Lettered, text_box, wrap
from snapline_service.sheets.moving import height_band
from snapline_service.sheets.plan import Plan

WORD_MM, MARK_MM = 2.8, 3.5
_LONGEST_WORD_MM = 62.0
_INWARD_MM, _ASIDE_MM = (1.5, 4.0, 7.0), (0.0, 12.0, -12.0)  # where else a side's name may stand
_CONFESSION = Manner(ANYWHERE_MM, most_covered=6.0, margin_mm=0.6, leader_to="nothing")


def name_lines(plan: Plan) -> None:
    """Name the centreline and the aim lines."""
    aims = plan.scene.aim_lines
    text = "aim line: centreline" if any(is_centreline(line) for line in aims) else "centreline"
    _word(plan, text, along(*centreline_ends(plan)), "vehicle.centreline.name")
    for number, line in enumerate(aims, start=1):
        if not is_centreline(line):
            targets = along(*aim_line_ends(plan, line))
            _word(plan, f"aim line: {line.name}", targets, f"aim_line.{number}.name")


def name_sides(plan: Plan) -> None:
    """Say inside the outline which end is the front and which side is the left, where it has the room."""
    front_left, _, rear_right, _ = plan.on.outline(vehicle_corners(plan.scene.vehicle))
    body = Box(rear_right[0], front_left[1], front_left[0], rear_right[1])
    middle_x, middle_y = (body.x_min + body.x_max) / 2, (body.y_min + body.y_max) / 2
    high, low = middle_y - 1.5, middle_y + 1.5 + ASCENT * WORD_MM
    top, bottom = body.y_min + 1.2 + ASCENT * WORD_MM, body.y_max - 1.8
    sides: tuple[tuple[str, Anchor, tuple[Point, ...]], ...] = (
        ("FRONT", "end", tuple((body.x_max - in_mm, y) for in_mm in _INWARD_MM for y in (high, low))),
        ("REAR", "start", tuple((body.x_min + in_mm, y) for in_mm in _INWARD_MM for y in (high, low))),
        ("LEFT SIDE", "middle", tuple((middle_x + x, top) for x in _ASIDE_MM)),
        ("RIGHT SIDE", "middle", tuple((middle_x + x, bottom) for x in _ASIDE_MM)),
    )
    for text, anchor, places in sides:
        items = [Text(at, text, WORD_MM, anchor, name="vehicle.side") for at in places]
        free = [i for i in items if body.holds(text_box(i)) and plan.space.is_free(text_box(i))]
        if free:
            plan.draw(min(free, key=lambda item: plan.space.covered(text_box(item))))


def name_sensors(plan: Plan) -> None:
    """Name the sensors."""
    for number, sensor in enumerate(plan.scene.sensors, start=1):
        targets = on_ring(plan.on.paper((sensor.x_mm, sensor.y_mm)), SENSOR_RING_MM)
        _word(plan, sensor.name, targets, f"sensor.{number}.name")


def name_marks(plan: Plan) -> None:
    """Letter the marks, larger than other names: tapes are told apart by them."""
    for number, mark in enumerate(plan.scene.marks, start=1):
        lettered = (Lettered(mark.name, MARK_MM, bold=True),)
        targets = on_ring(plan.on.paper((mark.x_mm, mark.y_mm)), MARK_ARM_MM)
        if not call_out(plan, lettered, targets, MARK, name=f"mark.{number}.name"):
            plan.left_out.append(f"mark {mark.name}")


def name_clear_zones(plan: Plan) -> None:
    """Say inside each clear zone what it asks."""
    for number, fixture in enumerate(plan.scene.fixtures, start=1):
        if fixture.clear_zone:
            targets = inside(plan.on.outline(fixture.clear_zone))
            _word(plan, "keep clear", targets, f"fixture.{number}.clear_zone.name", ZONE_NAME)


def name_feet(plan: Plan) -> None:
    """Name the feet of every fixture."""
    for number, fixture in enumerate(plan.scene.fixtures, start=1):
        for foot_number, foot in enumerate(fixture.feet, start=1):
            targets = on_ring(plan.on.paper((foot.x_mm, foot.y_mm)), FOOT_RING_MM)
            name = f"fixture.{number}.foot.{foot_number}.name"
            _word(plan, foot.name, targets, name, within=number)


def confess(plan: Plan) -> None:
    """Say beneath the plan which names found no room, so that nobody thinks the things missing."""
    if plan.left_out:
        limits, (_, lowest) = plan.space.limits, height_band(plan.items)
        text = "No room here for: " + ", ".join(dict.fromkeys(plan.left_out))
        line = wrap(text, WORD_MM, (limits.x_max - limits.x_min) / 2, most_lines=1)[0]
        beneath = (limits.x_min, min(limits.y_max, lowest + 2 * WORD_MM))
        call_out(plan, (Lettered(line, WORD_MM),), (beneath,), _CONFESSION, name="left_out")


def _word(
    plan: Plan,
    words: str,
    targets: tuple[Point, ...],
    name: str,
    manner: Manner = LINE_NAME,
    *,
    within: int | None = None,
) -> None:
    lines = tuple(Lettered(line, WORD_MM) for line in wrap(words, WORD_MM, _LONGEST_WORD_MM, most_lines=1))
    if lines and not call_out(plan, lines, targets, manner, name=name, within=within):
        plan.left_out.append(lines[0].text)
