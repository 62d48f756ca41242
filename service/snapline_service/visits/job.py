"""What a visit asks for at any site: the car, its needs, and the room that each procedure takes."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

import msgspec
from shapely import MultiPoint, Polygon

from snapline.offline import RevisionFile
from snapline.wire.catalogue import DistanceRange, FixtureDocument, FixturePlacement, Procedure
from snapline.wire.scope import Scope
from snapline.wire.setups import SetupRequest
from snapline.wire.vehicles import Vehicle
from snapline.wire.visits import Blocker, UsedAsset, VisitRequest
from snapline_service import geometry
from snapline_service.errors import InvalidValue, MissingDimension
from snapline_service.fixtures.shelf import shelf_of
from snapline_service.geometry import Point, Pose, bay_fit
from snapline_service.geometry.axes import turned
from snapline_service.geometry.bay_fit import Part
from snapline_service.setups.inputs import gather
from snapline_service.setups.outlines import clear_zone
from snapline_service.setups.thrust_limit import beyond_limit
from snapline_service.setups.translation import placement_of
from snapline_service.visits.choices import Need
from snapline_service.visits.operations import operations_of
from snapline_service.visits.stock import Lack, Mend

_BESIDE_MM = 100.0  # on either side of the car as it comes in: mirrors (common practice, no source)
_FOOT_MM = 20.0  # half the side of the square that stands for a fixture of unknown outline
_Stands = tuple[FixtureDocument, ...]


class Job:
    """One visit's work. Poses and room are worked out once, whatever the number of sites."""

    def __init__(
        self, file: RevisionFile, request: VisitRequest, vehicle: Vehicle, scope: Scope, needs: Sequence[Need]
    ) -> None:
        self.file = file
        self.request = request
        self.vehicle = vehicle
        self.scope = scope
        self.needs = needs
        self.shelf = shelf_of(file)
        known = {procedure.id: procedure for procedure in vehicle.procedures}
        names = (name for need in needs for way in need.requirement.alternatives for name in way.procedures)
        measured = SetupRequest(
            vehicle_id=vehicle.id,
            procedure_id="visit",
            measured=request.measured,
            standard_uncertainty=request.standard_uncertainty,
        )
        self._geometry = gather(vehicle, measured).vehicle
        self._beyond_limit = beyond_limit(vehicle, self._geometry.thrust_yaw_deg)
        if self._beyond_limit:  # once the wheels are aligned the reading holds no longer
            self._geometry = replace(self._geometry, thrust_yaw_deg=0.0)
        self.procedures = {name: self._behind_alignment(known[name]) for name in dict.fromkeys(names)}
        self._poses: dict[tuple[str, str], Pose] = {}
        self._rooms: dict[tuple[str, bool, tuple[str, ...]], bay_fit.Procedure] = {}
        self.stopped = {name: self._missing(procedure) for name, procedure in self.procedures.items()}

    def alignment_first(self, taken: Iterable[Procedure]) -> str:
        """Return in a sentence why wheels are aligned before aiming; nothing where they need not be."""
        if not self._beyond_limit or all(procedure.method != "static" for procedure in taken):
            return ""
        return f"{self._beyond_limit}: align the wheels first, measure again, and aim only inside the limit."

    def spots(self) -> dict[tuple[str, str], str]:
        """Return where every placement is, as text that is equal for what stands in the very same place."""
        return {
            place: f"{pose.x_mm:.0f} {pose.y_mm:.0f} {pose.z_mm:.0f} {pose.yaw_deg:.1f}"
            for place, pose in self._poses.items()
        }

    def room_for(self, procedure: Procedure, used: Sequence[UsedAsset], *, slack: bool) -> bay_fit.Procedure:
        """Return everything that takes up room while a procedure is done, in the vehicle's own axes.

        With ``slack`` a placement that the source gives a range of distance may stand anywhere in it. A place
        that nothing is at hand for takes the room of the first fixture that would serve.
        """
        at_hand = {(one.placement, one.role): one.fixture for one in used if one.procedure == procedure.id}
        items = [item for stage in procedure.stages for item in stage.placements]
        stands = [(item, self._stands(item, at_hand)) for item in items]
        key = (procedure.id, slack, tuple(fixture.id for _, fixtures in stands for fixture in fixtures))
        if key not in self._rooms:
            self._rooms[key] = self._room(procedure, stands, slack=slack)
        return self._rooms[key]

    def _room(
        self, procedure: Procedure, stands: Sequence[tuple[FixturePlacement, _Stands]], *, slack: bool
    ) -> bay_fit.Procedure:
        parts = [self._body(), *self._margins(procedure)]
        sliding = []
        for item, fixtures in stands:
            if slack and item.range:
                sliding.append(self._sliding(procedure, item, fixtures))
            else:
                parts += _fixture_parts(item, fixtures, self._poses[procedure.id, item.id])
        ways_in = bay_fit.ways_in(
            geometry.vehicle_outline(self._geometry),
            beside_mm=_BESIDE_MM,
            height_mm=self.vehicle.dimensions.height_mm,
        )
        return bay_fit.Procedure(procedure.id, tuple(parts), tuple(sliding), ways_in)

    def _sliding(self, procedure: Procedure, item: FixturePlacement, fixtures: _Stands) -> bay_fit.Sliding:
        """Return what stands at a placement at its least distance, and how far it may be moved on."""
        pose, aim_yaw_deg = self._poses[procedure.id, item.id], self._aim_yaw_deg(procedure, item)
        span = item.range or DistanceRange(min_mm=0, max_mm=0)
        back_mm, on_mm = span.min_mm - item.placement.along.distance_mm, span.max_mm - span.min_mm
        dx_mm, dy_mm = turned((back_mm, 0.0), aim_yaw_deg)
        nearest = replace(pose, x_mm=pose.x_mm + dx_mm, y_mm=pose.y_mm + dy_mm)
        parts = tuple(_fixture_parts(item, fixtures, nearest))
        return bay_fit.Sliding(item.id, parts, turned((on_mm, 0.0), aim_yaw_deg))

    def _aim_yaw_deg(self, procedure: Procedure, item: FixturePlacement) -> float:
        return self._poses[procedure.id, item.id].yaw_deg - item.placement.yaw_deg

    def cure_min(self) -> float:
        """Return how long the adhesive still cures when the visit begins.

        Raises InvalidValue for more than the whole, unless a line that is not understood may ask for it.
        """
        operations = operations_of(self.file).by_id
        cures = [operations[line.operation].cure_wait_min or 0.0 for line in self.scope.operations]
        whole_min, left_min = max(cures, default=0.0), self.request.cure_left_min
        if left_min is None:
            return whole_min
        if left_min > whole_min and not self.scope.unknown_operations:
            detail = f"{left_min:g} min are more than the adhesive's whole cure of {whole_min:g} min."
            mend = f"Give what is left of it, at most {whole_min:g}; or leave it out and the whole is waited."
            raise InvalidValue(detail, pointer="/cure_left_min", mend=mend)
        return left_min

    def _behind_alignment(self, procedure: Procedure) -> Procedure:
        """Return a procedure, which waits for the wheels where the thrust line lets nothing be aimed."""
        if not self._beyond_limit or procedure.method != "static":
            return procedure
        return msgspec.structs.replace(procedure, after_steps=(*procedure.after_steps, "wheel_alignment"))

    def _missing(self, procedure: Procedure) -> list[Lack]:
        """Place everything; return the dimension that nobody has given and that a placement needs."""
        if procedure.method != "static":
            return []
        try:
            self._body()
            for stage in procedure.stages:
                for item in stage.placements:
                    placed = geometry.place(self._geometry, placement_of(item.placement))
                    self._poses[procedure.id, item.id] = placed.in_vehicle
        except MissingDimension as error:
            name = error.pointer.replace("/", ".").removeprefix(".")
            text = f"{error.detail} Measure it on the car and give it as measured '{name}'."
            blocker = Blocker(kind="missing_dimension", text=text, subject=name, procedure=procedure.id)
            return [Lack((blocker,), (Mend("measure", name, f"Measure {name} on the car."),))]
        return []

    def _stands(self, item: FixturePlacement, at_hand: Mapping[tuple[str, str], str]) -> _Stands:
        found = []
        for role, need in (("fixture", item.need), ("carrier", item.carrier)):
            if need is not None:
                serving = (*need.named, *self.shelf.matches(need))
                name = at_hand.get((item.id, role), next(iter(serving), ""))
                found += [self.shelf.fixtures[name]] if name in self.shelf.fixtures else []
        return tuple(found)

    def _body(self) -> Part:
        outline = geometry.vehicle_outline(self._geometry)
        return Part("the car", "solid", outline, 0.0, self.vehicle.dimensions.height_mm)

    def _margins(self, procedure: Procedure) -> Iterator[Part]:
        margins_mm = [stage.walking_margin_mm for stage in procedure.stages if stage.walking_margin_mm]
        if margins_mm:
            round_mm = max(margins_mm)
            (rear, right), _, (front, left), _ = geometry.vehicle_outline(self._geometry)
            rear, right, front, left = rear - round_mm, right - round_mm, front + round_mm, left + round_mm
            ring = ((rear, right), (front, right), (front, left), (rear, left))
            yield Part("the way round the car", "walking_margin", ring)


def _fixture_parts(item: FixturePlacement, fixtures: _Stands, pose: Pose) -> Iterator[Part]:
    name = item.id.replace("_", " ").replace("-", " ")
    for fixture in fixtures:
        yield Part(f"{name}: {fixture.name}", "solid", _outline(fixture, pose), 0.0, fixture.top_mm)
    if not fixtures:
        yield Part(name, "solid", _square(pose))
    if item.clear_zone:
        yield Part(f"clear zone of {name}", "clear_zone", clear_zone(item.clear_zone, pose))


def _outline(fixture: FixtureDocument, pose: Pose) -> tuple[Point, ...]:
    """Return the convex outline of what a fixture covers: its footprint, else its feet."""
    corners = fixture.footprint or tuple((foot.x_mm, foot.y_mm) for foot in fixture.feet)
    if not corners:
        return _square(pose)
    hull = MultiPoint(corners).convex_hull
    if not isinstance(hull, Polygon):  # feet in one line
        hull = hull.buffer(_FOOT_MM, cap_style="square", join_style="mitre")
    return geometry.footprint([(x_mm, y_mm) for x_mm, y_mm in hull.exterior.coords[:-1]], pose)


def _square(pose: Pose) -> tuple[Point, ...]:
    f = _FOOT_MM
    return geometry.footprint(((-f, -f), (f, -f), (f, f), (-f, f)), pose)
