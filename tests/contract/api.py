"""The contract as the code makes it, and how to send its examples."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import httpx
import jsonschema_rs
import pytest

from snapline_service import contract

FOLDER = Path(__file__).parents[2] / "openapi"
DOCUMENT: dict[str, Any] = json.loads(contract.files()["openapi.json"])

on_sqlite = pytest.mark.parametrize("demo_service", ["sqlite"], indirect=True, scope="session")


@dataclass(frozen=True)
class Operation:
    """One operation of the document."""

    path: str
    method: str
    described: dict[str, Any]

    @property
    def id(self) -> str:
        return str(self.described["operationId"])

    @property
    def parameters(self) -> list[dict[str, Any]]:
        return [resolved(parameter) for parameter in self.described["parameters"]]

    @property
    def body(self) -> dict[str, Any] | None:
        """The body's schema and example."""
        if "requestBody" not in self.described:
            return None
        content: dict[str, Any] = self.described["requestBody"]["content"][self.media]
        return content

    @property
    def media(self) -> str:
        """The one media type that a body may have."""
        (media,) = self.described["requestBody"]["content"] if "requestBody" in self.described else ("",)
        return str(media)

    @property
    def success(self) -> dict[str, Any]:
        """The answer that everything leads to when it goes well."""
        return resolved(self.described["responses"][self.success_status])

    @property
    def success_status(self) -> str:
        """The last of the statuses of success but a part's: before it is what is only validated."""
        return str(max(status for status in self.described["responses"] if status < "3" and status != "206"))

    def request(
        self, http: httpx.Client, names: Mapping[str, str] = MappingProxyType({}), **more: Any
    ) -> httpx.Request:
        """Return the request that the examples make, without filters; ``names`` stand in the path instead."""
        path = self.path
        for parameter in self.parameters:
            if parameter["in"] == "path":
                name = names.get(parameter["name"], str(parameter["example"]))
                path = path.replace(f"{{{parameter['name']}}}", name)
        headers = more.pop("headers", {})
        if self.body:
            example = self.body["example"]
            more = {"content": example if isinstance(example, str) else json.dumps(example), **more}
            headers = {"content-type": self.media, **headers}
        return http.build_request(self.method, path, headers=headers, **more)


def operations() -> Iterator[Operation]:
    """Yield every operation."""
    for path, methods in DOCUMENT["paths"].items():
        for method, described in methods.items():
            yield Operation(path, method, described)


OPERATIONS = {operation.id: operation for operation in operations()}
every_operation = pytest.mark.parametrize("operation", OPERATIONS.values(), ids=OPERATIONS)


def resolved(part: dict[str, Any]) -> dict[str, Any]:
    """Follow a reference, if it is one."""
    if "$ref" not in part:
        return part
    found: Any = DOCUMENT
    for step in part["$ref"].removeprefix("#/").split("/"):
        found = found[step]
    return resolved(found)


def faults(value: Any, schema: dict[str, Any]) -> list[str]:
    """Return what is wrong with a value under a schema of the document."""
    checker = _checker(json.dumps(schema, sort_keys=True))
    return [f"{list(error.instance_path)}: {error.message}" for error in checker.iter_errors(value)]


@cache
def _checker(schema: str) -> Any:
    whole = {"components": DOCUMENT["components"], **json.loads(schema)}
    return jsonschema_rs.Draft202012Validator(whole)


def named_schemas(part: Any, seen: frozenset[str] = frozenset()) -> dict[str, dict[str, Any]]:
    """Return every named schema that a part of the document leads to."""
    found: dict[str, dict[str, Any]] = {}
    waiting = [part]
    while waiting:
        here = waiting.pop()
        if isinstance(here, list):
            waiting += here
        elif isinstance(here, dict):
            reference = here.get("$ref", "")
            name = reference.rpartition("/")[2]
            if "/schemas/" in reference and name not in found:
                found[name] = DOCUMENT["components"]["schemas"][name]
                waiting.append(found[name])
            elif reference and "/schemas/" not in reference:
                waiting.append(resolved(here))
            waiting += [inner for key, inner in here.items() if key not in ("example", "examples")]
    return found


def answer_faults(operation: Operation, answer: httpx.Response) -> list[str]:
    """Return in what an answer departs from the document: status, media type, headers and body."""
    status = str(answer.status_code)
    if status not in operation.described["responses"]:
        return [f"the status {status} is not described"]
    described = resolved(operation.described["responses"][status])
    wrong = []
    for name, reference in described.get("headers", {}).items():
        header = resolved(reference)
        if name in answer.headers:
            text = answer.headers[name]
            value = int(text) if header["schema"]["type"] == "integer" else text
            wrong += [f"{name} {fault}" for fault in faults(value, header["schema"])]
        elif header["required"]:
            wrong.append(f"the header {name} is missing")
    if "content" not in described:
        return wrong + (["there is a body"] if answer.content else [])
    media = answer.headers["content-type"].partition(";")[0]
    if media not in described["content"]:
        return [*wrong, f"the media type {media} is not described"]
    if media == "application/json" or media.endswith("+json"):
        wrong += faults(answer.json(), described["content"][media]["schema"])
    return wrong
