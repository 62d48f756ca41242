"""Invented catalogues of any size, to measure with. Equal arguments give equal documents.

Nothing here is a real vehicle, and no figure is to be worked with. The manufacturer codes lie in ranges that
ISO 3780 allots to nobody (from memory; the packages ``vin`` and ``vininfo`` know no code in them).
"""

from collections.abc import Iterator
from functools import cache
from itertools import accumulate
from random import Random
from typing import Literal, NamedTuple

from msgspec.structs import replace

from snapline.wire.catalogue import (
    AimAllowance,
    Alternative,
    CatalogueDocument,
    ClearZone,
    Condition,
    Dimensions,
    Disturbance,
    DriveConditions,
    FixtureDocument,
    FixtureNeed,
    FixturePlacement,
    Foot,
    OperationDocument,
    Option,
    PlacementTolerance,
    PreparationItem,
    Procedure,
    Reflector,
    Requirement,
    SourceDocument,
    Stage,
    StatedCapability,
    System,
    VehicleDocument,
    VinPattern,
)
from snapline.wire.common import SourceRef
from snapline.wire.geometry import Along, Height, Lateral, Placement, Sensor

_MAKER_CODES = [area + letter for area in ("S9", "S0", "T9", "T0", "26") for letter in "ABCDEFGH"]
_MODELS_PER_MAKE = 60
_FIRST_YEARS = range(2012, 2027)
_YEAR_CODES = "CDEFGHJKLMNPRSTVWXY1"  # 49 CFR 565.15(d)(1), Table VII, from 2012
_VIN_CHARACTERS = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"
_MARKETS: tuple[tuple[str, Literal["left", "right"]], ...] = (
    ("EU", "left"), ("GB", "right"), ("US", "left"), ("CA", "left"), ("AU", "right"), ("JP", "right"),
)  # fmt: skip
_BODIES = ("hatchback", "saloon", "estate", "suv", "mpv", "pickup", "van")

# The first fixture of a kind serves most vehicles and each further one fewer, as the common boards do.
_BOARDS = [f"synthetic-board-{number:03d}" for number in range(300)]
_REFLECTORS = [f"synthetic-reflector-{number:03d}" for number in range(100)]
_BOARD_SHARES = list(accumulate(rank**-1.3 for rank in range(1, len(_BOARDS) + 1)))
_REFLECTOR_SHARES = list(accumulate(rank**-1.3 for rank in range(1, len(_REFLECTORS) + 1)))


class _Kind(NamedTuple):
    """A kind of system: its sensors, what disturbs it, and one procedure for each alternative."""

    name: str
    sensors: tuple[str, ...]
    operations: tuple[str, ...]
    procedures: tuple[str, ...]
    fitted_when: Condition | None = None


_KINDS = {
    "forward_camera": _Kind(
        "Front camera",
        ("front_camera",),
        ("windscreen", "front_camera", "suspension", "wheel_alignment"),
        ("camera-board", "camera-drive"),
    ),
    "forward_radar": _Kind(
        "Front radar",
        ("front_radar",),
        ("front_bumper_cover", "front_radar", "grille"),
        ("radar-reflector",),
        Condition(all_of=("distance_radar",)),
    ),
    "rear_corner_radar": _Kind(
        "Rear-corner radars",
        ("rear_left_radar", "rear_right_radar"),
        ("rear_bumper_cover", "corner_radar"),
        ("rear-radars-reflectors",),
    ),
    "steering_angle_sensor": _Kind(
        "Steering angle sensor", (), ("wheel_alignment", "steering_column"), ("steering-angle-zero",)
    ),
}
_OPERATIONS = tuple(dict.fromkeys(name for kind in _KINDS.values() for name in kind.operations))


def synthetic_documents(vehicles: int, seed: int = 1) -> Iterator[CatalogueDocument]:
    """Yield a catalogue: sources, operations and fixtures first, then so many vehicles, one at a time."""
    yield from (_source_of(make) for make in range(len(_MAKER_CODES)))
    yield from (_operation(name) for name in _OPERATIONS)
    yield from (_board(number, name) for number, name in enumerate(_BOARDS))
    yield from (_reflector(number, name) for number, name in enumerate(_REFLECTORS))
    rng = Random(seed)  # noqa: S311 - repeatable on purpose
    for number in range(vehicles):
        yield _vehicle(number, rng)


def _source_of(make: int) -> SourceDocument:
    return SourceDocument(
        format=1,
        id=f"synthetic-manual-{make:02d}",
        title=f"Synthetic aiming manual {make:02d} (invented)",
        edition=f"issue {make % 7 + 1}",
        published_on=f"20{10 + make % 15:02d}-03-01",
        invented=True,
    )


def _operation(name: str) -> OperationDocument:
    title = name.replace("_", " ").capitalize()
    cure_wait_min = 60.0 if name == "windscreen" else None
    return OperationDocument(format=1, id=name, name=title, cure_wait_min=cure_wait_min, invented=True)


def _board(number: int, name: str) -> FixtureDocument:
    bare = _fixture(number, name, half_mm=500.0 + number)
    return replace(bare, fixture_kind="board", reference_point="pattern centre", height_max_mm=1600)


def _reflector(number: int, name: str) -> FixtureDocument:
    reflector = Reflector(shape="trihedral_triangular", leg_mm=90.0 + number)
    return replace(_fixture(number, name, half_mm=300.0), reflector=reflector)


def _fixture(number: int, name: str, half_mm: float) -> FixtureDocument:
    return FixtureDocument(
        format=1,
        id=name,
        name=name.replace("-", " "),
        fixture_kind="corner_reflector",
        reference_point="apex",
        invented=True,
        feet=(
            Foot(name="left", x_mm=250, y_mm=half_mm - 50),
            Foot(name="right", x_mm=250, y_mm=50 - half_mm),
            Foot(name="rear", x_mm=-300, y_mm=0),
        ),
        footprint=((270, half_mm), (-320, half_mm), (-320, -half_mm), (270, -half_mm)),
        height_min_mm=300,
        height_max_mm=1000,
        capabilities=(StatedCapability(capability=name, source=_ref(number % len(_MAKER_CODES), "annex")),),
    )


@cache
def _ref(make: int, locator: str) -> SourceRef:
    return SourceRef(
        source=f"synthetic-manual-{make:02d}",
        locator=locator,
        checked_by="an editor",
        checked_on="2025-05-12",
    )


def _vehicle(number: int, rng: Random) -> VehicleDocument:
    make, model = number % len(_MAKER_CODES), rng.randrange(_MODELS_PER_MAKE)
    market, drive_side = rng.choice(_MARKETS)
    first = rng.choice(_FIRST_YEARS)
    last = first + rng.randrange(1, 5)
    size = _size(rng)
    systems, procedures = _work(make, rng)
    return VehicleDocument(
        format=1,
        id=f"synthetic-{number:07d}",
        make=f"Synthetic make {make:02d}",
        model=f"Synthetic model {model:02d}",
        body=rng.choice(_BODIES),
        markets=(market,),
        drive_side=drive_side,
        model_year_first=first,
        model_year_last=last,
        invented=True,
        dimensions=Dimensions(**size),
        vin_patterns=(VinPattern(pattern=_pattern(number, make, model, first, last)),),
        options=(_DISTANCE_RADAR,),
        standard_uncertainty={"vehicle.wheelbase_mm": 2.0, "placement.along.distance_mm": 1.5},
        sensors=_sensors(size, rng),
        systems=systems,
        procedures=procedures,
    )


_DISTANCE_RADAR = Option(id="distance_radar", name="Distance radar", how_to_see="A plate in the grille.")


def _size(rng: Random) -> dict[str, float]:
    front_track_mm = float(rng.randrange(1450, 1700))
    return {
        "wheelbase_mm": float(rng.randrange(2400, 3300)),
        "front_track_mm": front_track_mm,
        "rear_track_mm": front_track_mm + rng.randrange(-10, 11),
        "front_overhang_mm": float(rng.randrange(750, 1000)),
        "rear_overhang_mm": float(rng.randrange(700, 1150)),
        "width_mm": front_track_mm + 270,
        "height_mm": float(rng.randrange(1400, 2000)),
        "tyre_width_mm": float(rng.randrange(175, 285, 10)),
    }


def _sensors(size: dict[str, float], rng: Random) -> dict[str, Sensor]:
    front_axle_mm, camera_z_mm = size["wheelbase_mm"], float(rng.randrange(1200, 1500))
    rear_x_mm, side_mm = 140 - size["rear_overhang_mm"], size["width_mm"] / 2 - 180
    return {
        "front_camera": Sensor(x_mm=front_axle_mm - 700, y_mm=0, z_mm=camera_z_mm),
        "front_radar": Sensor(x_mm=front_axle_mm + size["front_overhang_mm"] - 90, y_mm=0, z_mm=560),
        "rear_left_radar": Sensor(x_mm=rear_x_mm, y_mm=side_mm, z_mm=660, yaw_deg=150),
        "rear_right_radar": Sensor(x_mm=rear_x_mm, y_mm=-side_mm, z_mm=660, yaw_deg=-150),
    }


def _pattern(number: int, make: int, model: int, first: int, last: int) -> str:
    """Return maker, model and variant in positions 1 to 6, a letter in 7 and the model years in 10."""
    variant = _VIN_CHARACTERS[number // len(_MAKER_CODES) % len(_VIN_CHARACTERS)]
    model_code = _VIN_CHARACTERS[model // 30] + _VIN_CHARACTERS[model % 30]
    years = _YEAR_CODES[first - _FIRST_YEARS[0] : last + 1 - _FIRST_YEARS[0]]
    return f"{_MAKER_CODES[make]}{model_code}{variant}[ABCDEFGH]??[{years}]???????"


def _work(make: int, rng: Random) -> tuple[tuple[System, ...], tuple[Procedure, ...]]:
    """Return a camera for every vehicle, radars and steering sensor for some, and their procedures."""
    kinds, procedures = ["forward_camera"], [_camera_board(make, rng), _camera_drive(make, rng)]
    if rng.random() < 0.5:
        kinds.append("forward_radar")
        procedures.append(_radar(make, rng))
    if rng.random() < 0.2:
        kinds.append("rear_corner_radar")
        procedures.append(_rear_radars(make, rng))
    if rng.random() < 0.3:
        kinds.append("steering_angle_sensor")
        procedures.append(_steering(make))
    return tuple(_system(make, kind) for kind in kinds), tuple(procedures)


@cache
def _system(make: int, word: str) -> System:
    kind = _KINDS[word]
    ways = tuple(Alternative(id=p, name=p.replace("-", " "), procedures=(p,)) for p in kind.procedures)
    return System(
        id=word,
        kind=word,
        name=kind.name,
        sensors=kind.sensors,
        fitted_when=kind.fitted_when,
        disturbances=tuple(_rule(make, row, name) for row, name in enumerate(kind.operations, 1)),
        requirements=(Requirement(id="aim", alternatives=ways, source=_ref(make, "section 3")),),
    )


def _rule(make: int, row: int, operation: str) -> Disturbance:
    depends = row % 4 == 0
    return Disturbance(
        operation=operation,
        effect="conditional" if depends else "called_for",
        question="Did the part carry the sensor or its bracket?" if depends else None,
        reason="The work moves the sensor, or what it looks through.",
        source=_ref(make, f"section 1, row {row}"),
    )


def _camera_board(make: int, rng: Random) -> Procedure:
    (board,) = rng.choices(_BOARDS, cum_weights=_BOARD_SHARES)
    item = FixturePlacement(
        id="board",
        need=FixtureNeed(capability=board, named=(board,)),
        placement=_placement(
            "centreline", "front_axle", rng.randrange(2200, 4200), rng.randrange(1000, 1500)
        ),
        tolerance=_BOARD_TOLERANCE,
    )
    return Procedure(
        id="camera-board",
        name="Aim the front camera at its board",
        method="static",
        duration_min=float(rng.randrange(20, 60, 5)),
        source=_ref(make, "section 3.1"),
        stages=(Stage(id="board", name="Board ahead", placements=(item,)),),
        aim_allowance=_CAMERA_ALLOWANCE,
        preparation=_preparation(make),
    )


def _placement(aim_line: str, datum: str, distance_mm: int, height_mm: int) -> Placement:
    return Placement(
        aim_line=aim_line,
        along=Along(datum=datum, distance_mm=float(distance_mm)),
        lateral=Lateral(datum="aim_line", distance_mm=0.0),
        height=Height(datum="floor", distance_mm=float(height_mm)),
        yaw_deg=180.0,
    )


_BOARD_TOLERANCE = PlacementTolerance(along_mm=5, lateral_mm=3, height_mm=3, yaw_deg=0.3)
_CAMERA_ALLOWANCE = AimAllowance(sensor="front_camera", yaw_deg=0.3)


def _camera_drive(make: int, rng: Random) -> Procedure:
    speed_min_kmh = float(rng.randrange(40, 80, 5))
    return Procedure(
        id="camera-drive",
        name="Let the front camera learn on the road",
        method="dynamic",
        duration_min=40,
        source=_ref(make, "section 3.2"),
        people=2,
        after_steps=("adhesive_cure",),
        drive=DriveConditions(
            speed_min_kmh=speed_min_kmh,
            speed_max_kmh=speed_min_kmh + 50,
            road_classes=("motorway",),
            minimum_time_min=float(rng.randrange(10, 30)),
            lane_markings="both_sides",
            light="daylight",
            interruption="resumes",
            finished_sign="The tool shows that the camera has learned.",
            if_not_finished="Drive another stretch with clear markings.",
        ),
    )


def _radar(make: int, rng: Random) -> Procedure:
    item = _reflector_on(rng, "front", "centreline", "front_bumper", rng.randrange(1300, 2600, 10))
    return _reflector_procedure(make, "radar-reflector", "Aim the front radar", (item,))


def _rear_radars(make: int, rng: Random) -> Procedure:
    distance_mm = rng.randrange(2400, 2900, 10)
    items = tuple(
        _reflector_on(rng, side, f"sensor:rear_{side}_radar", f"sensor:rear_{side}_radar", distance_mm)
        for side in ("left", "right")
    )
    return _reflector_procedure(make, "rear-radars-reflectors", "Aim the rear-corner radars", items)


def _reflector_on(rng: Random, name: str, aim_line: str, datum: str, distance_mm: int) -> FixturePlacement:
    (reflector,) = rng.choices(_REFLECTORS, cum_weights=_REFLECTOR_SHARES)
    return FixturePlacement(
        id=name,
        need=FixtureNeed(capability=reflector, named=(reflector,)),
        placement=_placement(aim_line, datum, distance_mm, 600),
        tolerance=_REFLECTOR_TOLERANCE,
        clear_zone=_CLEAR_ZONE,
    )


_REFLECTOR_TOLERANCE = PlacementTolerance(along_mm=10, lateral_mm=5, height_mm=5)
_CLEAR_ZONE = ClearZone(facing_mm=1500, behind_mm=800, left_mm=900, right_mm=900)


def _reflector_procedure(make: int, name: str, title: str, items: tuple[FixturePlacement, ...]) -> Procedure:
    return Procedure(
        id=name,
        name=title,
        method="static",
        duration_min=35,
        source=_ref(make, "section 4.1"),
        after_steps=("wheel_alignment",),
        stages=(Stage(id="reflectors", name="Reflectors in place", placements=items),),
        preparation=_preparation(make)[:1],
    )


@cache
def _steering(make: int) -> Procedure:
    return Procedure(
        id="steering-angle-zero",
        name="Zero the steering angle sensor",
        method="scan_tool",
        duration_min=5,
        source=_ref(make, "section 11"),
        tool_function="Steering, set straight ahead.",
    )


@cache
def _preparation(make: int) -> tuple[PreparationItem, ...]:
    source = _ref(make, "section 2")
    return (
        PreparationItem(
            type="limit",
            item="tyre_pressure",
            text="Set the tyres to the pressure on the door pillar label.",
            maximum=0.1,
            unit="bar",
            source=source,
            stops_work=True,
        ),
        PreparationItem(type="act", item="glass_clean", text="Clean the glass before it.", source=source),
    )
