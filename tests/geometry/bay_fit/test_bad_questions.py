"""What cannot be is refused with a pointer and a way to mend it, all of it at once."""

import math

import pytest

from geometry.bay_fit.reference import rectangle
from snapline_service.errors import BadInput
from snapline_service.geometry.bay_fit import Bay, Door, Obstacle, Part, Procedure, fit
from snapline_service.geometry.bay_fit.values import Kind

ROOM = rectangle(0, 0, 6000, 4000)
BOWTIE = ((0, 0), (1000, 1000), (1000, 0), (0, 1000))
SOLID: Kind = "solid"


def asked(*parts: Part, name: str = "camera") -> Procedure:
    return Procedure(name, parts or (Part("car", SOLID, rectangle(0, 0, 4000, 1800)),))


@pytest.mark.parametrize(
    ("bay", "pointer", "says"),
    [
        (Bay(((0, 0), (6000, 4000), (6000, 0), (0, 4000))), "/bay/ring", "crosses"),
        (Bay(((0, 0), (6000, 0), (6000, 0), (0, 4000))), "/bay/ring/2", "twice in turn"),
        (Bay((*ROOM, ROOM[0])), "/bay/ring/4", "twice in turn"),
        (Bay(((0, 0), (6000, 0), (3000, 0))), "/bay/ring", "crosses or touches"),
        (Bay(((0, 0), (0.5, 0), (0.5, 0.5), (0, 0.5))), "/bay/ring", "encloses nothing"),
        (Bay(ROOM, (Obstacle(ROOM), Obstacle(BOWTIE))), "/bay/obstacles/1", "crosses"),
        (Bay(ROOM, (Obstacle(ROOM, 500.0, 400.0),)), "/bay/obstacle_heights/0/z_max_mm", "below the bottom"),
        (Bay(ROOM, (), (Door((0, 1000), (0, 1000)),)), "/bay/doors/0", "ends where it starts"),
        (Bay(ROOM, (), (Door((100, 1000), (100, 3000)),)), "/bay/doors/0", "not in one wall"),
        (Bay(ROOM, (), (Door((0, 1000), (1000, 0)),)), "/bay/doors/0", "not in one wall"),
    ],
)
def test_a_bay_that_cannot_be(bay: Bay, pointer: str, says: str) -> None:
    with pytest.raises(BadInput) as refused:
        fit(bay, [0], [asked()])
    (fault,) = refused.value.faults
    assert fault.pointer == pointer
    assert says in fault.detail
    assert fault.mend


@pytest.mark.parametrize(
    ("part", "field", "says"),
    [
        (Part("mat", SOLID, BOWTIE), "polygon", "crosses"),
        (
            Part("mat", SOLID, ((0, 0), (900, 0), (900, 900), (450, 100), (0, 900))),
            "polygon",
            "'mat' is not convex",
        ),
        (Part("mat", SOLID, ((0, 0), (900, 0), (0, 0))), "polygon", "fewer than three"),
        (Part("mat", SOLID, rectangle(0, 0, 900, 900), 100.0, 50.0), "z_max_mm", "below the bottom"),
    ],
)
def test_a_part_that_cannot_be(part: Part, field: str, says: str) -> None:
    with pytest.raises(BadInput) as refused:
        fit(Bay(ROOM), [0], [asked(), asked(part, name="other")])
    (fault,) = refused.value.faults
    assert fault.pointer == f"/procedures/1/parts/0/{field}"
    assert says in fault.detail
    assert fault.mend


def test_everything_is_told_at_once() -> None:
    bay = Bay(ROOM, (Obstacle(BOWTIE),), (Door((9, 9), (99, 99)),))
    with pytest.raises(BadInput) as refused:
        fit(bay, [], [asked(), asked()])
    assert [fault.pointer for fault in refused.value.faults] == [
        "/bay/obstacles/0",
        "/bay/doors/0",
        "/headings_deg",
        "/procedures/1/name",
    ]


def test_too_much_at_once_is_refused() -> None:
    circle = tuple((3000 + 900 * math.cos(a / 30), 2000 + 900 * math.sin(a / 30)) for a in range(188))
    bay = Bay(ROOM, (Obstacle(circle),) * 50)
    with pytest.raises(BadInput, match="too much"):
        fit(bay, list(range(72)), [asked(Part("disc", SOLID, circle), name=str(n)) for n in range(20)])


def test_what_would_keep_others_waiting_is_refused() -> None:
    # 36 different hexagons among 20 at 36 headings took 20 s to be told what would help.
    circle = [(900 * math.cos(n * math.pi / 3), 900 * math.sin(n * math.pi / 3)) for n in range(6)]
    parts = [Part(str(n), SOLID, tuple((x + 10 * n, y) for x, y in circle)) for n in range(36)]
    posts = (Obstacle(tuple(circle)),) * 20
    with pytest.raises(BadInput, match="too much"):
        fit(Bay(ROOM, posts), range(36), [asked(*parts)])


def test_a_ring_may_run_either_way_round() -> None:
    there, back = fit(Bay(ROOM), [0], [asked()]), fit(Bay(ROOM[::-1]), [0], [asked()])
    assert there.one_pose
    assert there.margin_mm == pytest.approx(back.margin_mm)
