"""What happens can be seen, and neither keys nor VINs with it."""

import json
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import msgspec
import pytest

from conftest import settings_in
from running import Service, running
from snapline_service import database
from snapline_service.demo import scenario

VIN = "S7MCE2D41P1402286"
# The example of W3C Trace Context, section 3.2.4.
TRACE_ID, PARENT_ID = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"


@pytest.fixture(scope="module")
def observed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Service, str, Path]]:
    """A service of two workers that logs everything to a file."""
    folder = tmp_path_factory.mktemp("observed")
    settings = settings_in(folder, f"sqlite:///{folder}/snapline.db")
    database.migrate(settings.database)
    key = scenario.load(settings)
    log = folder / "log"
    talkative = msgspec.structs.replace(settings, log_level="debug")
    with running(talkative, "--workers", "2", log=log) as service:
        yield service, key, log


@pytest.fixture(scope="module")
def lines(observed: tuple[Service, str, Path]) -> list[dict[str, Any]]:
    """The log after one request of each sort."""
    service, key, log = observed
    headers = {"authorization": f"Bearer {key}", "traceparent": f"00-{TRACE_ID}-{PARENT_ID}-01"}
    with httpx.Client(base_url=service.url, headers=headers) as client:
        client.get("/v1/vehicles/mirandeux-celadine-2023-eu", headers={"x-request-id": "look-up"})
        client.get(f"/v1/vehicles/{VIN}", headers={"x-request-id": "vin-in-the-path"})
        client.get(f"/v1/{VIN}", headers={"x-request-id": "vin-elsewhere"})
        client.post("/v1/vehicles/identify", json={"vin": VIN}, headers={"x-request-id": "identify"})
        client.post("/v1/vehicles/identify", json={"vin": VIN[:-1]}, headers={"x-request-id": "short"})
        client.get("/v1/fixtures", headers={"x-request-id": "bad-trace", "traceparent": "00-zz-1-1"})
    with httpx.Client(base_url=service.url) as stranger:
        stranger.get(
            "/v1/fixtures", headers={"x-request-id": "stranger", "authorization": "Bearer snl_guess"}
        )
    until = time.monotonic() + 10
    while '"stranger"' not in log.read_text():  # a line is written once its answer is sent
        assert time.monotonic() < until
        time.sleep(0.05)
    return [json.loads(line) for line in log.read_text().splitlines()]


def of(lines: list[dict[str, Any]], request_id: str) -> dict[str, Any]:
    (line,) = (line for line in lines if line.get("request_id") == request_id)
    return line


def test_every_line_is_json_and_every_request_has_one(lines: list[dict[str, Any]]) -> None:
    found = {line["request_id"]: (line["route"], line["status"]) for line in lines if "request_id" in line}
    assert found["look-up"] == ("/v1/vehicles/{vehicle_id}", 200)
    assert found["vin-in-the-path"] == ("/v1/vehicles/{vehicle_id}", 404)
    assert found["vin-elsewhere"] == ("unmatched", 404)
    assert found["identify"] == ("/v1/vehicles/identify", 200)
    assert found["short"] == ("/v1/vehicles/identify", 422)
    assert found["stranger"] == ("/v1/fixtures", 401)


def test_the_callers_trace_goes_on(lines: list[dict[str, Any]]) -> None:
    line = of(lines, "identify")
    assert (line["trace_id"], line["parent_id"]) == (TRACE_ID, PARENT_ID)
    assert re.fullmatch("[0-9a-f]{16}", line["span_id"])
    assert "trace_id" not in of(lines, "bad-trace")


def test_neither_vins_nor_keys_are_logged(
    observed: tuple[Service, str, Path], lines: list[dict[str, Any]]
) -> None:
    text = observed[2].read_text()
    assert lines
    assert VIN not in text
    assert VIN[:-1] not in text
    assert observed[1] not in text
    assert "snl_" not in text


def test_any_worker_answers_the_metrics_of_all(observed: tuple[Service, str, Path]) -> None:
    service, key, _ = observed
    address, wanted = f"{service.url}/v1/fixtures/match", 40
    for _ in range(wanted):  # a new connection each, so that both workers get some
        httpx.post(address, json={"capability": "x"}, headers={"authorization": f"Bearer {key}"})
    for _ in range(5):
        text = httpx.get(f"{service.url}/metrics").text
        counted = re.search(
            r'snapline_requests_total\{method="POST",route="/v1/fixtures/match",status="200"\} (\d+)', text
        )
        assert counted, text
        assert int(counted[1]) == wanted
    assert 'snapline_request_duration_seconds_bucket{le="0.001",route="/v1/fixtures/match"}' in text


def test_ready_means_that_the_database_answers(observed: tuple[Service, str, Path]) -> None:
    service = observed[0]
    assert httpx.get(f"{service.url}/readyz").json() == {"status": "pass"}
    assert httpx.get(f"{service.url}/livez").json() == {"status": "pass"}
