"""Hand-made changes of the document: those that break a program, and harmless ones."""

import copy
from collections.abc import Callable
from typing import Any

Part = dict[str, Any]
Change = Callable[[Part], object]


def operation(document: Part, operation_id: str) -> Part:
    methods = (methods for methods in document["paths"].values())
    return next(o for m in methods for o in m.values() if o["operationId"] == operation_id)


def fields(document: Part, schema: str) -> Part:
    found: Part = document["components"]["schemas"][schema]["properties"]
    return found


def parameter(document: Part, operation_id: str, name: str) -> Part:
    return next(p for p in operation(document, operation_id)["parameters"] if p.get("name") == name)


def required(document: Part, schema: str) -> list[str]:
    found: list[str] = document["components"]["schemas"][schema]["required"]
    return found


def without_null(field: Part) -> None:
    field["anyOf"] = [kind for kind in field["anyOf"] if kind != {"type": "null"}]


def both(*changes: Change) -> Change:
    """Return one change made of several."""

    def change(document: Part) -> None:
        for one in changes:
            one(document)

    return change


BREAKING: dict[str, tuple[Change, str]] = {
    "path-removed": (lambda d: d["paths"].pop("/v1/setups"), "The path /v1/setups is no longer there."),
    "operation-removed": (
        lambda d: d["paths"]["/v1/keys"].pop("post"),
        "POST /v1/keys is no longer there.",
    ),
    "operation-renamed": (
        lambda d: operation(d, "get_vehicle").update(operationId="fetch_vehicle"),
        "GET /v1/vehicles/{vehicle_id} is now called fetch_vehicle instead of get_vehicle.",
    ),
    "server-moved": (lambda d: d["servers"][0].update(url="/api"), "The server '/' is no longer there."),
    "security-scheme-removed": (
        lambda d: d["components"]["securitySchemes"].pop("key"),
        "The security scheme 'key' is no longer there.",
    ),
    "security-scheme-changed": (
        lambda d: d["components"]["securitySchemes"]["key"].update(scheme="basic"),
        "The security scheme 'key' works in another way.",
    ),
    "key-needed": (
        lambda d: operation(d, "live").update(security=[{"key": []}]),
        "GET /livez needs another key or scope.",
    ),
    "other-scope-needed": (
        lambda d: operation(d, "compute_setup").update(security=[{"key": ["edit"]}]),
        "POST /v1/setups needs another key or scope.",
    ),
    "parameter-removed": (
        lambda d: operation(d, "list_vehicles")["parameters"].remove(parameter(d, "list_vehicles", "q")),
        "GET /v1/vehicles no longer takes the query parameter 'q'.",
    ),
    "parameter-needed": (
        lambda d: parameter(d, "list_vehicles", "make").update(required=True),
        "GET /v1/vehicles now needs the query parameter 'make'.",
    ),
    "new-parameter-needed": (
        lambda d: operation(d, "list_fixtures")["parameters"].append(
            {"name": "site", "in": "query", "required": True, "schema": {"type": "string"}}
        ),
        "GET /v1/fixtures now needs the new query parameter 'site'.",
    ),
    "parameter-read-otherwise": (
        lambda d: parameter(d, "list_vehicles", "make").update(style="pipeDelimited"),
        "GET /v1/vehicles reads the query parameter 'make' in another way.",
    ),
    "parameter-narrowed": (
        lambda d: parameter(d, "list_vehicles", "page_size")["schema"].update(maximum=100),
        "GET /v1/vehicles: the query parameter 'page_size' no longer takes larger numbers.",
    ),
    "parameter-default": (
        lambda d: parameter(d, "list_vehicles", "page_size")["schema"].update(default=20),
        "GET /v1/vehicles: the query parameter 'page_size' has another default, 20 instead of 50.",
    ),
    "parameter-of-other-type": (
        lambda d: parameter(d, "list_vehicles", "model_year")["schema"].update(type="string"),
        "GET /v1/vehicles: the query parameter 'model_year' no longer takes integer.",
    ),
    "word-of-an-open-list-removed": (
        lambda d: parameter(d, "list_vehicles", "system_kind")["schema"]["x-extensible-enum"].remove(
            "laser_scanner"
        ),
        "GET /v1/vehicles: the query parameter 'system_kind' no longer knows the word 'laser_scanner'.",
    ),
    "body-needed": (
        lambda d: operation(d, "revoke_key").update(
            requestBody={"required": True, "content": {"application/json": {"schema": {"type": "object"}}}}
        ),
        "DELETE /v1/keys/{key_id} now needs a body.",
    ),
    "body-removed": (
        lambda d: operation(d, "issue_key").pop("requestBody"),
        "POST /v1/keys no longer takes a body.",
    ),
    "body-of-other-media-type": (
        lambda d: operation(d, "compute_setup")["requestBody"].update(content={"text/csv": {"schema": {}}}),
        "POST /v1/setups no longer takes a body as application/json.",
    ),
    "request-field-removed": (
        lambda d: fields(d, "SetupRequest").pop("drawn_stage"),
        "POST /v1/setups: the body no longer takes the field 'drawn_stage'.",
    ),
    "request-field-removed-deep-inside": (
        lambda d: fields(d, "SensorInput").pop("pitch_deg"),
        "POST /v1/geometry/placement: the body at /vehicle/sensors/{} no longer takes the field 'pitch_deg'.",
    ),
    "request-field-needed": (
        lambda d: required(d, "IdentifyRequest").append("vin"),
        "POST /v1/vehicles/identify: the body now needs the field 'vin'.",
    ),
    "new-request-field-needed": (
        both(
            lambda d: fields(d, "ReflectorRequest").update(material={"type": "string"}),
            lambda d: required(d, "ReflectorRequest").append("material"),
        ),
        "POST /v1/geometry/reflector: the body now needs the new field 'material'.",
    ),
    "request-null-refused": (
        lambda d: without_null(fields(d, "SetupRequest")["bay_pose"]),
        "POST /v1/setups: the body at /bay_pose no longer takes null.",
    ),
    "request-word-refused": (
        lambda d: fields(d, "IdentifyRequest")["drive_side"]["anyOf"][0]["enum"].remove("right"),
        "POST /v1/vehicles/identify: the body at /drive_side no longer takes the value 'right'.",
    ),
    "request-words-listed": (
        lambda d: fields(d, "PlacementInput")["aim_line"].update(enum=[1]),
        "POST /v1/geometry/placement: the body at /placement/aim_line no longer takes other values than [1].",
    ),
    "request-number-limited-below": (
        lambda d: fields(d, "VehicleGeometry")["rear_overhang_mm"].update(exclusiveMinimum=0),
        "POST /v1/geometry/placement: the body at /vehicle/rear_overhang_mm no longer takes smaller numbers.",
    ),
    "request-number-limited-above": (
        lambda d: fields(d, "RadarNeedInput")["frequency_ghz"].update(maximum=300),
        "POST /v1/fixtures/match: the body at /radar/frequency_ghz no longer takes larger numbers.",
    ),
    "request-whole-numbers-only": (
        lambda d: fields(d, "BayPoseInput")["x_mm"].update(type="integer"),
        "POST /v1/geometry/placement: the body at /bay_pose/x_mm no longer takes number.",
    ),
    "request-text-shortened-in-a-list": (
        lambda d: fields(d, "IdentifyRequest")["build_codes"]["items"].update(maxLength=10),
        "POST /v1/vehicles/identify: the body at /build_codes/* no longer takes longer texts.",
    ),
    "request-text-lengthened": (
        lambda d: fields(d, "IdentifyRequest")["build_codes"]["items"].update(minLength=2),
        "POST /v1/vehicles/identify: the body at /build_codes/* no longer takes shorter texts.",
    ),
    "request-list-shortened": (
        lambda d: fields(d, "KeyRequest")["scopes"].update(maxItems=1),
        "POST /v1/keys: the body at /scopes no longer takes more entries.",
    ),
    "request-dict-shortened": (
        lambda d: fields(d, "SetupRequest")["measured"].update(maxProperties=10),
        "POST /v1/setups: the body at /measured no longer takes more entries.",
    ),
    "request-dict-values-narrowed": (
        lambda d: fields(d, "SetupRequest")["measured"]["additionalProperties"].update(minimum=0),
        "POST /v1/setups: the body at /measured/{} no longer takes smaller numbers.",
    ),
    "request-dict-names-narrowed": (
        lambda d: fields(d, "SetupRequest")["placements"]["propertyNames"].update(maxLength=20),
        "POST /v1/setups: the body at /placements/{name} no longer takes longer texts.",
    ),
    "request-pattern-changed": (
        lambda d: fields(d, "SetupRequest")["vehicle_id"].update(pattern="^[a-z]+$"),
        "POST /v1/setups: the body at /vehicle_id no longer takes texts of another pattern than ^[a-z]+$.",
    ),
    "request-format-added": (
        lambda d: fields(d, "SetupRequest")["vehicle_id"].update(format="uuid"),
        "POST /v1/setups: the body at /vehicle_id no longer takes texts of another format than uuid.",
    ),
    "request-default-changed": (
        lambda d: fields(d, "SetupRequest")["by_property"].update(default=True),
        "POST /v1/setups: the body at /by_property has another default, True instead of False.",
    ),
    "status-removed": (
        lambda d: operation(d, "get_vehicle")["responses"].pop("304"),
        "GET /v1/vehicles/{vehicle_id} no longer answers 304.",
    ),
    "new-status-of-success": (
        lambda d: operation(d, "compute_setup")["responses"].update({"202": {"description": "Later."}}),
        "POST /v1/setups may now answer 202.",
    ),
    "answer-media-type-removed": (
        lambda d: operation(d, "compute_setup")["responses"]["200"]["content"].pop("image/svg+xml"),
        "POST /v1/setups no longer gives its answer 200 as image/svg+xml.",
    ),
    "header-removed": (
        lambda d: operation(d, "get_fixture")["responses"]["200"]["headers"].pop("ETag"),
        "GET /v1/fixtures/{fixture_id} no longer has the header ETag in its answer 200.",
    ),
    "header-no-longer-sure": (
        lambda d: d["components"]["headers"]["ETag"].update(required=False),
        "GET /v1/fixtures/{fixture_id} may leave out the header ETag in its answer 304.",
    ),
    "header-of-other-type": (
        lambda d: d["components"]["headers"]["Catalogue-Revision"]["schema"].update(type="string"),
        "GET /v1/vehicles: the header Catalogue-Revision of the answer 200 may now hold string.",
    ),
    "answer-field-removed": (
        lambda d: fields(d, "Vehicle").pop("build_codes"),
        "GET /v1/vehicles/{vehicle_id}: the answer 200 no longer has the field 'build_codes'.",
    ),
    "needed-answer-field-removed": (
        both(lambda d: fields(d, "Pose").pop("roll_deg"), lambda d: required(d, "Pose").remove("roll_deg")),
        "POST /v1/geometry/placement: the answer 200 at /in_vehicle no longer has the field 'roll_deg'.",
    ),
    "answer-field-no-longer-sure": (
        lambda d: required(d, "FixtureSummary").remove("capabilities"),
        "GET /v1/fixtures: the answer 200 at /items/* need no longer hold the field 'capabilities'.",
    ),
    "answer-field-may-be-null": (
        lambda d: fields(d, "VehicleSummary").update(make={"anyOf": [{"type": "string"}, {"type": "null"}]}),
        "GET /v1/vehicles: the answer 200 at /items/*/make may now hold null.",
    ),
    "answer-field-of-other-type": (
        lambda d: fields(d, "Setup")["catalogue_revision"].update(type="number"),
        "POST /v1/setups: the answer 200 at /catalogue_revision may now hold number.",
    ),
    "answer-word-new-in-a-closed-list": (
        lambda d: fields(d, "VehicleSummary")["drive_side"]["enum"].append("middle"),
        "GET /v1/vehicles: the answer 200 at /items/*/drive_side may now hold the value 'middle'.",
    ),
    "answer-list-no-longer-closed": (
        lambda d: fields(d, "VehicleSummary").update(drive_side={"type": "string"}),
        (
            "GET /v1/vehicles: the answer 200 at /items/*/drive_side may now hold other values than "
            "['left', 'right']."
        ),
    ),
    "answer-may-be-longer": (
        lambda d: fields(d, "VehicleSummary")["make"].update(maxLength=500),
        "GET /v1/vehicles: the answer 200 at /items/*/make may now hold longer texts.",
    ),
    "answer-pattern-dropped": (
        lambda d: fields(d, "VehicleSummary")["id"].pop("pattern"),
        (
            "GET /v1/vehicles: the answer 200 at /items/*/id may now hold texts of another pattern than "
            "^[a-z0-9][a-z0-9_-]*$."
        ),
    ),
    "answer-point-may-grow": (
        lambda d: fields(d, "PlacedFixture")["footprint"]["items"].update(maxItems=3),
        "POST /v1/setups: the answer 200 at /stages/*/placements/*/footprint/* may now hold more entries.",
    ),
    "answer-point-of-other-type": (
        lambda d: fields(d, "PlacedFixture")["footprint"]["items"]["prefixItems"][1].update(type="string"),
        "POST /v1/setups: the answer 200 at /stages/*/placements/*/footprint/*/1 may now hold string.",
    ),
    "problem-field-removed": (
        both(lambda d: fields(d, "Problem").pop("code"), lambda d: required(d, "Problem").remove("code")),
        "POST /v1/setups: the answer 422 no longer has the field 'code'.",
    ),
}


GOOD: dict[str, Change] = {
    "path-added": lambda d: d["paths"].update({"/v1/lifts": {"get": operation(d, "list_fixtures")}}),
    "operation-added": lambda d: d["paths"]["/v1/setups"].update(get={**operation(d, "get_fixture")}),
    "optional-parameter-added": lambda d: operation(d, "list_vehicles")["parameters"].append(
        {"name": "site", "in": "query", "schema": {"type": "string"}}
    ),
    "parameter-widened": lambda d: parameter(d, "list_vehicles", "page_size")["schema"].update(maximum=500),
    "parameter-no-longer-needed": lambda d: parameter(d, "get_vehicle", "vehicle_id").update(required=False),
    "word-added-to-an-open-list": lambda d: parameter(d, "list_vehicles", "system_kind")["schema"][
        "x-extensible-enum"
    ].append("thermal_camera"),
    "optional-request-field-added": lambda d: fields(d, "SetupRequest").update(site={"type": "string"}),
    "request-field-no-longer-needed": lambda d: required(d, "SetupRequest").remove("procedure_id"),
    "request-field-may-be-null": lambda d: fields(d, "ReflectorRequest").update(
        frequency_ghz={"anyOf": [fields(d, "ReflectorRequest")["frequency_ghz"], {"type": "null"}]}
    ),
    "request-word-added": lambda d: fields(d, "IdentifyRequest")["drive_side"]["anyOf"][0]["enum"].append(
        "middle"
    ),
    "request-limit-lifted": lambda d: fields(d, "SensorInput")["z_mm"].pop("maximum"),
    "request-limit-met": lambda d: fields(d, "VehicleGeometry")["width_mm"].update(
        minimum=fields(d, "VehicleGeometry")["width_mm"].pop("exclusiveMinimum")
    ),
    "request-any-number": lambda d: parameter(d, "list_vehicles", "model_year")["schema"].update(
        type="number"
    ),
    "request-pattern-dropped": lambda d: fields(d, "SetupRequest")["vehicle_id"].pop("pattern"),
    "request-text-longer": lambda d: fields(d, "IdentifyRequest")["build_codes"]["items"].update(
        maxLength=99
    ),
    "body-in-another-media-type": lambda d: operation(d, "compute_setup")["requestBody"]["content"].update(
        {"text/csv": {"schema": {"type": "string"}}}
    ),
    "body-no-longer-needed": lambda d: operation(d, "issue_key")["requestBody"].update(required=False),
    "answer-field-added": lambda d: fields(d, "Vehicle").update(colours={"type": "array"}),
    "answer-field-always-there": lambda d: required(d, "VehiclePage").append("next_page_token"),
    "answer-never-null": lambda d: without_null(fields(d, "VehicleSummary")["model_year_last"]),
    "answer-whole-numbers-only": lambda d: fields(d, "ReflectorAnswer")["rcs_m2"].update(type="integer"),
    "answer-word-removed": lambda d: fields(d, "VehicleSummary")["drive_side"]["enum"].remove("right"),
    "answer-shorter": lambda d: fields(d, "VehicleSummary")["make"].update(maxLength=50),
    "answer-default-changed": lambda d: fields(d, "Problem")["retryable"].update(default=True),
    "answer-in-another-media-type": lambda d: operation(d, "compute_setup")["responses"]["200"][
        "content"
    ].update({"application/pdf": {"schema": {"type": "string"}}}),
    "header-added": lambda d: operation(d, "live")["responses"]["200"]["headers"].update(
        Age={"required": True, "schema": {"type": "integer"}}
    ),
    "header-always-there": lambda d: d["components"]["headers"]["RateLimit"].update(required=True),
    "refusal-added": lambda d: operation(d, "live")["responses"].update({"418": {"description": "Tea."}}),
    "key-no-longer-needed": lambda d: operation(d, "list_fixtures").update(security=[]),
    "another-way-to-sign-in": lambda d: (
        d["components"]["securitySchemes"].update(
            badge={"type": "apiKey", "in": "header", "name": "X-Badge"}
        ),
        operation(d, "get_fixture")["security"].append({"badge": []}),
    ),
    "server-added": lambda d: d["servers"].append({"url": "https://north.example"}),
    "told-otherwise": both(
        lambda d: operation(d, "live").update(summary="Does it live?", tags=["health"], deprecated=True),
        lambda d: fields(d, "Setup")["measured"].update(description="What was measured.", title="Measured"),
        lambda d: d["info"].update(version="2"),
    ),
    "schema-written-in-place": lambda d: fields(d, "PlacementRequest").update(
        vehicle=copy.deepcopy(d["components"]["schemas"]["VehicleGeometry"])
    ),
}
