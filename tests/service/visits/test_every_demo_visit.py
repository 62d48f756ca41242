"""Every demo vehicle at every demo site: the plan works or says why not, and what it says is checked anew.

The checks use the setup of each procedure and shapely, not the planner's own geometry: whatever stands is
inside the bay and off its obstacles, and the order keeps what the catalogue asks.
"""

from collections.abc import Iterator
from itertools import pairwise

import msgspec
import pytest
from shapely import Polygon
from shapely.affinity import rotate, translate

from service.catalogue.demo import SITES
from snapline.offline import RevisionFile
from snapline.wire.catalogue import Procedure
from snapline.wire.setups import PlacedFixture, PlacementChoice, SetupRequest
from snapline.wire.sites import Bay
from snapline.wire.vehicles import Vehicle
from snapline.wire.visits import PlannedPose, SitePlan, VisitPlan
from snapline_service.setups.actions import compute

CONTACT_MM = 0.5  # what touches fits
Shape = tuple[Polygon, float, float | None]  # with the heights of its foot and its top


def test_every_site_is_planned_and_none_is_silent(planned: tuple[Vehicle, VisitPlan]) -> None:
    _, made = planned
    assert {site.site for site in made.sites} == {site.id for site in SITES}
    for site in made.sites:
        for way in site.ways:
            assert way.because
            for rejected in way.rejected:
                assert rejected.because
                if way.alternative is None:
                    assert rejected.blockers
                    assert all(blocker.text for blocker in rejected.blockers)
        if site.outcome == "cannot":
            assert site.remedies, "there is always another workshop"
            assert site.remedies_effort_min == sum(remedy.effort_min for remedy in site.remedies)


def test_assets_are_the_sites_own_in_service_and_in_date_and_never_in_two_places(
    planned: tuple[Vehicle, VisitPlan],
) -> None:
    _, made = planned
    for site in made.sites:
        own = {asset.id: asset for asset in next(s for s in SITES if s.id == site.site).assets}
        for used in site.assets:
            asset = own[used.asset]
            assert asset.fixture == used.fixture
            assert asset.condition == "in_service"
            assert asset.checked_until is None or asset.checked_until >= made.date
        at_once = [(used.procedure, used.stage, used.asset) for used in site.assets]
        assert len(at_once) == len(set(at_once))


def test_whatever_stands_is_inside_the_bay_and_off_its_obstacles(
    planned: tuple[Vehicle, VisitPlan], file: RevisionFile
) -> None:
    vehicle, made = planned
    procedures = {one.id: one for one in vehicle.procedures}
    for site in made.sites:
        bays = {bay.id: bay for bay in next(s for s in SITES if s.id == site.site).bays}
        for pose in site.poses:
            for name in pose.procedures:
                standing = _standing(vehicle, procedures[name], site, pose, file)
                _check_pose(name, pose, bays[pose.bay], standing)


def test_every_static_procedure_has_a_pose_and_every_step_its_own(planned: tuple[Vehicle, VisitPlan]) -> None:
    vehicle, made = planned
    static = {one.id for one in vehicle.procedures if one.method == "static"}
    for site in made.sites:
        taken = {name for way in site.ways for name in way.procedures}
        assert taken & static <= {name for pose in site.poses for name in pose.procedures}
        for step in site.steps:
            if step.kind == "procedure" and step.procedure in static:
                assert step.pose is not None
                assert step.procedure in site.poses[step.pose].procedures


def test_the_order_keeps_what_the_catalogue_asks(
    planned: tuple[Vehicle, VisitPlan], file: RevisionFile
) -> None:
    vehicle, made = planned
    procedures = {one.id: one for one in vehicle.procedures}
    cures = [file.operations()[line.operation].cure_wait_min or 0 for line in made.scope.operations]
    for site in made.sites:
        _check_order(site, procedures, max(cures, default=0))


def test_from_when_the_adhesive_cures_is_said(planned: tuple[Vehicle, VisitPlan], file: RevisionFile) -> None:
    """Nobody reads off a timeline that glass bonded later than its start is still soft."""
    _, made = planned
    cures = [file.operations()[line.operation].cure_wait_min or 0 for line in made.scope.operations]
    said = [text for text in made.assumed if "cure" in text]
    longest_min = max(cures, default=0)
    expected = f"taken as done at 07:00; the adhesive then needs {longest_min:g} min"
    assert (expected in " ".join(said)) == bool(longest_min)


def test_whatever_is_stood_up_is_taken_away_before_the_car_leaves(planned: tuple[Vehicle, VisitPlan]) -> None:
    _, made = planned
    for site in made.sites:
        standing: set[str] = set()
        for step in site.steps:
            assert set(step.take_away) | set(step.move) <= standing | set(step.stand_up)
            assert not set(step.take_away) & {*step.stand_up, *step.move} or step.kind == "procedure"
            standing = (standing | set(step.stand_up)) - set(step.take_away)
            assert not standing or step.kind not in ("post_scan", "hand_over")
            assert not standing or step.method != "dynamic"


def test_every_bay_that_serves_nothing_needed_says_what_is_short(planned: tuple[Vehicle, VisitPlan]) -> None:
    _, made = planned
    for site in made.sites:
        homeless = {b.procedure for b in site.blockers if b.kind in ("no_room", "light", "floor")}
        for bay in site.bays:
            assert not homeless & set(bay.serves)
            if homeless:
                assert bay.lacks


def _check_pose(name: str, pose: PlannedPose, bay: Bay, standing: Iterator[Shape]) -> None:
    floor, obstacles = Polygon(bay.ring), [(Polygon(o.polygon), o) for o in bay.obstacles]
    assert pose.pose.heading_deg in bay.headings_deg
    for shape, low_mm, high_mm in standing:
        moved = translate(rotate(shape, pose.pose.heading_deg, origin=(0, 0)), pose.pose.x_mm, pose.pose.y_mm)
        assert floor.buffer(CONTACT_MM).covers(moved), f"{name} in {bay.id}"
        if bay.ceiling_mm and high_mm:
            assert high_mm <= bay.ceiling_mm + CONTACT_MM
        for polygon, obstacle in obstacles:
            apart = (high_mm is not None and high_mm <= obstacle.z_min_mm) or (
                obstacle.z_max_mm is not None and low_mm >= obstacle.z_max_mm
            )
            assert apart or moved.buffer(-CONTACT_MM).disjoint(polygon), f"{name}: {obstacle.name}"


def _standing(
    vehicle: Vehicle, procedure: Procedure, site: SitePlan, pose: PlannedPose, file: RevisionFile
) -> Iterator[Shape]:
    """Yield the car and the footprints of what stands beside it, from the procedure's setup."""
    size = vehicle.dimensions
    assert size.wheelbase_mm
    assert size.width_mm
    rear, front = -(size.rear_overhang_mm or 0), size.wheelbase_mm + (size.front_overhang_mm or 0)
    half = size.width_mm / 2
    yield Polygon([(rear, -half), (front, -half), (front, half), (rear, half)]), 0.0, size.height_mm
    for item in _placed(vehicle, procedure, site, pose, file):
        if item.footprint:
            yield Polygon(item.footprint), 0.0, item.top_mm


def _placed(
    vehicle: Vehicle, procedure: Procedure, site: SitePlan, pose: PlannedPose, file: RevisionFile
) -> Iterator[PlacedFixture]:
    chosen: dict[str, dict[str, object]] = {}
    for used in site.assets:
        if used.procedure == procedure.id:
            chosen.setdefault(used.placement, {})[f"{used.role}_id"] = used.fixture
    for distance in pose.distances:
        if distance.procedure == procedure.id:
            chosen.setdefault(distance.placement, {})["along_distance_mm"] = distance.along_distance_mm
    request = SetupRequest(
        vehicle_id=vehicle.id,
        procedure_id=procedure.id,
        placements={name: msgspec.convert(fields, PlacementChoice) for name, fields in chosen.items()},
    )
    for stage in compute(file, request).stages:
        yield from stage.placements


def _check_order(site: SitePlan, procedures: dict[str, Procedure], cure_min: float) -> None:
    kinds = [step.kind for step in site.steps]
    done: dict[str, float] = {}
    for before, after in pairwise(site.steps):
        assert after.start_min == pytest.approx(before.end_min, abs=0.01), "steps follow one another"
    for step in site.steps:
        if step.kind != "procedure" or step.procedure is None:
            continue
        procedure = procedures[step.procedure]
        assert step.end_min - step.start_min >= procedure.duration_min - 0.01
        assert step.people == procedure.people
        for way in site.ways:
            if step.procedure in way.procedures:
                earlier = way.procedures[: way.procedures.index(step.procedure)]
                assert set(earlier) <= done.keys(), "an alternative's procedures stand in order"
        planned = {name for way in site.ways for name in way.procedures}
        assert set(procedure.after_procedures) & planned <= done.keys()
        if procedure.method == "dynamic" or "adhesive_cure" in procedure.after_steps:
            assert step.start_min >= cure_min - 0.01, "the adhesive has cured before the car is driven"
        done[step.procedure] = step.end_min
    taken = {name for way in site.ways for name in way.procedures}
    assert done.keys() == taken, "everything taken is done once"
    if taken:
        first, last = kinds.index("procedure"), len(kinds) - kinds[::-1].index("procedure")
        assert "pre_scan" in kinds[:first]
        assert {"post_scan", "function_check", "hand_over"} <= set(kinds[last:])
        if any("wheel_alignment" in procedures[name].after_steps for name in taken):
            assert "wheel_alignment" in kinds[:first]
        assert site.total_min == pytest.approx(site.steps[-1].end_min)
