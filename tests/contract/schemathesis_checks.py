"""What every problem must be besides fitting its schema, asked of every answer that schemathesis gets."""

import json
from typing import Any

import schemathesis

# Faults of form, which data that fit the document cannot have.
OF_FORM = {"MALFORMED_JSON", "UNKNOWN_FIELD", "MEDIA_TYPE_NOT_SUPPORTED", "METHOD_NOT_ALLOWED"}


@schemathesis.deserializer(
    "application/pdf",
    "application/x-ndjson",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "application/vnd.sqlite3",
    "application/zip",
    "text/csv",
)
def as_it_is(context: Any, response: schemathesis.Response) -> str:
    """A sheet, a file or a stream of lines is no JSON: the document says nothing of what is in it."""
    return response.content.decode("latin-1")


@schemathesis.serializer("application/x-ndjson")
def as_lines(context: Any, value: Any) -> bytes:
    """Send whatever is made up as the text of a body."""
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")


@schemathesis.check
def problems_say_what_is_wrong_and_where(
    context: schemathesis.CheckContext, response: schemathesis.Response, case: schemathesis.Case[Any]
) -> None:
    """A problem agrees with its answer, says how to mend it, and points to a place of the request."""
    if not response.headers.get("content-type", [""])[0].startswith("application/problem+json"):
        return
    problem = json.loads(response.content)
    assert problem["status"] == response.status_code
    assert problem["type"] == f"/problems/{problem['code'].lower().replace('_', '-')}"
    assert problem["request_id"] == response.headers["x-request-id"][0]
    assert problem["errors"]
    assert all(fault["detail"] and fault["mend"] for fault in problem["errors"])
    mode = case.meta.generation.mode if case.meta else None
    if mode is schemathesis.GenerationMode.POSITIVE and response.status_code == 422:
        codes = {fault["code"] for fault in problem["errors"]}
        if case.media_type == "application/merge-patch+json":  # of a document: the document says any object
            codes.discard("UNKNOWN_FIELD")
        assert not codes & OF_FORM, f"data that fit the document are refused for their form: {codes}"
    if isinstance(case.body, dict):
        for fault in problem["errors"]:
            assert leads_into(case.body, fault["pointer"]), f"{fault['pointer']} is no place of the request"


def leads_into(value: Any, pointer: str) -> bool:
    """Say whether a pointer leads to a place of a value, or to where a field of it is missing (RFC 6901)."""
    for step in pointer.split("/")[1:]:
        name = step.replace("~1", "/").replace("~0", "~")
        if isinstance(value, dict):
            if name not in value:
                return True
            value = value[name]
        elif isinstance(value, list) and name.isdigit() and int(name) < len(value):
            value = value[int(name)]
        else:
            return False
    return True
