"""The document by itself: it is valid OpenAPI, says everything once, and keeps what the wire types say."""

from typing import Any

import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from contract.api import DOCUMENT, OPERATIONS, Operation, every_operation, faults, named_schemas, resolved
from snapline.wire.keys import SCOPES
from snapline.wire.vocabulary import SYSTEM_KINDS
from snapline_service.problems import KINDS

SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]
SENT = {
    name: s for o in OPERATIONS.values() for name, s in named_schemas(o.described.get("requestBody")).items()
}
ANSWERED = {
    name: s for o in OPERATIONS.values() for name, s in named_schemas(o.described["responses"]).items()
}


def test_it_is_valid_openapi_3_1() -> None:
    assert list(OpenAPIV31SpecValidator(DOCUMENT).iter_errors()) == []


@every_operation
def test_every_operation_has_a_name_a_known_tag_and_a_sentence(operation: Operation) -> None:
    assert operation.id.islower()
    assert operation.id.replace("_", "").isalpha()
    assert set(operation.described["tags"]) <= {tag["name"] for tag in DOCUMENT["tags"]}
    summary = operation.described["summary"]
    assert summary[0].isupper()
    assert summary.endswith(".")
    assert len(summary) < 120


def test_every_tag_is_explained_and_used() -> None:
    used = {tag for operation in OPERATIONS.values() for tag in operation.described["tags"]}
    assert {tag["name"] for tag in DOCUMENT["tags"] if tag["description"]} == used


def test_no_component_is_left_over() -> None:
    assert set(SENT) | set(ANSWERED) == set(SCHEMAS)


def objects(schema: Any) -> list[dict[str, Any]]:
    """Return every object schema with fields in a schema, at any depth."""
    if isinstance(schema, list):
        return [found for part in schema for found in objects(part)]
    if not isinstance(schema, dict):
        return []
    here = [schema] if "properties" in schema else []
    return here + [found for part in schema.values() for found in objects(part)]


@pytest.mark.parametrize("name", sorted(SENT))
def test_what_is_sent_is_closed_at_every_depth(name: str) -> None:
    found = objects(SENT[name])
    assert found
    assert all(schema["additionalProperties"] is False for schema in found)


@pytest.mark.parametrize("name", sorted(ANSWERED))
def test_what_is_answered_may_grow(name: str) -> None:
    assert all("additionalProperties" not in schema for schema in objects(ANSWERED[name]))


def test_an_unknown_field_deep_in_a_dict_is_refused_by_the_document_too() -> None:
    body = OPERATIONS["compute_placement"].body
    assert body is not None
    assert faults(body["example"], body["schema"]) == []
    sensors = {"front_radar": {**body["example"]["vehicle"]["sensors"]["front_radar"], "colour": "red"}}
    wrong = {**body["example"], "vehicle": {**body["example"]["vehicle"], "sensors": sensors}}
    assert "colour" in faults(wrong, body["schema"])[0]


def test_limits_inside_lists_and_dicts_are_kept() -> None:
    fields = SCHEMAS["IdentifyRequest"]["properties"]
    assert fields["build_codes"]["items"] == {"type": "string", "minLength": 1, "maxLength": 20}
    assert fields["build_codes"]["maxItems"] == 200
    assert fields["answers"]["additionalProperties"]["maxLength"] == 120
    uncertainties = SCHEMAS["SetupRequest"]["properties"]["standard_uncertainty"]
    assert (uncertainties["additionalProperties"]["minimum"], uncertainties["maxProperties"]) == (0, 200)
    assert SCHEMAS["VehicleGeometry"]["properties"]["sensors"]["propertyNames"]["maxLength"] == 80


def test_an_open_list_of_words_says_which_are_known_and_takes_others() -> None:
    filters = {p["name"]: p["schema"] for p in OPERATIONS["list_vehicles"].parameters}
    assert filters["system_kind"]["x-extensible-enum"] == list(SYSTEM_KINDS)
    assert faults("thermal_camera", filters["system_kind"]) == []
    assert "x-extensible-enum" in SCHEMAS["System"]["properties"]["kind"]


@every_operation
def test_every_body_and_parameter_has_an_example_that_is_valid(operation: Operation) -> None:
    for parameter in operation.parameters:
        assert faults(parameter["example"], parameter["schema"]) == []
    if operation.body:
        assert faults(operation.body["example"], operation.body["schema"]) == []


@every_operation
def test_every_refusal_is_a_problem_with_a_description(operation: Operation) -> None:
    for status, answer in operation.described["responses"].items():
        described = resolved(answer)
        assert described["description"]
        assert "X-Request-Id" in described["headers"]
        if status.startswith("4"):
            assert list(described["content"]) == ["application/problem+json"]


def test_every_kind_of_problem_is_shown_under_its_status() -> None:
    shown = {}
    for component in DOCUMENT["components"]["responses"].values():
        content = component["content"]["application/problem+json"]
        for code, example in content.get("examples", {}).items():
            assert faults(example["value"], content["schema"]) == []
            assert example["value"]["code"] == code
            shown[code] = example["value"]["status"]
    # A method that is not described is no operation, so its refusal has no place in the document.
    assert shown == {code: kind.status for code, kind in KINDS.items() if kind.status != 405}


@every_operation
def test_every_operation_of_the_api_needs_a_key_and_one_scope(operation: Operation) -> None:
    if operation.path.startswith("/v1/"):
        ((scope,),) = (requirement["key"] for requirement in operation.described["security"])
        assert scope in SCOPES
    else:
        assert operation.described["security"] == []
