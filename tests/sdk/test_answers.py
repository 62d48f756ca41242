"""Answers of a newer service are read as far as this SDK knows; what is no answer is refused."""

import httpx
import pytest
import respx

import snapline
from snapline import Snapline
from snapline.resources.setups import compute_setup
from snapline.wire.setups import SetupRequest


def test_unknown_fields_do_not_hurt(
    wire: respx.MockRouter, client: Snapline, vehicle: dict[str, object]
) -> None:
    dimensions = {"wheelbase_mm": 2620.0, "ground_clearance_mm": 151.0}
    wire.get("/v1/vehicles/x").respond(json=vehicle | {"dimensions": dimensions, "weather": "fine"})
    assert client.vehicles.get("x").dimensions.wheelbase_mm == 2620.0


def test_unknown_words_in_open_lists_are_kept(
    wire: respx.MockRouter, client: Snapline, vehicle: dict[str, object]
) -> None:
    system = {"id": "s", "kind": "quantum_radar", "name": "A system of the future"}
    wire.get("/v1/vehicles/x").respond(json=vehicle | {"body": "hovercraft", "systems": [system]})
    answer = client.vehicles.get("x")
    assert answer.body == "hovercraft"
    assert answer.systems[0].kind == "quantum_radar"


@pytest.mark.parametrize(
    "response",
    [
        pytest.param(httpx.Response(200, html="<html>Log in to the wireless network</html>"), id="portal"),
        pytest.param(httpx.Response(200, content=b""), id="empty"),
        pytest.param(httpx.Response(200, content=b'{"items": ['), id="cut-off"),
        pytest.param(httpx.Response(200, json={"items": [{"id": 7}]}), id="wrong-type"),
        pytest.param(httpx.Response(200, json=[]), id="not-an-object"),
        pytest.param(httpx.Response(200, content=b"\xff"), id="not-utf-8"),
        pytest.param(httpx.Response(302, headers={"location": "https://elsewhere.example/"}), id="redirect"),
        pytest.param(httpx.Response(304), id="confirmation-not-asked-for"),
        pytest.param(
            httpx.Response(200, headers={"content-encoding": "gzip"}, stream=httpx.ByteStream(b"plain")),
            id="broken-compression",
        ),
    ],
)
def test_what_is_no_answer_is_refused_once_with_its_request_id(
    wire: respx.MockRouter, client: Snapline, response: httpx.Response
) -> None:
    route = wire.get("/v1/vehicles").mock(side_effect=lambda _: response)
    with pytest.raises(snapline.ResponseUnreadable) as caught:
        client.vehicles.list()
    assert caught.value.request_id == route.calls.last.request.headers["x-request-id"]
    assert len(caught.value.attempts) == 1
    assert route.call_count == 1


def test_a_redirect_is_not_followed_but_named(wire: respx.MockRouter, client: Snapline) -> None:
    wire.get("/v1/vehicles").respond(301, headers={"location": "https://elsewhere.example/"})
    with pytest.raises(snapline.ResponseUnreadable, match=r"redirect to https://elsewhere\.example/"):
        client.vehicles.list()


def test_a_drawing_is_the_text_of_an_svg(wire: respx.MockRouter, client: Snapline) -> None:
    svg = '<svg xmlns="http://www.w3.org/2000/svg"><text>2 000 mm – Größe</text></svg>'
    route = wire.post("/v1/setups").respond(
        content=svg.encode(), headers={"content-type": "image/svg+xml; charset=utf-8"}
    )
    assert client.setups.drawing(vehicle_id="v", procedure_id="p") == svg
    assert route.calls.last.request.headers["accept"] == "image/svg+xml"


@pytest.mark.parametrize(
    ("content", "content_type"),
    [(b"<html></html>", "text/html"), (b"{}", "application/json"), (b"\xff", "image/svg+xml")],
)
def test_another_text_is_not_taken_for_a_drawing(
    wire: respx.MockRouter, client: Snapline, content: bytes, content_type: str
) -> None:
    wire.post("/v1/setups").respond(content=content, headers={"content-type": content_type})
    with pytest.raises(snapline.ResponseUnreadable):
        client.setups.drawing(vehicle_id="v", procedure_id="p")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_number_that_json_lacks_is_refused_with_its_place_and_not_sent_as_null(
    wire: respx.MockRouter, client: Snapline, value: float
) -> None:
    route = wire.post("/v1/setups")
    with pytest.raises(
        snapline.UnusableValue, match=r"^/measured/vehicle\.a~1b_mm is not a finite"
    ) as refused:
        client.setups.compute(vehicle_id="v", procedure_id="p", measured={"vehicle.a/b_mm": value})
    assert isinstance(refused.value, ValueError)
    assert not route.called


def test_a_request_is_encoded_once_and_as_given() -> None:
    request = SetupRequest(vehicle_id="v", procedure_id="p", measured={"vehicle.wheelbase_mm": 2620.5})
    assert compute_setup(request).content() == (
        b'{"vehicle_id":"v","procedure_id":"p","measured":{"vehicle.wheelbase_mm":2620.5}}'
    )
