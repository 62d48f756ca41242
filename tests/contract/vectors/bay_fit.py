"""Test vectors of bay fit, worked by hand: rectangles along the bay's axes add and subtract."""

from contract.vectors.cases import Case, Json, answered, file_of, refused

HAND = "By hand: for rectangles along the axes the room to spare is a difference of lengths."
PUBLISHED = (
    "J. E. Wetzel, Mathematics Magazine 73(3), 2000, p. 204, after W. B. Carver: the condition for a "
    "rectangle in a rectangle."
)
TOLERANCE = {"mm": 0.5, "deg": 1e-9, "outward": 1e-9}


def rectangle(x_min: float, y_min: float, x_max: float, y_max: float) -> list[list[float]]:
    return [[x_min, y_min], [x_max, y_min], [x_max, y_max], [x_min, y_max]]


def part(name: str, polygon: list[list[float]], kind: str = "solid", **heights: float) -> Json:
    return {"name": name, "kind": kind, "polygon": polygon, **heights}


def asked(bay: Json, headings: list[float], *procedures: list[Json]) -> Json:
    names = (f"procedure {number}" for number in range(1, len(procedures) + 1))
    found = [{"name": name, "parts": parts} for name, parts in zip(names, procedures, strict=True)]
    return {"bay": bay, "headings_deg": headings, "procedures": found}


CAR = part("car", rectangle(-1000, -900, 3500, 900), z_min_mm=0, z_max_mm=1500)
ROOM: Json = {"ring": rectangle(0, 0, 6000, 4000)}
REAR_ZONE = part("zone", rectangle(-6000, -600, -1000, 600), "clear_zone")
POST = rectangle(2900, 1600, 3100, 1800)
FITS = {"one_pose": True, "unservable": [], "shortfall": [], "obstacles_to_clear": []}


def short(wall: int, outward: list[float], missing_mm: float, name: str = "car") -> Json:
    because = {"procedure": "procedure 1", "part": name}
    return {"wall": wall, "outward": outward, "missing_mm": float(missing_mm), "because": because}


def door(y_from: float, y_to: float, *, is_open: bool = True) -> Json:
    return {"from": [0, y_from], "to": [0, y_to], "open": is_open}


def cases() -> list[Case]:
    """Return all cases."""
    return [*_fitting_cases(), *_unfitting_cases(), _two_poses(), *_refusals()]


def _fitting_cases() -> list[Case]:
    beam = {"obstacles": [rectangle(2000, 0, 2300, 4000)], "obstacle_heights": [{"z_min_mm": 2000}]}
    pipe = {"obstacles": [rectangle(0, 0, 100, 100)]}
    bays: list[tuple[str, Json, list[float], list[Json], float]] = [
        ("a car in the middle", ROOM, [0], [CAR], 750),
        ("turned round it fits as well", ROOM, [180], [CAR], 750),
        ("the heading with more room", {"ring": rectangle(0, 0, 4000, 9000)}, [0, 90], [CAR], 1100),
        ("what touches fits", {"ring": rectangle(0, 0, 4500, 1800)}, [0], [CAR], 0),
        ("a clockwise ring", {"ring": rectangle(0, 0, 6000, 4000)[::-1]}, [0], [CAR], 750),
        ("a pipe in a corner", {**ROOM, **pipe}, [0], [CAR], 750),
        ("a beam above the car", {**ROOM, **beam}, [0], [CAR], 750),
        ("a zone out of an open door", {**ROOM, "doors": [door(3500, 500)]}, [0], [CAR, REAR_ZONE], 750),
    ]
    return [
        Case(name, HAND, asked(bay, headings, parts), answered(**FITS, margin_mm=float(margin_mm)), TOLERANCE)
        for name, bay, headings, parts, margin_mm in bays
    ]


def _unfitting_cases() -> list[Case]:
    ends = [short(1, [1.0, 0.0], 500), short(3, [-1.0, 0.0], 500)]
    sides = [short(0, [0.0, -1.0], 100), short(2, [0.0, 1.0], 100)]
    shut, narrow = door(3500, 500, is_open=False), door(1600, 500)
    posts = {"ring": rectangle(0, 0, 6000, 3400), "obstacles": [rectangle(0, 0, 100, 100), POST]}
    sheet = [part("sheet", rectangle(-4500, -2000, 4500, 2000))]
    turned = [float(heading_deg) for heading_deg in range(0, 180, 5)]
    nothing: Json = {"pose": None, "margin_mm": None, "poses": [], "obstacles_to_clear": []}
    bays: list[tuple[str, Json, Json]] = [
        (
            "too short",
            asked({"ring": rectangle(0, 0, 4000, 4000)}, [0], [CAR]),
            {"shortfall": ends, **nothing},
        ),
        ("too narrow", asked({"ring": rectangle(0, 0, 6000, 1700)}, [0], [CAR]), {"shortfall": sides}),
        (
            "short both ways: no one wall helps",
            asked({"ring": rectangle(0, 0, 4000, 1700)}, [0], [CAR]),
            {"shortfall": [], **nothing},
        ),
        ("a shut door keeps a zone in", asked({**ROOM, "doors": [shut]}, [0], [CAR, REAR_ZONE]), {}),
        (
            "a solid part does not pass a door",
            asked({**ROOM, "doors": [door(3500, 500)]}, [0], [CAR, {**REAR_ZONE, "kind": "solid"}]),
            {},
        ),
        ("a door narrower than the zone", asked({**ROOM, "doors": [narrow]}, [0], [CAR, REAR_ZONE]), {}),
        ("a post to clear", asked(posts, [0], [CAR]), {"obstacles_to_clear": [1]}),
        ("a low ceiling", asked({**ROOM, "ceiling_mm": 1400}, [0], [CAR]), {"shortfall": []}),
        ("9 × 4 in 8 × 6", asked({"ring": rectangle(0, 0, 8000, 6000)}, turned, sheet), {}),
    ]
    refusing: Json = {"one_pose": False, "unservable": ["procedure 1"]}
    return [
        Case(name, PUBLISHED if "×" in name else HAND, request, answered(**refusing, **more), TOLERANCE)
        for name, request, more in bays
    ]


def _two_poses() -> Case:
    ahead = [CAR, part("board", rectangle(6500, -500, 7000, 500))]
    behind = [CAR, part("mat", rectangle(-4500, -500, -4000, 500))]
    request = asked({"ring": rectangle(0, 0, 9000, 4000)}, [0], ahead, behind)
    poses = [
        {"heading_deg": 0.0, "procedures": ["procedure 1"]},
        {"heading_deg": 0.0, "procedures": ["procedure 2"]},
    ]
    expected = answered(one_pose=False, unservable=[], poses=poses, obstacles_to_clear=[])
    return Case(
        "one pose for the board ahead, another for the mat behind", HAND, request, expected, TOLERANCE
    )


def _refusals() -> list[Case]:
    bow_tie = [[0, 0], [6000, 4000], [6000, 0], [0, 4000]]
    bent: list[list[float]] = [[0, 0], [1000, 0], [1000, 300], [300, 300], [300, 1000], [0, 1000]]
    slip = "What cannot be is refused."
    nowhere = {"from": [1, 1], "to": [2, 2000], "open": True}
    wrong: list[tuple[str, Json, str]] = [
        ("a ring that crosses itself", asked({"ring": bow_tie}, [0], [CAR]), "/bay/ring"),
        ("not convex", asked(ROOM, [0], [part("bent", bent)]), "/procedures/0/parts/0/polygon"),
        ("a door in no wall", asked({**ROOM, "doors": [nowhere]}, [0], [CAR]), "/bay/doors/0"),
        (
            "heights without obstacles",
            asked({**ROOM, "obstacle_heights": [{}]}, [0], [CAR]),
            "/bay/obstacle_heights",
        ),
        ("no heading", asked(ROOM, [], [CAR]), "/headings_deg"),
    ]
    return [Case(name, slip, request, refused("INVALID_VALUE", at), TOLERANCE) for name, request, at in wrong]


def file() -> Json:
    """Return the file."""
    description = "Bay fit: whether and where in a bay there is room for a vehicle and what is done with it."
    return file_of("POST /v1/geometry/bay-fit", description, HAND, cases())
