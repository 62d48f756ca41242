"""Setups: where every fixture of a procedure stands on this vehicle."""

from typing import Annotated, Literal

from msgspec import Meta

from snapline.wire.catalogue import DistanceRange, DriveConditions, PlacementTolerance, PreparationItem
from snapline.wire.common import (
    BayPose,
    Caution,
    Id,
    Label,
    Length,
    Point,
    Pose,
    Size,
    Source,
    Uncertainty,
    Wire,
)
from snapline.wire.geometry import (
    AimTolerance,
    Contribution,
    KnownGeometry,
    Placement,
    UncertaintyByInput,
)
from snapline.wire.setting_out import Tape
from snapline.wire.setup_floor import FixtureOnFloor, SetupFloor, VehicleOnFloor
from snapline.wire.setup_setting_out import FixtureSettingOut, GivenMark, RearToe, SetupMark, Units
from snapline.wire.vocabulary import FixtureKind, Match, Method

Paper = Literal["a4", "letter"]


class PlacementChoice(Wire, frozen=True, kw_only=True):
    """For one placement: which fixture stands there, on which carrier, and a distance inside its range."""

    fixture_id: Id | None = None
    carrier_id: Id | None = None
    along_distance_mm: Length | None = None


class SetupRequest(Wire, frozen=True, kw_only=True):
    """A vehicle and one of its procedures, with what was measured on the car.

    ``measured`` replaces catalogue figures and ``standard_uncertainty`` states how surely an input is known,
    both by name of the input: 'vehicle.wheelbase_mm', 'vehicle.thrust_yaw_deg', 'vehicle.sensors.NAME.x_mm';
    uncertainties also 'placement.along.distance_mm' and the like (for every placement) and 'bay_pose.x_mm'.
    ``by_property`` allows fixtures that match by our arithmetic alone; ``drawn_stage`` chooses the stage
    that a drawing shows, the first one if left out, ``paper`` what a sheet is printed on. ``floor`` corrects
    every height for a floor that is not flat or not level.

    For setting out: ``tape`` (class II and 10 m if left out), ``units`` of printed figures, and ``marks``
    that a person made or measured. ``auxiliary_marks`` allows marks made by string where the car's own do
    not do, ``two_stages`` marks made by tape from others, ``tape_under_vehicle`` tapes between the axles.
    ``wheel_mark_clearance_mm`` is how far outside its tyre a wheel is marked, ``u_marking_mm`` how surely.
    ``rear_toe`` gives the thrust line.
    """

    vehicle_id: Id
    procedure_id: Id
    measured: Annotated[dict[str, Annotated[float, Meta(ge=-1e6, le=1e6)]], Meta(max_length=200)] = {}
    standard_uncertainty: UncertaintyByInput = {}
    placements: Annotated[dict[Id, PlacementChoice], Meta(max_length=200)] = {}
    bay_pose: BayPose | None = None
    by_property: bool = False
    drawn_stage: Id | None = None
    paper: Paper = "a4"
    floor: SetupFloor | None = None
    rear_toe: RearToe | None = None
    marks: Annotated[dict[Label, GivenMark], Meta(max_length=50)] = {}
    tape: Tape | None = None
    units: Units = "mm"
    auxiliary_marks: bool = True
    two_stages: bool = False
    tape_under_vehicle: bool = False
    wheel_mark_clearance_mm: Size = 50.0
    u_marking_mm: Uncertainty = 1.0


class NamedPoint(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A point on the floor."""

    name: Label
    x_mm: float
    y_mm: float


class ChosenFixture(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The fixture that stands at a placement, and on what ground it may."""

    id: Id
    name: Label
    fixture_kind: FixtureKind
    reference_point: Label
    match: Match


class PlacedFixture(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One fixture in place. Poses are of its reference point; feet and outlines are on the floor.

    ``sentence`` says the same in words without a signed number. ``tolerance`` is the source's,
    ``aim_tolerance`` follows from the sensor's allowed aim error along each axis by itself. ``floor`` is null
    when the request says nothing of the floor. ``along_range`` is what the source allows for the along
    distance, null where it names one alone.
    """

    id: Id
    capability: Id
    fixture: ChosenFixture | None
    carrier: ChosenFixture | None
    carrier_needed: Id | None
    sentence: str
    placement: Placement
    in_vehicle: Pose
    in_bay: Pose | None
    covariance_xy_mm2: tuple[tuple[float, float], tuple[float, float]] | None
    contributions: tuple[Contribution, ...] | None
    u_z_mm: float | None
    u_yaw_deg: float | None
    tolerance: PlacementTolerance | None
    aim_tolerance: AimTolerance | None
    feet: tuple[NamedPoint, ...]
    footprint: tuple[Point, ...]
    clear_zone: tuple[Point, ...]
    top_mm: float | None
    along_range: DistanceRange | None = None
    floor: FixtureOnFloor | None = None
    setting_out: FixtureSettingOut | None = None


class Extent(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The smallest rectangle along the vehicle's axes that holds the vehicle, fixtures and clear zones."""

    x_min_mm: float
    x_max_mm: float
    y_min_mm: float
    y_max_mm: float
    length_mm: float
    width_mm: float
    height_mm: float | None


class SetupStage(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The fixtures that stand at the same time, and the room they take with the vehicle."""

    id: Id
    name: Label
    placements: tuple[PlacedFixture, ...]
    extent: Extent | None
    walking_margin_mm: float | None
    marks: tuple[SetupMark, ...] = ()


class Setup(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A procedure's setup for one vehicle.

    ``unchecked`` lists the statements that nobody compared with their source;
    ``without_uncertainty`` the inputs that no uncertainty is known for; ``assumed`` says in
    words what was taken for granted because nobody measured it; ``unknown_dimensions`` are those without
    which the envelope cannot be given; ``marks_left_out`` says which marks the car cannot give and what to
    measure for them; ``tyre_width_mm`` is the one that wheel marks count on.
    """

    vehicle_id: Id
    vehicle_name: str
    procedure_id: Id
    procedure_name: Label
    method: Method
    vehicle: KnownGeometry
    measured: tuple[str, ...]
    stages: tuple[SetupStage, ...]
    envelope: Extent | None
    unknown_dimensions: tuple[str, ...]
    preparation: tuple[PreparationItem, ...]
    drive: DriveConditions | None
    tool_function: str | None
    unchecked: tuple[str, ...]
    without_uncertainty: tuple[str, ...]
    marks_left_out: tuple[str, ...] = ()
    floor: VehicleOnFloor | None = None
    tape_text: str = ""
    tyre_width_mm: float | None = None
    units: Units = "mm"
    assumed: tuple[str, ...]
    stops_work: tuple[str, ...]
    invented: bool
    catalogue_revision: int
    sources: tuple[Source, ...]
    cautions: tuple[Caution, ...]
