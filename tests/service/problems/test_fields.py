"""Every field of every body spoiled by itself: the problem points at it and at nothing else."""

import httpx
import pytest

from service.problems.bodies import GONE, GOOD, OWN_NAMES, REQUIRED, Json, places_in, problem_of, spoiled

EVERY_PLACE = [(route, pointer) for route, body in GOOD.items() for pointer, _ in places_in(body) if pointer]
EVERY_OBJECT = [
    (route, pointer)
    for route, body in GOOD.items()
    for pointer, value in places_in(body)
    if isinstance(value, dict) and pointer not in OWN_NAMES
]

# A body is refused before anything looks at a database, so one engine will do for this many.
pytestmark = pytest.mark.parametrize("demo_service", ["sqlite"], indirect=True)


def refused(http: httpx.Client, route: str, body: Json) -> list[dict[str, str]]:
    faults: list[dict[str, str]] = problem_of(http, http.post(route, json=body), 422)["errors"]
    return faults


def json_type(value: Json) -> type:
    return float if isinstance(value, int) and not isinstance(value, bool) else type(value)


def of_other_types(value: Json) -> list[Json]:
    """Return a value of each JSON type that this one is not of; whether null will do is asked below."""
    others: list[Json] = ["12", 12.5, True, [1], {"a": 1}]
    return [other for other in others if json_type(other) is not json_type(value)]


@pytest.mark.parametrize(("route", "pointer"), EVERY_PLACE)
def test_a_value_of_another_type_is_pointed_at(http: httpx.Client, route: str, pointer: str) -> None:
    value = dict(places_in(GOOD[route]))[pointer]
    for other in of_other_types(value):
        faults = refused(http, route, spoiled(GOOD[route], {pointer: other}))
        # An object with fields of its own is told which of them are missing or unknown.
        pointers = {fault["pointer"] for fault in faults}
        if isinstance(other, dict) and pointer in {
            at for at, v in places_in(GOOD[route]) if isinstance(v, dict)
        }:
            assert all(found.startswith(pointer) for found in pointers), other
        else:
            assert pointers == {pointer}, other


@pytest.mark.parametrize(("route", "pointer"), [(r, p) for r, pointers in REQUIRED.items() for p in pointers])
def test_a_missing_field_is_pointed_at(http: httpx.Client, route: str, pointer: str) -> None:
    (fault,) = refused(http, route, spoiled(GOOD[route], {pointer: GONE}))
    assert (fault["pointer"], fault["code"]) == (pointer, "MISSING_FIELD")
    assert f"'{pointer.rpartition('/')[2]}'" in fault["detail"]
    # Null is no value for what must be there.
    (fault,) = refused(http, route, spoiled(GOOD[route], {pointer: None}))
    assert fault["pointer"] == pointer


@pytest.mark.parametrize(("route", "pointer"), EVERY_OBJECT)
def test_an_unknown_field_is_pointed_at_wherever_it_stands(
    http: httpx.Client, route: str, pointer: str
) -> None:
    for name, escaped in (("colour", "colour"), ("a/b~c", "a~1b~0c"), ("", ""), ("x" * 300, "x" * 300)):
        faults = refused(http, route, spoiled(GOOD[route], {f"{pointer}/{escaped}": 1}))
        assert [(f["pointer"], f["code"]) for f in faults] == [(f"{pointer}/{escaped}", "UNKNOWN_FIELD")], (
            name
        )


def test_a_slip_of_the_pen_is_recognised(http: httpx.Client) -> None:
    body = spoiled(
        GOOD["/v1/geometry/placement"], {"/vehicle/wheelbase_mm": GONE, "/vehicle/weelbase_mm": 2800}
    )
    faults = refused(http, "/v1/geometry/placement", body)
    assert {(fault["pointer"], fault["code"]) for fault in faults} == {
        ("/vehicle/wheelbase_mm", "MISSING_FIELD"),
        ("/vehicle/weelbase_mm", "UNKNOWN_FIELD"),
    }
    assert any("Did you mean 'wheelbase_mm'?" in fault["detail"] for fault in faults)


def test_every_fault_is_named_at_once(http: httpx.Client) -> None:
    wrong = {
        "/vehicle/wheelbase_mm": -1,
        "/vehicle/width_mm": "wide",
        "/vehicle/sensors/front/x_mm": GONE,
        "/placement/along/datum": "bumper",
        "/placement/colour": "red",
        "/bay_pose/heading_deg": 361,
        "/standard_uncertainty/vehicle.wheelbase_mm": -2,
    }
    faults = refused(http, "/v1/geometry/placement", spoiled(GOOD["/v1/geometry/placement"], wrong))
    assert {fault["pointer"] for fault in faults} == set(wrong)
