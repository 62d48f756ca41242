"""Bulk: a line in, a line out, in order; a bad line spoils none of the others."""

import json
from collections.abc import Iterator
from itertools import cycle, islice

import httpx
import msgspec
import pytest

from running import Service
from snapline import Snapline
from snapline.wire.scope import RepairLine
from snapline.wire.visits import VisitRequest

NDJSON = {"content-type": "application/x-ndjson"}
ONE = VisitRequest(
    vehicle_id="mirandeux-celadine-2023-eu",
    operations=(RepairLine(operation="front bumper cover", extent="replaced"),),
    date="2028-03-04",
    sites=("mill-road",),
)
GOOD = msgspec.json.encode(ONE)


@pytest.fixture
def http(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    service, key = demo_service
    headers = {"authorization": f"Bearer {key}"}
    with httpx.Client(base_url=service.url, headers=headers, timeout=60) as opened:
        yield opened


def lines(answer: httpx.Response) -> list[dict[str, object]]:
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].startswith("application/x-ndjson")
    return [json.loads(line) for line in answer.text.splitlines()]


def test_every_line_has_its_answer_and_a_bad_one_spoils_none(http: httpx.Client) -> None:
    body = b"\n".join([GOOD, b"{not json", GOOD, b'{"vehicle_id": "x"}', b"", GOOD, b"x" * 200_000, GOOD])
    found = lines(http.post("/v1/visits/plan/bulk", content=body, headers=NDJSON))
    assert [line["line"] for line in found] == [1, 2, 3, 4, 6, 7, 8]
    codes = {line["line"]: line["problem"]["code"] for line in found if "problem" in line}  # type: ignore[index]
    assert codes == {2: "MALFORMED_JSON", 4: "INVALID_VALUE", 7: "BODY_TOO_LARGE"}
    assert all(line["plan"]["outcome"] == "can" for line in found if "plan" in line)  # type: ignore[index]


def test_lines_may_arrive_in_any_pieces(http: httpx.Client) -> None:
    body = GOOD + b"\n" + GOOD
    pieces = (body[at : at + 7] for at in range(0, len(body), 7))
    found = lines(http.post("/v1/visits/plan/bulk", content=pieces, headers=NDJSON))
    assert [line["line"] for line in found] == [1, 2]


def test_the_first_answer_comes_before_the_last_line_was_sent(http: httpx.Client) -> None:
    """Nothing is gathered up: a body without end is answered line by line."""
    sent = islice(cycle([GOOD + b"\n"]), 300)
    with http.stream("POST", "/v1/visits/plan/bulk", content=sent, headers=NDJSON) as answer:
        first = next(answer.iter_lines())
        assert json.loads(first)["line"] == 1


def test_the_sdk_walks_through_any_number(client: Snapline) -> None:
    wrong = msgspec.structs.replace(ONE, vehicle_id="nobody")
    found = list(client.visits.plan_many([ONE, wrong, ONE, ONE, wrong], at_once=2))
    assert [(one.line, one.plan is not None) for one in found] == [
        (1, True), (2, False), (3, True), (4, True), (5, False),
    ]  # fmt: skip
    assert found[1].problem is not None
    assert found[1].problem.code == "UNKNOWN_NAME"


def test_another_media_type_is_refused_before_a_line_is_read(http: httpx.Client) -> None:
    answer = http.post("/v1/visits/plan/bulk", content=GOOD, headers={"content-type": "application/json"})
    assert answer.status_code == 415
    assert answer.headers["accept"] == "application/x-ndjson"


def test_without_a_key_no_line_is_read(demo_service: tuple[Service, str]) -> None:
    answer = httpx.post(f"{demo_service[0].url}/v1/visits/plan/bulk", content=GOOD, headers=NDJSON)
    assert answer.status_code == 401
