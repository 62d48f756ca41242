"""Safe calls are repeated, with pauses that a person can predict; nothing else is."""

import asyncio
from collections.abc import Callable
from typing import Any

import httpx
import pytest
import respx
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Struct

import snapline
from snapline import AsyncSnapline, Attempt, Call, Pace, Snapline
from snapline.resources.geometry import compute_reflector
from snapline.retry import RetryPolicy, retry_after_s
from snapline.wire.geometry import ReflectorRequest

from .conftest import StoppedClock

OK = httpx.Response(200, json={"rcs_m2": 1.0, "rcs_dbsm": 0.0, "wavelength_mm": 3.9})


def reflector(client: Snapline) -> Any:
    return client.geometry.reflector(shape="plate", frequency_ghz=77.0, width_mm=100.0, height_mm=100.0)


@pytest.mark.parametrize("status", [408, 429, 500, 502, 503, 504])
def test_a_read_is_tried_three_times(
    wire: respx.MockRouter, client: Snapline, clock: StoppedClock, status: int
) -> None:
    route = wire.get("/v1/vehicles/x").respond(status)
    with pytest.raises(snapline.ProblemError) as caught:
        client.vehicles.get("x")
    assert route.call_count == 3
    assert [attempt.status for attempt in caught.value.attempts] == [status] * 3
    assert "3 attempts" in str(caught.value)


@pytest.mark.parametrize("status", [400, 401, 403, 404, 405, 409, 412, 413, 415, 422, 428])
def test_an_answer_that_will_not_change_is_not_asked_for_again(
    wire: respx.MockRouter, client: Snapline, clock: StoppedClock, status: int
) -> None:
    route = wire.get("/v1/vehicles/x").respond(status)
    with pytest.raises(snapline.ProblemError):
        client.vehicles.get("x")
    assert route.call_count == 1
    assert clock.pauses_s == []


def test_a_pure_computation_is_repeated_although_it_is_a_post(
    wire: respx.MockRouter, client: Snapline
) -> None:
    route = wire.post("/v1/geometry/reflector").mock(side_effect=[httpx.Response(503), OK])
    assert reflector(client).rcs_m2 == 1.0
    assert route.call_count == 2
    first, second = (call.request for call in route.calls)
    assert first.content == second.content
    assert first.headers["x-request-id"] == second.headers["x-request-id"]


class Note(Struct):
    text: str


@pytest.mark.parametrize("failure", [httpx.Response(503), httpx.ReadTimeout("slow")])
def test_a_call_that_changes_something_is_never_repeated(
    wire: respx.MockRouter, client: Snapline, failure: httpx.Response | Exception
) -> None:
    route = wire.post("/v1/notes").mock(side_effect=[failure])
    with pytest.raises(snapline.SnaplineError) as caught:
        client.send(Call(method="POST", route="/v1/notes", answer=Note, body=Note("kept once")))
    assert route.call_count == 1
    assert len(caught.value.attempts) == 1


def test_a_broken_connection_is_tried_again_and_each_attempt_told(
    wire: respx.MockRouter, open_client: Callable[..., Snapline]
) -> None:
    told: list[Attempt] = []
    client = open_client(on_retry=told.append)
    wire.post("/v1/geometry/reflector").mock(
        side_effect=[httpx.ConnectError("refused"), httpx.Response(502), OK]
    )
    response = client.send(compute_reflector(ReflectorRequest(shape="plate", frequency_ghz=77.0)))
    assert response.attempts == tuple(told)
    assert [attempt.number for attempt in told] == [1, 2]
    assert "refused" in told[0].failure
    assert told[1].status == 502
    assert all(attempt.wait_s is not None for attempt in told)


def test_retries_can_be_switched_off(wire: respx.MockRouter, open_client: Callable[..., Snapline]) -> None:
    route = wire.get("/v1/vehicles/x").respond(503)
    with pytest.raises(snapline.ServiceFailed):
        open_client(max_retries=0).vehicles.get("x")
    assert route.call_count == 1


def test_the_longest_pauses_double_from_half_a_second_to_eight(
    wire: respx.MockRouter, open_client: Callable[..., Snapline], clock: StoppedClock
) -> None:
    wire.get("/v1/vehicles/x").respond(503)
    with pytest.raises(snapline.ServiceFailed):
        open_client(max_retries=7).vehicles.get("x")
    assert clock.pauses_s == [0.5, 1.0, 2.0, 4.0, 8.0, 8.0, 8.0]


@given(failures=st.integers(1, 5000), dice=st.floats(0, 1, exclude_max=True))
def test_the_jitter_is_full(failures: int, dice: float) -> None:
    policy = RetryPolicy(max_retries=5000)
    wait_s = policy.wait_s(failures=failures, elapsed_s=0.0, retry_after_s=None, random=lambda: dice)
    ceiling_s = 8.0 if failures > 5 else 0.5 * 2 ** (failures - 1)
    assert wait_s == pytest.approx(dice * ceiling_s)


def test_the_pause_that_the_service_asks_for_is_kept(
    wire: respx.MockRouter, client: Snapline, clock: StoppedClock
) -> None:
    busy = httpx.Response(429, headers={"retry-after": "7"})
    wire.post("/v1/geometry/reflector").mock(side_effect=[busy, OK])
    reflector(client)
    assert clock.pauses_s == [7.0]


def test_a_pause_beyond_half_a_minute_is_left_to_the_caller(
    wire: respx.MockRouter, client: Snapline, clock: StoppedClock
) -> None:
    route = wire.get("/v1/vehicles/x").respond(429, headers={"retry-after": "31"})
    with pytest.raises(snapline.RateLimited) as caught:
        client.vehicles.get("x")
    assert caught.value.retry_after_s == 31.0
    assert route.call_count == 1
    assert clock.pauses_s == []


@pytest.mark.parametrize(
    ("headers", "expected_s"),
    [
        ({"retry-after": "3"}, 3.0),
        ({"retry-after": " 0 "}, 0.0),
        # The example date of RFC 9110, 10.2.3, two minutes after an invented Date.
        (
            {"retry-after": "Fri, 31 Dec 1999 23:59:59 GMT", "date": "Fri, 31 Dec 1999 23:57:59 GMT"},
            120.0,
        ),
        ({"retry-after": "Fri, 31 Dec 1999 23:59:59 GMT", "date": "Sat, 01 Jan 2000 00:10:00 GMT"}, 0.0),
        ({"retry-after": "Fri, 31 Dec 1999 23:59:59 GMT"}, 99.0),
        ({"retry-after": "soon"}, None),
        ({"retry-after": "-1"}, None),
        ({"retry-after": "1.5"}, None),
        ({"retry-after": "nan"}, None),
        ({"retry-after": "²"}, None),
        ({"retry-after": "9" * 5000}, float("inf")),
        ({}, None),
    ],
)
def test_retry_after_is_seconds_or_a_date(headers: dict[str, str], expected_s: float | None) -> None:
    end_of_1999_s = 946_684_799.0
    assert retry_after_s(headers, now_s=end_of_1999_s - 99.0) == expected_s


def test_no_pause_is_begun_that_would_outlast_the_deadline(
    wire: respx.MockRouter, open_client: Callable[..., Snapline], clock: StoppedClock
) -> None:
    route = wire.get("/v1/vehicles/x").respond(503)
    with pytest.raises(snapline.ServiceFailed) as caught:
        open_client(max_retries=9, deadline_s=3.0).vehicles.get("x")
    assert clock.pauses_s == [0.5, 1.0]
    assert route.call_count == 3
    assert caught.value.attempts[-1].wait_s is None


def test_an_attempt_may_not_take_longer_than_what_is_left(
    wire: respx.MockRouter, open_client: Callable[..., Snapline], clock: StoppedClock
) -> None:
    def slow(request: httpx.Request) -> httpx.Response:
        clock.pass_s(4.0)
        return httpx.Response(503)

    route = wire.get("/v1/vehicles/x").mock(side_effect=slow)
    with pytest.raises(snapline.ServiceFailed):
        open_client(deadline_s=6.0).vehicles.get("x")
    allowed = [call.request.extensions["timeout"] for call in route.calls]
    assert [timeout["read"] for timeout in allowed] == [6.0, 1.5]
    assert [timeout["connect"] for timeout in allowed] == [6.0, 1.5]


def test_the_asyncio_client_retries_alike(wire: respx.MockRouter, clock: StoppedClock) -> None:
    route = wire.get("/v1/vehicles/x").mock(
        side_effect=[httpx.Response(503), httpx.ReadTimeout("slow"), httpx.Response(404)]
    )

    async def ask() -> snapline.NotFound:
        async with AsyncSnapline("https://snapline.example", "k", pace=clock.pace()) as client:
            with pytest.raises(snapline.NotFound) as caught:
                await client.vehicles.get("x")
            return caught.value

    error = asyncio.run(ask())
    assert route.call_count == 3
    assert clock.pauses_s == [0.5, 1.0]
    assert [attempt.number for attempt in error.attempts] == [1, 2, 3]


def test_the_real_pauses_are_real() -> None:
    pace = Pace()
    assert 0.0 <= pace.random() < 1.0
    before_s = pace.monotonic()
    pace.sleep(0.01)
    asyncio.run(pace.sleep_async(0.01))  # type: ignore[arg-type]
    assert pace.monotonic() - before_s >= 0.02
