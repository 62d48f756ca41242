"""The car and its fixtures in place in a bay, as a section of the visit's sheet."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor
from typing import Any

import msgspec
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from snapline.offline import RevisionFile
from snapline.wire.common import Point
from snapline.wire.setups import PlacedFixture, PlacementChoice, Setup, SetupRequest
from snapline.wire.sites import Bay, Obstacle
from snapline.wire.visits import PlannedPose, SitePlan, VisitPlan
from snapline_service.setups.actions import compute
from snapline_service.setups.wording import length
from snapline_service.sheets.bay_view import BayScene, Door, Shape, bay_drawing
from snapline_service.sheets.document import Column, Section, Table
from snapline_service.visits.bringing_in import TapedPoints, in_bay, table, taped_points

_HALF_FOOT_MM = 60.0  # half the side of the square that stands for a fixture of unknown outline
_AGREES_MM = 1.0


def bay_section(
    file: RevisionFile, plan: VisitPlan, at: tuple[SitePlan, PlannedPose], bay: Bay, code: str
) -> Section:
    """Return the page of one pose: the bay from above, and what its numbers mean."""
    site, pose = at
    setups = [compute(file, _request(plan, site, pose, name)) for name in pose.procedures]
    standing = _standing(setups, site)
    taped = taped_points(setups[0], pose, bay)
    scene = _scene(setups[0], standing, (pose, taped), bay)
    rows = [("1", plan.vehicle_name, "", ""), *(_row(n, one) for n, one in enumerate(standing, 2))]
    obstacles = enumerate(bay.obstacles, len(standing) + 2)
    rows += [(str(number), obstacle.name, "", _where(obstacle)) for number, obstacle in obstacles]
    columns = (Column("No.", 8), Column("What", 48), Column("For", 40), Column("Where", 72))
    in_the_bay = Table("In the bay", columns, tuple(rows), least_distance(scene, pose.margin_mm))
    tables = (table(taped), in_the_bay) if taped else (in_the_bay,)
    return Section(f"{pose.bay_name}: where the car stands", code, tables, bay_drawing(scene))


@dataclass(frozen=True, slots=True)
class _Standing:
    """A fixture in one place, for one stage or for several in which it stands there."""

    item: PlacedFixture
    serials: tuple[str, ...]
    uses: tuple[str, ...]  # the procedure of each stage

    @property
    def place(self) -> tuple[object, ...]:
        """Tell what stands where: equal for the same fixture that keeps its place."""
        at = self.item.in_vehicle
        return self.serials, round(at.x_mm), round(at.y_mm), round(at.z_mm), round(at.yaw_deg, 1)


def _standing(setups: Sequence[Setup], site: SitePlan) -> list[_Standing]:
    """Return what stands in the bay, once where the same fixture keeps its place from stage to stage."""
    serials: dict[tuple[str, str], tuple[str, ...]] = {}
    for used in site.assets:
        at = used.procedure, used.placement
        serials[at] = (*serials.get(at, ()), used.serial)
    found: dict[object, _Standing] = {}
    for setup in setups:
        for item in (item for stage in setup.stages for item in stage.placements):
            own = serials.get((setup.procedure_id, item.id), ())
            one = _Standing(item, own, (setup.procedure_name,))
            same = found.get(one.place) if own else None
            key = one.place if own else id(item)
            found[key] = replace(same, uses=(*same.uses, *one.uses)) if same else one
    return list(found.values())


def _row(number: int, one: _Standing) -> tuple[str, str, str, str]:
    uses = dict.fromkeys(one.uses)
    kept = " In the stage after it still standing: do not move." if len(uses) < len(one.uses) else ""
    return str(number), _name(one.item), "; ".join(uses), f"{one.item.sentence}{kept}"


def _where(obstacle: Obstacle) -> str:
    if not obstacle.z_min_mm:
        return "in the bay"
    low = f"{obstacle.z_min_mm:,.0f}"
    span = f"from {low} mm" if obstacle.z_max_mm is None else f"{low} to {obstacle.z_max_mm:,.0f} mm"
    return f"overhead, {span} above the floor: mind tall stands, tailgate and lifting"


def _request(plan: VisitPlan, site: SitePlan, pose: PlannedPose, procedure: str) -> SetupRequest:
    chosen: dict[str, dict[str, Any]] = {}
    for used in site.assets:
        if used.procedure == procedure:
            chosen.setdefault(used.placement, {})[f"{used.role}_id"] = used.fixture
    for distance in pose.distances:
        if distance.procedure == procedure:
            chosen.setdefault(distance.placement, {})["along_distance_mm"] = distance.along_distance_mm
    return SetupRequest(
        vehicle_id=plan.vehicle_id,
        procedure_id=procedure,
        placements={name: msgspec.convert(fields, PlacementChoice) for name, fields in chosen.items()},
        by_property=any(used.match == "by_property" for used in site.assets),
    )


def _scene(
    setup: Setup, standing: Sequence[_Standing], placed: tuple[PlannedPose, TapedPoints | None], bay: Bay
) -> BayScene:
    pose, taped = placed[0].pose, placed[1]
    car, items = setup.vehicle, [one.item for one in standing]
    rear_mm = -(car.rear_overhang_mm or 0.0)
    front_mm = (car.wheelbase_mm or 0.0) + (car.front_overhang_mm or 0.0)
    half_mm = (car.width_mm or 0.0) / 2
    outline = ((rear_mm, -half_mm), (front_mm, -half_mm), (front_mm, half_mm), (rear_mm, half_mm))
    return BayScene(
        name=bay.name,
        ring=bay.ring,
        doors=tuple(Door(door.name, door.start, door.end) for door in bay.doors),
        obstacles=tuple(
            Shape(one.polygon, str(n), one.name, overhead=bool(one.z_min_mm))
            for n, one in enumerate(bay.obstacles, len(items) + 2)
        ),
        vehicle=Shape(in_bay(outline, pose), "1", "the car"),
        tail=in_bay(((rear_mm, 0.0),), pose)[0],
        nose=in_bay(((front_mm, 0.0),), pose)[0],
        taped=taped.points if taped else (),
        fixtures=tuple(
            Shape(in_bay(_outline(item), pose), str(n), _name(item)) for n, item in enumerate(items, 2)
        ),
        clear_zones=tuple(
            Shape(in_bay(item.clear_zone, pose), name=f"the clear zone of {_name(item)}")
            for item in items
            if item.clear_zone
        ),
    )


def least_distance(scene: BayScene, margin_mm: float) -> str:
    """Say how near anything comes to a wall or obstacle, and which to which where the drawing shows it."""
    said = f"The least distance to a wall or obstacle is {length(floor(margin_mm))}"
    parts = (scene.vehicle, *scene.fixtures, *scene.clear_zones)
    corners = (*scene.ring[1:], scene.ring[0])
    walls = enumerate(zip(scene.ring, corners, strict=True), 1)
    limits: list[tuple[str, BaseGeometry]] = [(f"wall {number}", LineString(wall)) for number, wall in walls]
    limits += [(shape.name, Polygon(shape.points)) for shape in scene.obstacles if not shape.overhead]
    found = [
        (Polygon(part.points).distance(limit), part.name, name) for part in parts for name, limit in limits
    ]
    near_mm, part, limit = min(found)
    # Something that the drawing does not show may come nearer: margins beside the car, what hangs.
    return f"{said}: {part} to {limit}." if abs(near_mm - margin_mm) <= _AGREES_MM else f"{said}."


def _outline(item: PlacedFixture) -> tuple[Point, ...]:
    if item.footprint:
        return item.footprint
    x, y, half = item.in_vehicle.x_mm, item.in_vehicle.y_mm, _HALF_FOOT_MM
    return (x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)


def _name(item: PlacedFixture) -> str:
    names = [one.name for one in (item.fixture, item.carrier) if one]
    return ", on ".join(names) or item.capability.replace("_", " ")
