"""Bay fit as any program that speaks HTTP asks for it."""

from collections.abc import Callable
from typing import Any

import httpx
import pytest

Json = dict[str, Any]
Calculate = Callable[[str, Json], Json]


def rectangle(x_min: float, y_min: float, x_max: float, y_max: float) -> list[list[float]]:
    return [[x_min, y_min], [x_max, y_min], [x_max, y_max], [x_min, y_max]]


CAR = {"name": "car", "kind": "solid", "polygon": rectangle(-1000, -900, 3500, 900)}
BOARD = {"name": "board", "kind": "solid", "polygon": rectangle(5000, -1200, 5200, 1200)}
MAT = {"name": "mat", "kind": "walking_margin", "polygon": rectangle(-3000, -900, -1500, 900)}
ROOM = rectangle(0, 0, 7000, 4000)


def body(*procedures: list[Json], headings: list[float] | None = None, **bay: Any) -> Json:
    return {
        "bay": {"ring": ROOM, **bay},
        "headings_deg": headings or [0],
        "procedures": [{"name": f"p{n}", "parts": parts} for n, parts in enumerate(procedures)],
    }


def test_the_answer_has_the_fields_of_the_contract(calculate: Calculate) -> None:
    # By hand: 7,000 − 6,200 mm leave 400 at either end; 4,000 − 2,400 leave 800 at either side.
    answer = calculate("bay-fit", body([CAR, BOARD]))
    assert set(answer) >= {"one_pose", "pose", "margin_mm", "poses", "unservable", "shortfall"}
    assert answer["one_pose"] is True
    assert answer["margin_mm"] == pytest.approx(400.0, abs=0.01)
    assert set(answer["pose"]) == {"x_mm", "y_mm", "heading_deg"}
    assert answer["pose"]["x_mm"] == pytest.approx(1400.0, abs=0.01)
    assert 1600 <= answer["pose"]["y_mm"] <= 2400
    assert answer["poses"] == [{**answer["pose"], "procedures": ["p0"]}]
    assert (answer["unservable"], answer["shortfall"], answer["obstacles_to_clear"]) == ([], [], [])


def test_without_one_pose_it_says_what_would_help(calculate: Calculate) -> None:
    answer = calculate("bay-fit", body([CAR, BOARD], [CAR, MAT]))
    assert (answer["one_pose"], answer["pose"], answer["margin_mm"]) == (False, None, None)
    assert [pose["procedures"] for pose in answer["poses"]] == [["p0"], ["p1"]]
    # By hand: from 3,000 behind to 5,200 ahead are 8,200 mm, so 1,200 are missing.
    assert [(one["wall"], one["outward"], one["because"]) for one in answer["shortfall"]] == [
        (1, [1.0, 0.0], {"procedure": "p0", "part": "board"}),
        (3, [-1.0, 0.0], {"procedure": "p1", "part": "mat"}),
    ]
    assert [one["missing_mm"] for one in answer["shortfall"]] == pytest.approx([1200.0] * 2, abs=0.5)


def test_obstacles_have_heights_of_their_own(calculate: Calculate) -> None:
    low = {**CAR, "z_min_mm": 0, "z_max_mm": 1500}
    beam: Json = {"obstacles": [rectangle(3000, 0, 3300, 4000)]}
    assert calculate("bay-fit", body([low], **beam))["obstacles_to_clear"] == [0]
    heights = [{"z_min_mm": 1500, "z_max_mm": 2000}]
    assert calculate("bay-fit", body([low], **beam, obstacle_heights=heights))["one_pose"] is True


def test_a_ring_is_numbered_as_it_was_sent(calculate: Calculate) -> None:
    clockwise = [[0, 0], [0, 4000], [7000, 4000], [7000, 0]]
    answer = calculate("bay-fit", body([CAR, BOARD, MAT], ring=clockwise))
    found = [(one["wall"], one["outward"]) for one in answer["shortfall"]]
    assert found == [(0, [-1.0, 0.0]), (2, [1.0, 0.0])]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"ring": [[0, 0], [7000, 4000], [7000, 0], [0, 4000]]}, "/bay/ring"),
        ({"ring": [[0, 0], [7000, 0]]}, "/bay/ring"),
        ({"ring": [[0, 0], [7000, 0], [2e6, 4000]]}, "/bay/ring/2/0"),
        ({"ceiling_mm": -1}, "/bay/ceiling_mm"),
        ({"doors": [{"from": [50, 0], "to": [50, 900], "open": True}]}, "/bay/doors/0"),
        ({"obstacles": [[[0, 0], [10, 10], [10, 0], [0, 10]]]}, "/bay/obstacles/0"),
        ({"obstacles": [ROOM], "obstacle_heights": []}, "/bay/obstacle_heights"),
        ({"obstacles": [ROOM], "obstacle_heights": [{"z_min_mm": -1}]}, "/bay/obstacle_heights/0/z_min_mm"),
    ],
)
def test_a_bay_that_cannot_be_is_a_problem(change: Json, pointer: str, http: httpx.Client) -> None:
    answer = http.post("/v1/geometry/bay-fit", json=body([CAR], **change))
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]
    assert answer.json()["errors"][0]["mend"]


def test_a_concave_part_is_named(http: httpx.Client) -> None:
    bent = {**CAR, "name": "bent", "polygon": [[0, 0], [900, 0], [900, 900], [450, 100], [0, 900]]}
    answer = http.post("/v1/geometry/bay-fit", json=body([CAR, bent]))
    (error,) = answer.json()["errors"]
    assert (answer.status_code, error["pointer"]) == (422, "/procedures/0/parts/1/polygon")
    assert "'bent' is not convex" in error["detail"]


def test_it_is_safe_to_repeat(http: httpx.Client) -> None:
    asked = body([CAR, BOARD], [CAR, MAT], headings=[0, 180])
    one, other = (http.post("/v1/geometry/bay-fit", json=asked) for _ in range(2))
    assert one.content == other.content


def test_much_at_once_is_answered(calculate: Calculate) -> None:
    """40 headings, 20 posts, 12 procedures of 6 parts each."""
    posts = [rectangle(600 * n, 50 + 3600 * (n % 2), 600 * n + 150, 200 + 3600 * (n % 2)) for n in range(20)]
    things = [
        {"name": f"t{n}", "kind": "solid", "polygon": rectangle(-900 + 700 * n, 1100, -500 + 700 * n, 1500)}
        for n in range(5)
    ]
    asked = body(*([CAR, *things] for _ in range(12)), headings=[9 * n for n in range(40)])
    asked["bay"] = {"ring": rectangle(0, 0, 12000, 4000), "obstacles": posts}
    answer = calculate("bay-fit", asked)
    assert answer["one_pose"] or answer["poses"] or len(answer["unservable"]) == 12
