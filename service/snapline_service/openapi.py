"""The OpenAPI document, from the routes and the wire types' own schemas.

The framework could write one itself, but loses limits inside lists, closed objects and discriminators.
"""

from collections.abc import Iterable
from typing import Any

from litestar import Litestar
from litestar.handlers import HTTPRouteHandler
from litestar.routes import HTTPRoute

from snapline.wire.problems import Problem
from snapline_service import schemas
from snapline_service.problems import MEDIA_TYPE
from snapline_service.reads import Read

_PREFIX = "#/components/schemas/"
_DESCRIPTION = (
    "What must be calibrated on this car after this repair, with which fixtures, exactly where on the floor. "
    "Lengths are in millimetres and angles in degrees by ISO 8855. The vehicle maker's current procedure "
    "governs."
)
_HEADERS = {
    "X-Request-Id": {"description": "Names this exchange in logs.", "schema": {"type": "string"}},
    "Catalogue-Revision": {"description": "The revision answered from.", "schema": {"type": "integer"}},
    "ETag": {"description": "Strong; names these very bytes.", "schema": {"type": "string"}},
}


def document(app: Litestar, reads: Iterable[Read]) -> dict[str, Any]:
    """Return the whole document."""
    reads = tuple(reads)
    handlers = sorted(_handlers(app), key=lambda handler: str(handler.operation_id))
    bodies = [body for handler in handlers if (body := _body_type(handler))]
    types = [*bodies, *map(_answer_type, handlers), *(read.answers for read in reads), Problem]
    types += [read.query for read in reads if read.query]
    roots, named = schemas.components(dict.fromkeys(types), _PREFIX)
    schema_of = dict(zip(dict.fromkeys(types), roots, strict=True))
    for body in bodies:
        _close(schema_of[body], named)
    paths: dict[str, Any] = {}
    for handler in handlers:
        path = _plain(next(iter(handler.paths)))
        method = next(iter(handler.http_methods)).lower()
        paths.setdefault(path, {})[method] = _computed(handler, path, schema_of)
    for read in reads:
        query = named.pop(read.query.__name__) if read.query else None
        paths.setdefault(read.path, {})["get"] = _prepared(read, query, schema_of)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Snapline",
            "version": "1",
            "description": _DESCRIPTION,
            "license": {"name": "MIT"},
        },
        "servers": [{"url": "/"}],
        "security": [{"key": []}],
        "paths": dict(sorted(paths.items())),
        "components": {
            "schemas": dict(sorted(named.items())),
            "headers": _HEADERS,
            "responses": {
                "Problem": {
                    "description": "Why the request could not be answered (RFC 9457).",
                    "headers": _headers("X-Request-Id"),
                    "content": {MEDIA_TYPE: {"schema": schema_of[Problem]}},
                }
            },
            "securitySchemes": {"key": {"type": "http", "scheme": "bearer"}},
        },
    }


def _handlers(app: Litestar) -> Iterable[HTTPRouteHandler]:
    for route in app.routes:
        if isinstance(route, HTTPRoute):
            yield from (h for h in route.route_handlers if h.resolve_include_in_schema() and h.operation_id)


def _body_type(handler: HTTPRouteHandler) -> Any:
    field = handler.parsed_data_field
    return field.annotation if field else None


def _answer_type(handler: HTTPRouteHandler) -> Any:
    return handler.opt.get("answers") or handler.parsed_return_field.annotation


def _computed(handler: HTTPRouteHandler, path: str, schema_of: dict[Any, Any]) -> dict[str, Any]:
    body, public = _body_type(handler), not path.startswith("/v1/")
    content = {"application/json": {"schema": schema_of[_answer_type(handler)]}}
    content |= {media: {"schema": {"type": "string"}} for media in handler.opt.get("also", ())}
    operation: dict[str, Any] = {
        "operationId": handler.operation_id,
        "tags": sorted(handler.resolve_tags()),
        "summary": " ".join((handler.fn.__doc__ or "").split()),
        "responses": {
            "200": {"description": "The answer.", "headers": _headers("X-Request-Id"), "content": content},
            **_problems(*(("404",) if public else ("400", "401", "403", "404", "413", "422"))),
        },
    }
    if body:
        operation["requestBody"] = {
            "required": True,
            "content": {"application/json": {"schema": schema_of[body]}},
        }
    if names := _path_parameters(path):
        operation["parameters"] = names
    if public:
        operation["security"] = []
    return operation


def _prepared(read: Read, query: dict[str, Any] | None, schema_of: dict[Any, Any]) -> dict[str, Any]:
    parameters = _path_parameters(read.path)
    for name, schema in (query or {}).get("properties", {}).items():
        parameters.append({"name": name, "in": "query", "required": False, "schema": _without_null(schema)})
    parameters.append(
        {"name": "If-None-Match", "in": "header", "required": False, "schema": {"type": "string"}}
    )
    found = {
        "description": "The answer.",
        "headers": _headers("X-Request-Id", "Catalogue-Revision", "ETag"),
        "content": {"application/json": {"schema": schema_of[read.answers]}},
    }
    unchanged = {"description": "You have it already.", "headers": _headers("X-Request-Id", "ETag")}
    return {
        "operationId": read.operation_id,
        "tags": [read.tag],
        "summary": read.summary,
        "parameters": parameters,
        "responses": {"200": found, "304": unchanged, **_problems("401", "403", "404", "422")},
    }


def _path_parameters(path: str) -> list[dict[str, Any]]:
    names = [part[1:-1] for part in path.split("/") if part.startswith("{")]
    return [{"name": name, "in": "path", "required": True, "schema": {"type": "string"}} for name in names]


def _problems(*statuses: str) -> dict[str, Any]:
    return {status: {"$ref": "#/components/responses/Problem"} for status in statuses}


def _headers(*names: str) -> dict[str, Any]:
    return {name: {"$ref": f"#/components/headers/{name}"} for name in names}


def _plain(path: str) -> str:
    """Return a path with bare parameter names: the framework's carry a type."""
    return "/".join(
        part.partition(":")[0] + "}" if part.startswith("{") else part for part in path.split("/")
    )


def _without_null(schema: dict[str, Any]) -> dict[str, Any]:
    """A query parameter is left out rather than null."""
    rest = {key: part for key, part in schema.items() if key not in ("anyOf", "default")}
    kinds = [kind for kind in schema.get("anyOf", []) if kind != {"type": "null"}]
    default = {"default": schema["default"]} if schema.get("default") is not None else {}
    return {**(kinds[0] if kinds else {}), **rest, **default}


def _close(schema: dict[str, Any], named: dict[str, dict[str, Any]]) -> None:
    """Refuse unknown fields in everything that a request is made of."""
    waiting, done = [schema], set()
    while waiting:
        part = waiting.pop()
        if isinstance(part, list):
            waiting += part
        elif isinstance(part, dict):
            name = str(part.get("$ref", "")).removeprefix(_PREFIX)
            if name and name not in done:
                done.add(name)
                schemas.close(named[name])
                waiting.append(named[name])
            waiting += [inner for key, inner in part.items() if key not in ("examples", "default")]
