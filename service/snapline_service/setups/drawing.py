"""A stage of a setup as a plan drawing, to scale."""

from collections.abc import Iterable, Iterator, Sequence
from string import ascii_lowercase

from snapline.wire.setup_setting_out import PointSettingOut, SetupMark
from snapline.wire.setups import NamedPoint, PlacedFixture, Setup, SetupStage
from snapline_service import geometry
from snapline_service.errors import InvalidValue, MissingDimension, UnknownName
from snapline_service.faults import nearest
from snapline_service.geometry.input_words import input_words, spoken
from snapline_service.setups import wording
from snapline_service.setups.translation import placement_of, sensors_of
from snapline_service.sheets import scene
from snapline_service.sheets.lengths import Units
from snapline_service.sheets.plan_view import plan_view
from snapline_service.sheets.svg import to_svg


def draw(setup: Setup, stage_id: str | None) -> str:
    """Return one stage of a setup as SVG.

    Raises InvalidValue if nothing stands on the floor, UnknownName, or MissingDimension if a dimension of
    the vehicle is not known.
    """
    return to_svg(plan_view(scene_of(setup, _stage(setup, stage_id)), units=setup.units))


def scene_of(setup: Setup, stage: SetupStage) -> scene.PlanScene:
    """Return what a stage's plan shows. Raises MissingDimension if one of the vehicle is not known."""
    if stage.extent is None or setup.unknown_dimensions:
        name = setup.unknown_dimensions[0]
        detail = f"The vehicle cannot be drawn: its {input_words(name)} is not known."
        raise MissingDimension(
            detail, pointer=f"/measured/{name}", mend="Measure it and give it as measured."
        )
    vehicle = geometry.VehicleGeometry(
        **{name: getattr(setup.vehicle, name) for name in _PLAIN}, sensors=sensors_of(setup.vehicle.sensors)
    )
    return scene.PlanScene(
        title_lines=(setup.vehicle_name, setup.procedure_name, f"Stage: {stage.name}"),
        vehicle=scene.VehicleOutline(**{name: getattr(vehicle, name) for name in _DIMENSIONS}),
        fixtures=tuple(
            _fixture(number, item, vehicle, setup.units)
            for number, item in enumerate(stage.placements, start=1)
        ),
        extent=scene.Extent(*(getattr(stage.extent, f"{side}_mm") for side in _SIDES)),
        sensors=tuple(
            scene.SensorView(name.replace("_", " "), sensor.x_mm, sensor.y_mm, sensor.yaw_deg)
            for name, sensor in vehicle.sensors.items()
        ),
        aim_lines=tuple(_aim_lines(stage, vehicle)),
        marks=tuple(scene.Mark(mark.short, mark.x_mm, mark.y_mm) for mark in marks_in_use(stage)),
        tapes=tuple(_tapes(stage)),
        revision_text=f"Catalogue revision {setup.catalogue_revision}",
        banner=" · ".join(banners(setup)),
        stops=setup.stops_work,
        warnings=(
            *setup.assumed,
            *wording.unchecked(setup.unchecked, setup.sources),
            *stage_warnings(stage),
        ),
        cautions=tuple(caution.text for caution in setup.cautions),
    )


def points_set_out(stage: SetupStage) -> Iterator[tuple[int, PlacedFixture, PointSettingOut]]:
    """Yield every point that tapes lead to, with its fixture and the fixture's number."""
    for number, item in enumerate(stage.placements, start=1):
        for point in item.setting_out.points if item.setting_out else ():
            yield number, item, point


def marks_in_use(stage: SetupStage) -> list[SetupMark]:
    """Return the marks that tapes of a stage are hooked to, and those that they are made from."""
    used: set[str] = set()
    for _, _, point in points_set_out(stage):
        used |= {tape.mark for tape in point.distances}
        used |= {point.check.mark} if point.check else set()
    return with_their_marks(stage, used)


def with_their_marks(stage: SetupStage, names: Iterable[str]) -> list[SetupMark]:
    """Return marks of a stage by name, with those that they are made from."""
    used = set(names)
    known = {mark.name: mark for mark in stage.marks}
    waiting = list(used)
    while waiting:
        more = {name for name in known[waiting.pop()].made_from if name not in used}
        used |= more
        waiting += more
    return [mark for mark in stage.marks if mark.name in used]


def _tapes(stage: SetupStage) -> Iterator[tuple[scene.Point, scene.Point]]:
    places = {mark.name: (mark.x_mm, mark.y_mm) for mark in stage.marks}
    for _, _, point in points_set_out(stage):
        for tape in point.distances:
            yield places[tape.mark], (point.x_mm, point.y_mm)


def stage_warnings(stage: SetupStage) -> Iterator[str]:
    """Yield which fixtures stand there by our arithmetic alone."""
    for item in stage.placements:
        if item.fixture and item.fixture.match == "by_property":
            yield f"{item.fixture.name}: not named by the source"


def banners(setup: Setup) -> Iterator[str]:
    """Yield what heads every sheet, gravest first."""
    if setup.stops_work:
        yield "DO NOT AIM THE CAR AS IT STANDS"
    if setup.invented:
        yield "INVENTED DATA"


_DIMENSIONS = (
    "wheelbase_mm",
    "front_track_mm",
    "rear_track_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "width_mm",
)
_PLAIN = (*_DIMENSIONS, "thrust_yaw_deg")
_SIDES = ("x_min", "x_max", "y_min", "y_max")


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


def point_code(number: int, item: PlacedFixture, name: str) -> str:
    """Return the short name of a point on the floor: '1a' is the first foot or corner of fixture 1."""
    names = [point.name for point in _points_on_floor(item)]
    return f"{number}{_letter(names.index(name))}" if name in names else str(number)


def _points_on_floor(item: PlacedFixture) -> Sequence[NamedPoint | PointSettingOut]:
    """Return the feet, or else the corners that are set out in their stead."""
    corners = item.setting_out.points if item.setting_out else ()
    return item.feet if item.feet or len(corners) < 2 else corners


def _letter(index: int) -> str:
    return ascii_lowercase[index % len(ascii_lowercase)]


def _fixture(
    number: int, item: PlacedFixture, vehicle: geometry.VehicleGeometry, units: Units
) -> scene.FixtureView:
    pose, placement = item.in_vehicle, placement_of(item.placement)
    aim_yaw_deg = pose.yaw_deg - item.placement.yaw_deg
    name = item.fixture.name if item.fixture else f"{spoken(item.capability)} (no fixture)"
    reference = item.fixture.reference_point if item.fixture else "reference point"
    along_text = wording.along(item.placement, aim_yaw_deg, units)
    lateral_text = wording.lateral(item.placement, aim_yaw_deg, units)
    return scene.FixtureView(
        label=f"{number}  {spoken(item.id)}: {name}",
        reference=(pose.x_mm, pose.y_mm),
        facing_deg=pose.yaw_deg,
        along=_distance(vehicle, placement, "along", along_text),
        lateral=_distance(vehicle, placement, "lateral", lateral_text) if lateral_text else None,
        height_text=wording.height(item.placement, reference, units),
        footprint=item.footprint,
        feet=tuple(
            scene.Foot(point_code(number, item, foot.name), foot.x_mm, foot.y_mm)
            for foot in _points_on_floor(item)
        ),
        clear_zone=item.clear_zone,
        notes=_feet_in_words(item),
    )


def _feet_in_words(item: PlacedFixture) -> tuple[str, ...]:
    if not item.feet:
        return ()
    named = ", ".join(f"{_letter(index)} {foot.name}" for index, foot in enumerate(item.feet))
    return (f"feet, as it faces: {named}",)


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
