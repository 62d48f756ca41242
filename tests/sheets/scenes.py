"""Invented stages for the sheet tests. No figure comes from a real vehicle or fixture."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from snapline_service.sheets.scene import (
    AimLine,
    Distance,
    Extent,
    FixtureView,
    Foot,
    PlanScene,
    Point,
    SensorView,
    VehicleOutline,
)

CAR = VehicleOutline(
    wheelbase_mm=2700.0,
    front_track_mm=1560.0,
    rear_track_mm=1550.0,
    front_overhang_mm=900.0,
    rear_overhang_mm=950.0,
    width_mm=1820.0,
)
FRONT_MM = CAR.wheelbase_mm + CAR.front_overhang_mm
CENTRELINE = AimLine("centreline", 0.0, 0.0, 0.0)
CAMERA = SensorView("front camera", 1800.0, 0.0, 0.0)
CAUTIONS = (
    "Follow the vehicle maker's current instructions and local law.",
    "Chock the wheels and support the battery.",
    "Keep people out of the clear zone while a radar or laser sensor is active.",
    "Tapes and stands trip people.",
)


def rectangle(x: float, y: float, long_mm: float, wide_mm: float, turn_deg: float = 0.0) -> tuple[Point, ...]:
    """Give a rectangle about a point; ``long_mm`` along the direction, ``wide_mm`` across it."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    halves = ((long_mm / 2, wide_mm / 2), (-long_mm / 2, wide_mm / 2))
    offsets = [*halves, *((-a, -b) for a, b in halves)]
    return tuple((x + a * cos - b * sin, y + a * sin + b * cos) for a, b in offsets)


def words(distance_mm: float, ahead: str, behind: str, datum: str) -> str:
    return f"{abs(distance_mm):,.0f} mm {ahead if distance_mm > 0 else behind} {datum}"


def ahead_fixture(
    label: str,
    along_mm: float,
    lateral_mm: float,
    *,
    wide_mm: float = 1000.0,
    clear_zone: tuple[Point, ...] = (),
) -> FixtureView:
    """Give a fixture that faces the car from ahead, counted from the front bumper and the centreline."""
    x, y = FRONT_MM + along_mm, lateral_mm
    base = rectangle(x + 150, y, 500.0, 700.0)
    corners = ("rear left", "front left", "front right", "rear right")
    lateral_text = words(y, "left of", "right of", "centreline") if y else "on the centreline"
    return FixtureView(
        label=label,
        reference=(x, y),
        facing_deg=180.0,
        along=Distance((FRONT_MM, 0.0), (x, 0.0), f"{along_mm:,.0f} mm ahead of front bumper"),
        lateral=Distance((x, 0.0), (x, y), lateral_text),
        height_text="pattern centre 1,200 mm above floor",
        footprint=rectangle(x, y, 120.0, wide_mm),
        feet=tuple(Foot(f"{n} foot", *p) for n, p in zip(corners, base, strict=True)),
        clear_zone=clear_zone,
    )


def around(fixtures: Sequence[FixtureView], vehicle: VehicleOutline = CAR) -> Extent:
    """Give the extent of the vehicle with its fixtures and their clear zones."""
    points: list[Point] = [
        (-vehicle.rear_overhang_mm, -vehicle.width_mm / 2),
        (vehicle.wheelbase_mm + vehicle.front_overhang_mm, vehicle.width_mm / 2),
    ]
    for fixture in fixtures:
        points += [fixture.reference, *fixture.footprint, *fixture.clear_zone]
        points += [(foot.x_mm, foot.y_mm) for foot in fixture.feet]
    xs, ys = zip(*points, strict=True)
    return Extent(min(xs), max(xs), min(ys), max(ys))


def scene(
    fixtures: Sequence[FixtureView],
    *,
    stage: str = "Stage 1: board ahead",
    sensors: tuple[SensorView, ...] = (CAMERA,),
    aim_lines: tuple[AimLine, ...] = (CENTRELINE,),
    warnings: tuple[str, ...] = (),
) -> PlanScene:
    return PlanScene(
        title_lines=("Alder Wren 2.0 estate", "Forward camera, static calibration", stage),
        vehicle=CAR,
        fixtures=tuple(fixtures),
        extent=around(fixtures),
        sensors=sensors,
        aim_lines=aim_lines,
        revision_text="Catalogue revision 12 of 2031-03-04",
        banner="INVENTED DATA",
        cautions=CAUTIONS,
        warnings=warnings,
    )


def one_board() -> PlanScene:
    zone = rectangle(FRONT_MM + 750.0, 0.0, 1500.0, 2400.0)
    return scene([ahead_fixture("Board A", 1500.0, 0.0, clear_zone=zone)])


def two_boards() -> PlanScene:
    return scene(
        [ahead_fixture("Board A", 1500.0, 240.0), ahead_fixture("Board B", 2600.0, -900.0, wide_mm=600.0)],
        stage="Stage 1: two boards",
        warnings=("Distance of board B from the front bumper is unchecked.",),
    )


def rear_corner_fixture(side: str, range_mm: float = 2500.0) -> tuple[SensorView, AimLine, FixtureView]:
    """Give a reflector on a rear corner radar's own axis and that axis."""
    sign = 1.0 if side == "left" else -1.0
    looking = sign * 150.0
    cos, sin = math.cos(math.radians(looking)), math.sin(math.radians(looking))
    sensor = SensorView(f"{side} rear radar", -700.0, sign * 650.0, looking)
    x, y = sensor.x_mm + range_mm * cos, sensor.y_mm + range_mm * sin
    fixture = FixtureView(
        label=f"Reflector {side}",
        reference=(x, y),
        facing_deg=(looking + 180.0) % 360.0,
        along=Distance((sensor.x_mm, sensor.y_mm), (x, y), f"{range_mm:,.0f} mm ahead of {side} rear radar"),
        lateral=Distance((x, y), (x, y), "on its aim line"),
        height_text="apex 620 mm above floor",
        footprint=rectangle(x + 120 * cos, y + 120 * sin, 250.0, 350.0, looking),
        feet=(Foot("column foot", x + 120 * cos, y + 120 * sin),),
        clear_zone=rectangle(
            sensor.x_mm + range_mm / 2 * cos, sensor.y_mm + range_mm / 2 * sin, range_mm, 1200.0, looking
        ),
        notes=("not named by the source",) if side == "left" else (),
    )
    return sensor, AimLine(f"{side} rear radar", sensor.x_mm, sensor.y_mm, looking, True), fixture


def rear_radar() -> PlanScene:
    left, right = rear_corner_fixture("left"), rear_corner_fixture("right")
    return scene(
        [left[2], right[2]],
        stage="Stage 1: both rear corner radars",
        sensors=(left[0], right[0]),
        aim_lines=(left[1], right[1]),
    )


def mats() -> PlanScene:
    """Give four mats about the car for surround-view cameras."""
    places: tuple[tuple[str, float, float, float, float], ...] = (
        ("Mat front", 4500.0, 0.0, 1000.0, 2000.0),
        ("Mat rear", -1850.0, 0.0, 1000.0, 2000.0),
        ("Mat left", 1350.0, 1700.0, 2500.0, 800.0),
        ("Mat right", 1350.0, -1700.0, 2500.0, 800.0),
    )
    fixtures = []
    for label, x, y, long_mm, wide_mm in places:
        along = Distance((0.0, 0.0), (x, 0.0), words(x, "ahead of", "behind", "rear axle"))
        lateral = words(y, "left of", "right of", "centreline") if y else "on the centreline"
        fixtures.append(
            FixtureView(
                label=label,
                reference=(x, y),
                along=along,
                lateral=Distance((x, 0.0), (x, y), lateral),
                height_text="on the floor",
                footprint=rectangle(x, y, long_mm, wide_mm),
            )
        )
    cameras = (
        SensorView("front camera", 3590.0, 0.0, 0.0),
        SensorView("rear camera", -940.0, 0.0, 180.0),
        SensorView("left mirror camera", 2000.0, 950.0, 90.0),
        SensorView("right mirror camera", 2000.0, -950.0, -90.0),
    )
    return scene(fixtures, stage="Stage 1: mats all round", sensors=cameras)


def side_looking() -> PlanScene:
    sensor = SensorView("left side scanner", 2900.0, 880.0, 90.0)
    x, y = 2900.0, 880.0 + 1200.0
    panel = FixtureView(
        label="Reflector panel",
        reference=(x, y),
        facing_deg=-90.0,
        along=Distance((2900.0, 880.0), (2900.0, y), "1,200 mm ahead of left side scanner"),
        lateral=Distance((2900.0, 880.0), (2900.0, 880.0), "on its aim line"),
        height_text="centre 700 mm above floor",
        footprint=rectangle(x, y + 60, 900.0, 120.0),
        feet=(Foot("left foot", x + 350, y + 60), Foot("right foot", x - 350, y + 60)),
    )
    return scene(
        [panel],
        stage="Stage 2: panel beside the car",
        sensors=(sensor,),
        aim_lines=(AimLine("left side scanner", 2900.0, 880.0, 90.0, True),),
    )


def crowded() -> PlanScene:
    """Give twelve fixtures close together: no room for labels."""
    fixtures = [
        ahead_fixture(f"Board {chr(65 + i)}", 900.0 + 400.0 * (i // 3), 700.0 * (i % 3 - 1), wide_mm=500.0)
        for i in range(12)
    ]
    return scene(fixtures, stage="Stage 1: twelve boards")


def thrust_line() -> PlanScene:
    board = ahead_fixture("Board A", 2000.0, 0.0, wide_mm=1400.0)
    turn = math.radians(0.4)
    cross = (FRONT_MM, FRONT_MM * math.tan(turn))
    x, y = cross[0] + 2000 * math.cos(turn), cross[1] + 2000 * math.sin(turn)
    board = replace(
        board,
        reference=(x, y),
        along=Distance(cross, (x, y), "2,000 mm ahead of front bumper along the thrust line"),
        lateral=Distance((x, y), (x, y), "on the thrust line"),
        footprint=rectangle(x, y, 120.0, 1400.0, 0.4),
    )
    return scene([board], aim_lines=(AimLine("thrust line", 0.0, 0.0, 0.4),))


def long_words() -> PlanScene:
    label = (
        "Aiming board for the forward camera with the very long catalogue name that an editor once chose " * 3
    )
    board = ahead_fixture(label, 1500.0, 240.0)
    return replace(
        scene([board]),
        title_lines=(
            "Alder Wren 2.0 estate long wheelbase with the glass roof and every option that one can think of",
            "Forward camera, static calibration",
            "Unbreakable" * 30,
        ),
        warnings=tuple(f"Statement {n} that nobody compared with its source document yet" for n in range(8)),
        revision_text="Catalogue revision 12 " * 12,
    )


def awkward_characters() -> PlanScene:
    board = replace(ahead_fixture("Board <A> & \"B\" 'C' \x00\x0b]]>", 1500.0, 0.0), notes=("a < b && c",))
    return replace(scene([board]), title_lines=("R&D <car>", "--> & <script>alert(1)</script>"))


ALL: dict[str, Callable[[], PlanScene]] = {
    function.__name__: function
    for function in (
        one_board, two_boards, rear_radar, mats, side_looking, crowded, thrust_line, long_words,
        awkward_characters,
    )
}  # fmt: skip
