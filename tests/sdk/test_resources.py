"""Every method of every resource: its route, its arguments, and its twin for asyncio."""

import asyncio
import inspect
import json
import typing
from collections.abc import Callable
from types import ModuleType
from typing import Any

import msgspec
import pytest
import respx

from sdk import calls_of_the_catalogue, calls_of_the_work
from snapline import AsyncSnapline, Snapline, UnusableValue, resources
from snapline.resources import assets, fixtures, geometry, setups, sites, vehicles
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.as_set import AsSetObservation, AsSetRequest, NominalPose
from snapline.wire.catalogue import RadarNeed
from snapline.wire.common import BayPose
from snapline.wire.fixtures import FixtureMatchRequest, FixtureQuery, FixtureVehicleQuery
from snapline.wire.geometry import (
    AimToleranceRequest,
    Along,
    Height,
    Lateral,
    Placement,
    PlacementRequest,
    ReflectorRequest,
    Sensor,
    SpacePoint,
    VehicleGeometry,
)
from snapline.wire.setting_out import FloorMark, FloorPoint
from snapline.wire.setups import SetupRequest
from snapline.wire.sites import (
    AssetPatch,
    AssetQuery,
    Bay,
    BayPatch,
    Site,
    SiteAsset,
    SitePatch,
    SiteQuery,
)
from snapline.wire.vehicles import IdentifyRequest, VehicleQuery
from snapline.wire.verification import MeasuredDistance, MeasuredHeight, VerifyRequest

MODULES = [getattr(resources, noun) for noun in resources.__all__]

# A numbered car body: no make's dimensions.
CAR = VehicleGeometry(
    wheelbase_mm=2700.0,
    front_track_mm=1550.0,
    rear_track_mm=1540.0,
    front_overhang_mm=900.0,
    rear_overhang_mm=800.0,
    width_mm=1800.0,
)
AHEAD = Placement(
    aim_line="centreline",
    along=Along(datum="front_bumper", distance_mm=1500.0),
    lateral=Lateral(datum="aim_line", distance_mm=0.0),
    height=Height(datum="floor", distance_mm=1200.0),
    yaw_deg=180.0,
)
RADAR = RadarNeed(frequency_ghz=77.0, min_rcs_dbsm=10.0)
SITE = Site(id="one", name="One", time_zone="Europe/Berlin", latitude_deg=52.0, longitude_deg=11.0)
BAY = Bay(
    id="bay",
    name="Bay",
    surface="floor",
    ring=((0.0, 0.0), (9000.0, 0.0), (9000.0, 5000.0)),
    headings_deg=(0.0,),
)
BAY_SENT = json.loads(msgspec.json.encode(BAY))
ASSET = SiteAsset(id="three", site="one", fixture="board", serial="1", condition="in_service")

# Method and path of each call as the API contract lists them, with the body or query it must send.
Contract = tuple[str, str, Callable[[Any], Any], Any]
CALLS: list[Contract] = [
    (
        "POST",
        "/v1/vehicles/identify",
        lambda client: client.vehicles.identify(vin="INVENTED", answers={"glass": "cannot_tell"}),
        {"vin": "INVENTED", "answers": {"glass": "cannot_tell"}},
    ),
    (
        "GET",
        "/v1/vehicles",
        lambda client: client.vehicles.list(make="Veldt", system_kind="forward_radar", q=None),
        {"make": "Veldt", "system_kind": "forward_radar"},
    ),
    ("GET", "/v1/vehicles/one", lambda client: client.vehicles.get("one"), {}),
    ("GET", "/v1/vehicles/one/systems/two", lambda client: client.vehicles.get_system("one", "two"), {}),
    (
        "GET",
        "/v1/fixtures",
        lambda client: client.fixtures.list(capability="radar_target"),
        {"capability": "radar_target"},
    ),
    ("GET", "/v1/fixtures/board", lambda client: client.fixtures.get("board"), {}),
    (
        "GET",
        "/v1/fixtures/board/vehicles",
        lambda client: client.fixtures.vehicles("board", make="Veldt", by_property=True),
        {"make": "Veldt", "by_property": "true"},
    ),
    (
        "POST",
        "/v1/fixtures/match",
        lambda client: client.fixtures.match(radar=RADAR),
        {"radar": {"frequency_ghz": 77.0, "min_rcs_dbsm": 10.0}},
    ),
    (
        "POST",
        "/v1/setups",
        lambda client: client.setups.compute(
            vehicle_id="one",
            procedure_id="two",
            measured={"vehicle.thrust_yaw_deg": -0.1},
            bay_pose=BayPose(x_mm=1.0, y_mm=2.0, heading_deg=90.0),
        ),
        {
            "vehicle_id": "one",
            "procedure_id": "two",
            "measured": {"vehicle.thrust_yaw_deg": -0.1},
            "bay_pose": {"x_mm": 1.0, "y_mm": 2.0, "heading_deg": 90.0},
        },
    ),
    (
        "POST",
        "/v1/setups",
        lambda client: client.setups.sheet_html(vehicle_id="one", procedure_id="two"),
        {"vehicle_id": "one", "procedure_id": "two"},
    ),
    (
        "POST",
        "/v1/setups",
        lambda client: client.setups.sheet_pdf(vehicle_id="one", procedure_id="two", paper="letter"),
        {"vehicle_id": "one", "procedure_id": "two", "paper": "letter"},
    ),
    (
        "POST",
        "/v1/setups",
        lambda client: client.setups.drawing(vehicle_id="one", procedure_id="two"),
        {"vehicle_id": "one", "procedure_id": "two"},
    ),
    (
        "POST",
        "/v1/setups/verify",
        lambda client: client.setups.verify(
            vehicle_id="one",
            procedure_id="two",
            distances=[MeasuredDistance(placement="board", point="rear", mark="left", distance_mm=2500.0)],
            heights={"board": MeasuredHeight(height_mm=1200.0, u_mm=1.0)},
        ),
        {
            "vehicle_id": "one",
            "procedure_id": "two",
            "distances": [{"placement": "board", "point": "rear", "mark": "left", "distance_mm": 2500.0}],
            "heights": {"board": {"height_mm": 1200.0, "u_mm": 1.0}},
        },
    ),
    (
        "POST",
        "/v1/geometry/as-set",
        lambda client: client.geometry.as_set(
            marks={"left": FloorMark(x_mm=0.0, y_mm=900.0, u_mm=1.0)},
            feet=[FloorPoint(x_mm=0.0, y_mm=500.0)],
            observations=[AsSetObservation(mark="left", foot=0, distance_mm=2000.0, u_mm=1.0)],
            nominal=NominalPose(x_mm=2000.0, y_mm=0.0, yaw_deg=180.0, height_mm=1200.0),
            alpha=0.01,
        ),
        {
            "marks": {"left": {"x_mm": 0.0, "y_mm": 900.0, "u_mm": 1.0}},
            "feet": [{"x_mm": 0.0, "y_mm": 500.0}],
            "observations": [{"mark": "left", "foot": 0, "distance_mm": 2000.0, "u_mm": 1.0}],
            "nominal": {"x_mm": 2000.0, "y_mm": 0.0, "yaw_deg": 180.0, "height_mm": 1200.0},
            "alpha": 0.01,
        },
    ),
    (
        "POST",
        "/v1/geometry/placement",
        lambda client: client.geometry.placement(vehicle=CAR, placement=AHEAD),
        {"vehicle": msgspec.to_builtins(CAR), "placement": msgspec.to_builtins(AHEAD)},
    ),
    (
        "POST",
        "/v1/geometry/reflector",
        lambda client: client.geometry.reflector(
            shape="trihedral_triangular", frequency_ghz=77.0, leg_mm=100.0
        ),
        {"shape": "trihedral_triangular", "frequency_ghz": 77.0, "leg_mm": 100.0},
    ),
    (
        "POST",
        "/v1/geometry/aim-tolerance",
        lambda client: client.geometry.aim_tolerance(
            sensor=Sensor(x_mm=3600.0, y_mm=0.0, z_mm=500.0),
            nominal=SpacePoint(x_mm=6000.0, y_mm=0.0, z_mm=500.0),
            allowed_yaw_deg=0.5,
        ),
        {
            "sensor": {"x_mm": 3600.0, "y_mm": 0.0, "z_mm": 500.0, "yaw_deg": 0.0, "pitch_deg": 0.0},
            "nominal": {"x_mm": 6000.0, "y_mm": 0.0, "z_mm": 500.0},
            "allowed_yaw_deg": 0.5,
        },
    ),
    ("GET", "/v1/sites", lambda client: client.sites.list(page_size=5), {"page_size": "5"}),
    ("GET", "/v1/sites/one", lambda client: client.sites.get("one"), {}),
    ("POST", "/v1/sites", lambda client: client.sites.create(SITE), msgspec.to_builtins(SITE)),
    (
        "PATCH",
        "/v1/sites/one",
        lambda client: client.sites.update("one", SitePatch(name="New"), etag='"t"'),
        {"name": "New"},
    ),
    ("DELETE", "/v1/sites/one", lambda client: client.sites.delete("one", etag='"t"'), {}),
    ("GET", "/v1/sites/one/bays", lambda client: client.sites.bays("one"), {}),
    ("GET", "/v1/sites/one/bays/two", lambda client: client.sites.get_bay("one", "two"), {}),
    ("POST", "/v1/sites/one/bays", lambda client: client.sites.create_bay("one", BAY), BAY_SENT),
    (
        "PUT",
        "/v1/sites/one/bays/bay",
        lambda client: client.sites.replace_bay("one", BAY, etag='"t"'),
        BAY_SENT,
    ),
    (
        "PATCH",
        "/v1/sites/one/bays/two",
        lambda client: client.sites.update_bay("one", "two", BayPatch(ceiling_mm=None), etag='"t"'),
        {"ceiling_mm": None},
    ),
    (
        "DELETE",
        "/v1/sites/one/bays/two",
        lambda client: client.sites.delete_bay("one", "two", etag='"t"'),
        {},
    ),
    (
        "GET",
        "/v1/assets",
        lambda client: client.assets.list(site="one", condition="in_service"),
        {"site": "one", "condition": "in_service"},
    ),
    ("GET", "/v1/assets/three", lambda client: client.assets.get("three"), {}),
    ("POST", "/v1/assets", lambda client: client.assets.create(ASSET), msgspec.to_builtins(ASSET)),
    (
        "PATCH",
        "/v1/assets/three",
        lambda client: client.assets.update("three", AssetPatch(site="four"), etag='"t"'),
        {"site": "four"},
    ),
    ("DELETE", "/v1/assets/three", lambda client: client.assets.delete("three", etag='"t"'), {}),
    ("GET", "/v1/keys", lambda client: client.keys.list(), {}),
    (
        "POST",
        "/v1/keys",
        lambda client: client.keys.issue(holder="Bay 2 terminal", scopes=["read"], valid_days=30),
        {"holder": "Bay 2 terminal", "scopes": ["read"], "valid_days": 30},
    ),
    ("DELETE", "/v1/keys/key_1", lambda client: client.keys.revoke("key_1"), {}),
    *calls_of_the_work.CALLS,
    *calls_of_the_catalogue.CALLS,
]
# More than one call each, or no JSON: each has tests of its own here or where the service itself answers.
OF_THEIR_OWN = {"Visits.plan_many", "Changes.follow", "Spreadsheets.import_file"}


class Halt(Exception):
    """Raised in place of an answer: what was sent is all that matters here."""


@pytest.mark.parametrize("contract", CALLS, ids=lambda contract: f"{contract[0]} {contract[1]}")
def test_each_method_sends_what_the_contract_says(
    wire: respx.MockRouter, client: Snapline, contract: Contract
) -> None:
    method, path, ask, sent = contract

    async def ask_async() -> None:
        async with AsyncSnapline("https://snapline.example", "k") as other:
            await ask(other)

    route = wire.route(method=method, path=path).mock(side_effect=Halt)
    with pytest.raises(Halt):
        ask(client)
    with pytest.raises(Halt):
        asyncio.run(ask_async())
    assert route.call_count == 2
    for call in route.calls:
        request = call.request
        written = method in ("POST", "PUT", "PATCH")
        body = json.loads(request.content or b"null") if written else dict(request.url.params)
        assert body == sent
        assert request.url.query == b"" or method == "GET"


def test_no_method_is_left_out_of_that_list() -> None:
    halves_ = [halves(module)[0] for module in MODULES]
    methods = {f"{half.__name__}.{name}" for half in halves_ for name in public(half)}
    assert methods >= OF_THEIR_OWN
    assert len(methods) == len(CALLS) + len(OF_THEIR_OWN)


def test_a_vin_is_never_part_of_an_address(wire: respx.MockRouter, client: Snapline) -> None:
    route = wire.post("/v1/vehicles/identify").mock(side_effect=Halt)
    with pytest.raises(Halt):
        client.vehicles.identify(vin="WVZZZINVENTED0001")
    assert "WVZZZ" not in str(route.calls.last.request.url)


@pytest.mark.parametrize(
    ("given", "sent"),
    [
        ("a/b", b"a%2Fb"),
        ("a?b#c", b"a%3Fb%23c"),
        ("a%2Fb", b"a%252Fb"),
        ("größe 1", b"gr%C3%B6%C3%9Fe%201"),
        ("../../keys", b"..%2F..%2Fkeys"),
        ("a+b;c=d", b"a%2Bb%3Bc%3Dd"),
        ("plain-1_2.3~", b"plain-1_2.3~"),
    ],
)
def test_identifiers_are_percent_encoded(
    wire: respx.MockRouter, client: Snapline, given: str, sent: bytes
) -> None:
    route = wire.route(method="GET").mock(side_effect=Halt)
    with pytest.raises(Halt):
        client.vehicles.get_system(given, given)
    assert route.calls.last.request.url.raw_path == b"/v1/vehicles/" + sent + b"/systems/" + sent


@pytest.mark.parametrize("given", ["", ".", ".."])
def test_an_identifier_that_would_change_the_route_is_refused(client: Snapline, given: str) -> None:
    with pytest.raises(UnusableValue, match="system_id"):
        client.vehicles.get_system("one", given)


@pytest.mark.parametrize(
    ("ask", "request_"),
    [
        (lambda client, given: client.vehicles.identify(given), IdentifyRequest(make="Veldt")),
        (lambda client, given: client.vehicles.list(given), VehicleQuery(make="Veldt")),
        (lambda client, given: client.fixtures.list(given), FixtureQuery(capability="board")),
        (lambda client, given: client.sites.list(given), SiteQuery(page_token="x")),
        (lambda client, given: client.assets.list(given), AssetQuery(site="one")),
        (lambda client, given: client.fixtures.vehicles("b", given), FixtureVehicleQuery(make="Veldt")),
        (lambda client, given: client.fixtures.match(given), FixtureMatchRequest(capability="board")),
        (lambda client, given: client.setups.compute(given), SetupRequest(vehicle_id="v", procedure_id="p")),
        (lambda client, given: client.setups.drawing(given), SetupRequest(vehicle_id="v", procedure_id="p")),
        (
            lambda client, given: client.setups.sheet_pdf(given),
            SetupRequest(vehicle_id="v", procedure_id="p"),
        ),
        (
            lambda client, given: client.geometry.placement(given),
            PlacementRequest(vehicle=CAR, placement=AHEAD),
        ),
        (
            lambda client, given: client.geometry.reflector(given),
            ReflectorRequest(shape="plate", frequency_ghz=77.0),
        ),
        (
            lambda client, given: client.geometry.aim_tolerance(given),
            AimToleranceRequest(
                sensor=Sensor(x_mm=0.0, y_mm=0.0, z_mm=0.0),
                nominal=SpacePoint(x_mm=1.0, y_mm=0.0, z_mm=0.0),
                allowed_yaw_deg=1.0,
            ),
        ),
    ],
)
def test_a_request_may_be_given_whole(
    wire: respx.MockRouter, client: Snapline, ask: Callable[[Any, Any], Any], request_: msgspec.Struct
) -> None:
    route = wire.route().mock(side_effect=Halt)
    with pytest.raises(Halt):
        ask(client, request_)
    sent = route.calls.last.request
    body = json.loads(sent.content) if sent.method == "POST" else dict(sent.url.params)
    assert body == msgspec.to_builtins(request_)


def test_a_request_is_given_whole_or_by_its_fields(client: Snapline) -> None:
    with pytest.raises(TypeError, match="not both"):
        client.vehicles.identify(IdentifyRequest(make="Veldt"), model="One")


def test_an_argument_that_no_request_has_is_refused(client: Snapline) -> None:
    with pytest.raises(TypeError, match="colour"):
        client.vehicles.list(colour="red")  # type: ignore[call-arg]


def test_a_field_that_a_request_needs_is_asked_for(client: Snapline) -> None:
    with pytest.raises(TypeError, match="procedure_id"):
        client.setups.compute(vehicle_id="one")  # type: ignore[call-overload]


@pytest.mark.parametrize(
    ("fields", "request_"),
    [
        (vehicles.IdentifyFields, IdentifyRequest),
        (vehicles.VehicleFilters, VehicleQuery),
        (sites.SiteFilters, SiteQuery),
        (assets.AssetFilters, AssetQuery),
        (fixtures.FixtureFilters, FixtureQuery),
        (fixtures.FixtureVehicleFilters, FixtureVehicleQuery),
        (fixtures.MatchFields, FixtureMatchRequest),
        (setups.SetupFields, SetupRequest),
        (geometry.PlacementFields, PlacementRequest),
        (geometry.ReflectorFields, ReflectorRequest),
        (geometry.AimToleranceFields, AimToleranceRequest),
        (geometry.AsSetFields, AsSetRequest),
        (setups.VerifyFields, VerifyRequest),
    ],
)
def test_arguments_and_wire_type_have_the_same_fields(fields: Any, request_: type[msgspec.Struct]) -> None:
    on_the_wire = msgspec.structs.fields(request_)
    assert fields.__required_keys__ == {field.name for field in on_the_wire if field.required}
    assert fields.__optional_keys__ == {field.name for field in on_the_wire if not field.required}


def halves(module: ModuleType) -> tuple[type, type]:
    own = [kind for kind in vars(module).values() if inspect.isclass(kind)]
    (blocking,) = (kind for kind in own if issubclass(kind, Resource) and kind is not Resource)
    (other,) = (kind for kind in own if issubclass(kind, AsyncResource) and kind is not AsyncResource)
    return blocking, other


def public(kind: type) -> dict[str, Any]:
    return {name: member for name, member in vars(kind).items() if not name.startswith("_")}


def told(method: Callable[..., Any]) -> list[tuple[Any, object]]:
    """Parameters and answer of a method and of each of its overloads, without what asyncio adds."""
    signatures = [inspect.signature(form) for form in (method, *typing.get_overloads(method))]
    answers = [str(one.return_annotation).replace("AsyncListing[", "Page[") for one in signatures]
    answers = [
        answer.replace("snapline.paging.", "").replace("AsyncIterator[", "Iterator[") for answer in answers
    ]
    return list(zip([one.parameters for one in signatures], answers, strict=True))


@pytest.mark.parametrize("module", MODULES)
def test_blocking_and_asyncio_halves_are_the_same(module: ModuleType) -> None:
    blocking, other = (public(half) for half in halves(module))
    assert list(blocking) == list(other)
    for name in blocking:
        assert told(blocking[name]) == told(other[name])
        assert blocking[name].__doc__ == other[name].__doc__
        assert blocking[name].__doc__.splitlines()[0].endswith(".")


def test_the_two_clients_are_the_same() -> None:
    names = [name for name in dir(Snapline) if not name.startswith("_")]
    assert names == [name for name in dir(AsyncSnapline) if not name.startswith("_")]
    blocking, other = inspect.signature(Snapline), inspect.signature(AsyncSnapline)
    assert list(blocking.parameters) == list(other.parameters)
    for name in blocking.parameters.keys() - {"transport"}:
        assert blocking.parameters[name] == other.parameters[name]


def test_every_noun_is_on_both_clients(client: Snapline, key: str) -> None:
    other = AsyncSnapline(client.url, key)
    for noun in resources.__all__:
        blocking_half, other_half = halves(getattr(resources, noun))
        assert type(getattr(client, noun)) is blocking_half
        assert type(getattr(other, noun)) is other_half


def test_there_is_no_other_noun() -> None:
    with pytest.raises(AttributeError, match="boats"):
        _ = resources.boats
