"""A stage of a setup as a plan drawing, to scale."""

from collections.abc import Iterator

from snapline.wire.setups import PlacedFixture, Setup, SetupStage
from snapline_service import geometry
from snapline_service.errors import InvalidValue, MissingDimension, UnknownName
from snapline_service.faults import nearest
from snapline_service.setups import wording
from snapline_service.setups.translation import placement_of, sensors_of
from snapline_service.sheets import scene
from snapline_service.sheets.plan_view import plan_view
from snapline_service.sheets.svg import to_svg


def draw(setup: Setup, stage_id: str | None) -> str:
    """Return one stage of a setup as SVG.

    Raises InvalidValue if nothing stands on the floor, UnknownName, or MissingDimension if a dimension of
    the vehicle is not known.
    """
    stage = _stage(setup, stage_id)
    if stage.extent is None or setup.unknown_dimensions:
        name = setup.unknown_dimensions[0]
        detail = f"The vehicle cannot be drawn: {name} is not known."
        raise MissingDimension(
            detail, pointer=f"/measured/{name}", mend="Measure it and give it as measured."
        )
    vehicle = geometry.VehicleGeometry(
        **{name: getattr(setup.vehicle, name) for name in _PLAIN}, sensors=sensors_of(setup.vehicle.sensors)
    )
    return to_svg(plan_view(_scene(setup, stage, stage.extent, vehicle)))


_DIMENSIONS = (
    "wheelbase_mm",
    "front_track_mm",
    "rear_track_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "width_mm",
)
_PLAIN = (*_DIMENSIONS, "thrust_yaw_deg")


def _stage(setup: Setup, stage_id: str | None) -> SetupStage:
    if not setup.stages:
        detail = f"A {setup.method.replace('_', ' ')} procedure puts nothing on the floor."
        raise InvalidValue(detail, pointer="/procedure_id", mend="Ask for it as application/json.")
    stages = {stage.id: stage for stage in setup.stages}
    if stage_id is None:
        return setup.stages[0]
    if stage_id not in stages:
        detail = f"The procedure has no stage '{stage_id}'."
        raise UnknownName(detail, pointer="/drawn_stage", mend=nearest(stage_id, list(stages)))
    return stages[stage_id]


def _scene(
    setup: Setup, stage: SetupStage, extent: object, vehicle: geometry.VehicleGeometry
) -> scene.PlanScene:
    room = scene.Extent(*(getattr(extent, f"{side}_mm") for side in ("x_min", "x_max", "y_min", "y_max")))
    warnings = [*setup.assumed, *(f"Unchecked: {place}" for place in setup.unchecked)]
    warnings += [
        f"{item.fixture.name}: not named by the source"
        for item in stage.placements
        if item.fixture and item.fixture.match == "by_property"
    ]
    return scene.PlanScene(
        title_lines=(setup.vehicle_name, setup.procedure_name, f"Stage: {stage.name}"),
        vehicle=scene.VehicleOutline(**{name: getattr(vehicle, name) for name in _DIMENSIONS}),
        fixtures=tuple(_fixture(item, vehicle) for item in stage.placements),
        extent=room,
        sensors=tuple(
            scene.SensorView(name.replace("_", " "), sensor.x_mm, sensor.y_mm, sensor.yaw_deg)
            for name, sensor in vehicle.sensors.items()
        ),
        aim_lines=tuple(_aim_lines(stage, vehicle)),
        revision_text=f"Catalogue revision {setup.catalogue_revision}",
        banner=" · ".join(_banner(setup)),
        stops=setup.stops_work,
        warnings=tuple(warnings),
        cautions=tuple(caution.text for caution in setup.cautions),
    )


def _banner(setup: Setup) -> Iterator[str]:
    if setup.stops_work:
        yield "DO NOT AIM THE CAR AS IT STANDS"
    if setup.invented:
        yield "INVENTED DATA"


def _fixture(item: PlacedFixture, vehicle: geometry.VehicleGeometry) -> scene.FixtureView:
    pose, placement = item.in_vehicle, placement_of(item.placement)
    aim_yaw_deg = pose.yaw_deg - item.placement.yaw_deg
    name = item.fixture.name if item.fixture else f"{item.capability.replace('_', ' ')} (no fixture)"
    reference = item.fixture.reference_point if item.fixture else "reference point"
    along_text = wording.along(item.placement, aim_yaw_deg)
    lateral_text = wording.lateral(item.placement, aim_yaw_deg)
    return scene.FixtureView(
        label=f"{item.id.replace('_', ' ').replace('-', ' ')}: {name}",
        reference=(pose.x_mm, pose.y_mm),
        facing_deg=pose.yaw_deg,
        along=_distance(vehicle, placement, "along", along_text),
        lateral=_distance(vehicle, placement, "lateral", lateral_text) if lateral_text else None,
        height_text=wording.height(item.placement, reference),
        footprint=item.footprint,
        feet=tuple(scene.Foot(foot.name, foot.x_mm, foot.y_mm) for foot in item.feet),
        clear_zone=item.clear_zone,
    )


def _distance(
    vehicle: geometry.VehicleGeometry, placement: geometry.Placement, which: geometry.Which, text: str
) -> scene.Distance:
    line = geometry.dimension_line(vehicle, placement, which)
    return scene.Distance(line.start, line.end, text)


def _aim_lines(stage: SetupStage, vehicle: geometry.VehicleGeometry) -> list[scene.AimLine]:
    names = dict.fromkeys(item.placement.aim_line for item in stage.placements)
    lines = []
    for name in names:
        if name.startswith("sensor:"):
            sensor = vehicle.sensors[name.removeprefix("sensor:")]
            label = f"axis of {name.removeprefix('sensor:').replace('_', ' ')}"
            lines.append(scene.AimLine(label, sensor.x_mm, sensor.y_mm, sensor.yaw_deg, starts_at_point=True))
        else:
            yaw_deg = vehicle.thrust_yaw_deg if name == "thrust_line" else 0.0
            lines.append(scene.AimLine(name.replace("_", " "), 0.0, 0.0, yaw_deg))
    return lines
