"""The documents of a catalogue: vehicles, fixtures, sources and operations.

This is what an editor writes, what a revision fixes and what a look-up answers. The JSON Schema made from
these types is published beside the API contract.
"""

from typing import Annotated, Literal

from msgspec import Meta

from snapline.wire.common import (
    Angle,
    Day,
    Id,
    Label,
    Length,
    ModelYear,
    Polygon,
    PositiveAngle,
    PositiveSize,
    SensorName,
    Size,
    SourceRef,
    Text,
    Uncertainty,
    Wire,
)
from snapline.wire.geometry import Placement, ReflectorShape, Sensor
from snapline.wire.vocabulary import (
    Body,
    Change,
    ChangeAnswer,
    Effect,
    Extent,
    FixtureKind,
    Interruption,
    LaneMarkings,
    LightLimit,
    Method,
    PreparationItemName,
    PreparationType,
    RoadClass,
    StepKind,
    SystemKind,
    Traffic,
    WeatherLimit,
)

# The form of these documents; a reader tolerates a later one, an import does not.
Format = Annotated[int, Meta(ge=1, extra_json_schema={"x-extensible-enum": [1]})]
Availability = Annotated[str, Meta(extra_json_schema={"x-extensible-enum": ["optional", "standard"]})]
DriveSide = Literal["left", "right"]


class Condition(Wire, frozen=True, kw_only=True):
    """A statement about which options are fitted; empty parts say nothing."""

    all_of: tuple[Id, ...] = ()
    any_of: tuple[Id, ...] = ()
    none_of: tuple[Id, ...] = ()


class Option(Wire, frozen=True, kw_only=True):
    """Equipment that may or may not be fitted, and how a person sees which.

    Options with the same ``choice`` exclude each other: exactly one of them is fitted (which glass is it?).
    """

    id: Id
    name: Label
    how_to_see: Text
    availability: Availability = "optional"
    choice: Id | None = None


class Trait(Wire, frozen=True, kw_only=True):
    """Something visible that tells this vehicle from its neighbours."""

    trait: Id
    value: Label
    how_to_see: Text


class VinPattern(Wire, frozen=True, kw_only=True):
    """17 positions, each a character, '?' for any or a set like '[AB]'; what a match says of options."""

    pattern: Annotated[str, Meta(min_length=17, max_length=200)]
    fitted: tuple[Id, ...] = ()
    absent: tuple[Id, ...] = ()


class BuildCode(Wire, frozen=True, kw_only=True):
    """A factory build code and the options it stands for."""

    code: Annotated[str, Meta(min_length=1, max_length=20)]
    fitted: tuple[Id, ...] = ()
    absent: tuple[Id, ...] = ()


class Dimensions(Wire, frozen=True, kw_only=True):
    """The vehicle's dimensions. What is not known is left out and named when it is needed."""

    wheelbase_mm: PositiveSize | None = None
    front_track_mm: PositiveSize | None = None
    rear_track_mm: PositiveSize | None = None
    front_overhang_mm: Size | None = None
    rear_overhang_mm: Size | None = None
    width_mm: PositiveSize | None = None
    height_mm: PositiveSize | None = None
    tyre_width_mm: PositiveSize | None = None


class RadarNeed(Wire, frozen=True, kw_only=True):
    """A radar cross-section asked for at one frequency."""

    frequency_ghz: Annotated[float, Meta(gt=0, le=1000)]
    min_rcs_dbsm: Annotated[float, Meta(ge=-60, le=80)]
    max_rcs_dbsm: Annotated[float, Meta(ge=-60, le=80)] | None = None


class FixtureNeed(Wire, frozen=True, kw_only=True):
    """What must stand at a placement: fixtures that the source names, a capability, or radar properties."""

    capability: Id
    named: tuple[Id, ...] = ()
    radar: RadarNeed | None = None


class DistanceRange(Wire, frozen=True, kw_only=True):
    """How far the along distance may vary from the datum; the placement's own distance lies inside."""

    min_mm: Length
    max_mm: Length


class PlacementTolerance(Wire, frozen=True, kw_only=True):
    """The permitted departure, plus and minus, on each axis that the source limits."""

    along_mm: PositiveSize | None = None
    lateral_mm: PositiveSize | None = None
    height_mm: PositiveSize | None = None
    yaw_deg: PositiveAngle | None = None
    pitch_deg: PositiveAngle | None = None
    roll_deg: PositiveAngle | None = None


class ClearZone(Wire, frozen=True, kw_only=True):
    """A rectangle about a placement's reference point that people and metal keep out of.

    ``facing_mm`` reaches the way the fixture faces, ``behind_mm`` the other way, ``left_mm`` and
    ``right_mm`` to its own sides.
    """

    facing_mm: Size
    behind_mm: Size
    left_mm: Size
    right_mm: Size


class FixturePlacement(Wire, frozen=True, kw_only=True):
    """One fixture of a stage: what it must be and where its reference point stands."""

    id: Id
    need: FixtureNeed
    placement: Placement
    carrier: FixtureNeed | None = None
    range: DistanceRange | None = None
    tolerance: PlacementTolerance | None = None
    clear_zone: ClearZone | None = None


class Stage(Wire, frozen=True, kw_only=True):
    """The fixtures that stand at the same time."""

    id: Id
    name: Label
    placements: Annotated[tuple[FixturePlacement, ...], Meta(min_length=1)]
    walking_margin_mm: Size | None = None


class PreparationItem(Wire, frozen=True, kw_only=True):
    """A limit to keep, an act to do or a reading to take before work starts.

    A limit has ``minimum`` or ``maximum`` with ``unit``; a reading has ``unit`` and may say which input of a
    setup it ``feeds``, for example ``vehicle.thrust_yaw_deg``.
    """

    type: PreparationType
    item: PreparationItemName
    text: Text
    source: SourceRef
    minimum: float | None = None
    maximum: float | None = None
    unit: Annotated[str, Meta(min_length=1, max_length=16)] | None = None
    feeds: str | None = None
    stops_work: bool = False


class DriveConditions(Wire, frozen=True, kw_only=True):
    """How the on-road part is driven and how one sees that it is finished."""

    speed_min_kmh: Annotated[float, Meta(ge=0, le=300)]
    speed_max_kmh: Annotated[float, Meta(gt=0, le=300)]
    road_classes: tuple[RoadClass, ...]
    finished_sign: Text
    if_not_finished: Text
    interruption: Interruption
    minimum_time_min: Annotated[float, Meta(gt=0, le=600)] | None = None
    minimum_distance_km: Annotated[float, Meta(gt=0, le=1000)] | None = None
    lane_markings: LaneMarkings | None = None
    traffic: Traffic | None = None
    weather: tuple[WeatherLimit, ...] = ()
    light: LightLimit = "any"
    min_sun_elevation_deg: Angle | None = None


class AimAllowance(Wire, frozen=True, kw_only=True):
    """The aim error that a sensor tolerates, from which floor tolerances follow."""

    sensor: SensorName
    yaw_deg: PositiveAngle
    elevation_deg: PositiveAngle | None = None


class Procedure(Wire, frozen=True, kw_only=True):
    """One calibration act: static on the floor, dynamic on the road, or by scan tool alone."""

    id: Id
    name: Label
    method: Method
    duration_min: Annotated[float, Meta(gt=0, le=1440)]
    source: SourceRef
    people: Annotated[int, Meta(ge=1, le=10)] = 1
    after_steps: tuple[StepKind, ...] = ()
    after_procedures: tuple[Id, ...] = ()
    stages: tuple[Stage, ...] = ()
    aim_allowance: AimAllowance | None = None
    preparation: tuple[PreparationItem, ...] = ()
    drive: DriveConditions | None = None
    tool_function: Text | None = None


class Alternative(Wire, frozen=True, kw_only=True):
    """One complete way to satisfy a requirement: procedures in order."""

    id: Id
    name: Label
    procedures: Annotated[tuple[Id, ...], Meta(min_length=1)]


class Requirement(Wire, frozen=True, kw_only=True):
    """What the system needs once disturbed. Alternatives stand in the source's own order of preference."""

    id: Id
    alternatives: Annotated[tuple[Alternative, ...], Meta(min_length=1)]
    source: SourceRef
    when: Condition | None = None


class Disturbance(Wire, frozen=True, kw_only=True):
    """The rule that an operation, to an extent, calls for this system's calibration or does not."""

    operation: Id
    effect: Effect
    reason: Text
    source: SourceRef
    extent: Extent | None = None
    requirement: Id | None = None
    question: Text | None = None


class System(Wire, frozen=True, kw_only=True):
    """One driver-assistance system, or a sensor to be zeroed."""

    id: Id
    kind: SystemKind
    name: Label
    sensors: tuple[SensorName, ...] = ()
    fitted_when: Condition | None = None
    disturbances: tuple[Disturbance, ...] = ()
    requirements: tuple[Requirement, ...] = ()


class ChangedCarRule(Wire, frozen=True, kw_only=True):
    """What the maker says of a car that is no longer as built."""

    change: Change
    answer: ChangeAnswer
    text: Text
    source: SourceRef
    systems: tuple[Id, ...] = ()


class VehicleDocument(Wire, frozen=True, kw_only=True, tag_field="kind", tag="vehicle"):
    """One vehicle's whole requirement document."""

    format: Format
    id: Id
    make: Label
    model: Label
    body: Body
    markets: Annotated[tuple[Annotated[str, Meta(pattern=r"^[A-Z]{2,3}$")], ...], Meta(min_length=1)]
    drive_side: DriveSide
    model_year_first: ModelYear
    dimensions: Dimensions
    model_year_last: ModelYear | None = None
    light_vehicle: bool = True
    invented: bool = False
    traits: tuple[Trait, ...] = ()
    vin_patterns: tuple[VinPattern, ...] = ()
    build_codes: tuple[BuildCode, ...] = ()
    options: tuple[Option, ...] = ()
    standard_uncertainty: dict[str, Uncertainty] = {}
    thrust_limit_deg: PositiveAngle | None = None
    sensors: dict[SensorName, Sensor] = {}
    systems: tuple[System, ...] = ()
    procedures: tuple[Procedure, ...] = ()
    changed_car: tuple[ChangedCarRule, ...] = ()


class Foot(Wire, frozen=True, kw_only=True):
    """A floor contact about the fixture's reference point: x the way it faces, y to its left."""

    name: Label
    x_mm: Length
    y_mm: Length


class StatedCapability(Wire, frozen=True, kw_only=True):
    """A source's statement that this fixture serves a capability."""

    capability: Id
    source: SourceRef


class Reflector(Wire, frozen=True, kw_only=True):
    """The radar-reflecting part of a fixture."""

    shape: ReflectorShape
    leg_mm: PositiveSize | None = None
    width_mm: PositiveSize | None = None
    height_mm: PositiveSize | None = None


class FixtureDocument(Wire, frozen=True, kw_only=True, tag_field="kind", tag="fixture"):
    """A type of equipment put on the floor.

    ``height_min_mm`` and ``height_max_mm`` bound how high its reference point can stand; ``top_mm`` is the
    height of its highest part above the floor. Both count with the fixture on what carries it.
    """

    format: Format
    id: Id
    name: Label
    fixture_kind: FixtureKind
    reference_point: Label
    invented: bool = False
    feet: tuple[Foot, ...] = ()
    footprint: Polygon | None = None
    height_min_mm: Size | None = None
    height_max_mm: Size | None = None
    top_mm: PositiveSize | None = None
    mass_kg: Annotated[float, Meta(gt=0, le=2000)] | None = None
    reflector: Reflector | None = None
    capabilities: tuple[StatedCapability, ...] = ()


class SourceDocument(Wire, frozen=True, kw_only=True, tag_field="kind", tag="source"):
    """A document that requirements are taken from."""

    format: Format
    id: Id
    title: Label
    edition: Label
    published_on: Day
    invented: bool = False


class OperationDocument(Wire, frozen=True, kw_only=True, tag_field="kind", tag="operation"):
    """Something done in a repair, with the words that estimates use for it."""

    format: Format
    id: Id
    name: Label
    extents: tuple[Extent, ...] = ()
    synonyms: tuple[Label, ...] = ()
    cure_wait_min: Annotated[float, Meta(gt=0, le=10080)] | None = None
    invented: bool = False


CatalogueDocument = VehicleDocument | FixtureDocument | SourceDocument | OperationDocument
