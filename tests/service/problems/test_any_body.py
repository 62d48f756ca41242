"""No body whatever makes the service fail: arbitrary JSON, and good bodies spoiled at random."""

import json
from typing import Any

import httpx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.problems.bodies import GONE, GOOD, places_in, problem_of, spoiled

numbers = st.one_of(
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([10**400, -(10**30), 2**63, 1e308, 5e-324, -0.0, 0.05, 90.0, 1e6]),
)
words = st.one_of(
    st.text(max_size=20),
    st.sampled_from(
        ["centreline", "thrust_line", "sensor:front", "sensor:side", "wheel:rear_left", "floor", "plate"]
    ),
)
values = st.recursive(
    st.none() | st.booleans() | numbers | words,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(words, inner, max_size=4),
    max_leaves=12,
)
every_route = pytest.mark.parametrize("route", GOOD)
some = settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])


def never_fails(http: httpx.Client, route: str, body: Any) -> None:
    answer = http.post(route, content=json.dumps(body), headers={"accept": "application/json"})
    if answer.status_code == 200:
        # Whatever is answered is a result: strict JSON, with no infinity or NaN among its numbers.
        json.loads(answer.content, parse_constant=pytest.fail)
    else:
        problem_of(http, answer)


@every_route
@some
@given(body=values)
def test_arbitrary_json_is_answered_or_refused(http: httpx.Client, route: str, body: Any) -> None:
    never_fails(http, route, body)


@every_route
@some
@given(data=st.data())
def test_a_good_body_spoiled_at_random_is_answered_or_refused(
    http: httpx.Client, route: str, data: st.DataObject
) -> None:
    body = GOOD[route]
    for _ in range(data.draw(st.integers(1, 3))):
        if inner := places_in(body)[1:]:
            pointer, value = data.draw(st.sampled_from(inner))
            like = numbers if isinstance(value, int | float) else words if isinstance(value, str) else values
            body = spoiled(body, {pointer: data.draw(st.one_of(like, values, st.just(GONE)))})
    never_fails(http, route, body)


@every_route
@some
@given(body=st.binary(max_size=200))
def test_arbitrary_bytes_are_refused(http: httpx.Client, route: str, body: bytes) -> None:
    problem_of(http, http.post(route, content=body))
