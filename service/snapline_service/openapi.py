"""The OpenAPI document, from the routes and the wire types' own schemas.

The framework could write one itself, but loses limits inside lists, closed objects and discriminators.
"""

import re
from collections.abc import Iterable, Iterator
from functools import cache
from typing import Annotated, Any

import msgspec
from litestar import Litestar
from litestar.handlers import HTTPRouteHandler
from litestar.routes import HTTPRoute
from msgspec import Struct

from snapline.wire.common import Id
from snapline.wire.problems import Problem
from snapline_service import examples, openapi_parts, schemas
from snapline_service.access.callers import Needs
from snapline_service.openapi_parts import headers, parameters, refusals
from snapline_service.openapi_schemas import PREFIX, separate, without_null
from snapline_service.reads import Read
from snapline_service.requests import JSON


class _Operation(Struct, frozen=True, kw_only=True):
    """One operation, whether the framework serves it or a prepared look-up."""

    id: str
    path: str
    method: str
    tag: str
    text: str
    answers: Any = None
    status: int = 200
    body: Any = None
    query: type | None = None
    scope: str | None = None
    also: tuple[str, ...] = ()
    from_catalogue: bool = False
    writes: bool = False
    other: dict[str, str] = {}
    refused: tuple[str, ...] = ()
    tagged: bool = False
    conditional: bool = False
    media: str = JSON
    lines: bool = False
    file: tuple[str, ...] = ()
    pieces: bool = False
    upload: bool = False
    adds: bool = False
    numbers: frozenset[str] = frozenset()


@cache
def encoded(app: Litestar, reads: tuple[Read, ...]) -> bytes:
    """Return the whole document as JSON, made once for each application."""
    return msgspec.json.encode(document(app, reads))


def document(app: Litestar, reads: Iterable[Read]) -> dict[str, Any]:
    """Return the whole document."""
    operations = [*_computed(app), *map(_prepared, reads)]
    bodies = _different(o.body for o in operations)
    answers = _different([*(o.answers for o in operations), Problem])
    queries = _different(o.query for o in operations)
    roots, named = schemas.components([*bodies, *answers, *queries], PREFIX)
    filters = {query: named.pop(query.__name__) for query in queries}
    answered = roots[len(bodies) : len(bodies) + len(answers)]
    sent, named = separate(roots[: len(bodies)], answered, named)
    sent_as, answered_as = dict(zip(bodies, sent, strict=True)), dict(zip(answers, answered, strict=True))
    paths: dict[str, Any] = {}
    for operation in sorted(operations, key=lambda o: (o.path, o.method)):
        described = _describe(operation, sent_as, answered_as, filters.get(operation.query, {}))
        paths.setdefault(operation.path, {})[operation.method] = described
    answer: dict[str, Any] = {
        "openapi": "3.1.0",
        "info": {
            "title": "Snapline",
            "version": "1",
            "summary": "Where fixtures stand when driver-assistance sensors are re-aimed",
            "description": openapi_parts.INTRODUCTION,
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/", "description": "The host that this document comes from."}],
        "tags": [{"name": name, "description": text} for name, text in openapi_parts.TAGS.items()],
        "security": [{"key": []}],
        "paths": paths,
        "components": {
            "schemas": dict(sorted(named.items())),
            "headers": openapi_parts.HEADERS,
            "parameters": openapi_parts.PARAMETERS,
            "responses": openapi_parts.responses(),
            "securitySchemes": openapi_parts.SECURITY_SCHEMES,
        },
    }
    plain: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(answer))  # some defaults are tuples
    return plain


def _different(types: Iterable[Any]) -> list[Any]:
    return list(dict.fromkeys(t for t in types if t is not None))


def _computed(app: Litestar) -> Iterator[_Operation]:
    """Yield the operations that the framework serves."""
    routes = (route for route in app.routes if isinstance(route, HTTPRoute))
    handlers = (handler for route in routes for handler in route.route_handlers)
    for handler in handlers:
        if handler.resolve_include_in_schema() and handler.operation_id:
            scopes = [guard.scope for guard in handler.guards or () if isinstance(guard, Needs)]
            yield _Operation(
                id=str(handler.operation_id),
                path=_plain(next(iter(handler.paths))),
                method=next(iter(handler.http_methods)).lower(),
                tag=next(iter(handler.resolve_tags())),
                text=_text(handler),
                answers=_answer_type(handler),
                status=handler.status_code,
                body=_body_type(handler),
                scope=scopes[0] if scopes else None,
                also=tuple(handler.opt.get("also", ())),
                from_catalogue=handler.opt.get("catalogue", False),
                writes=handler.opt.get("writes", False),
                other=handler.opt.get("other", {}),
                refused=tuple(handler.opt.get("refused", ())),
                query=handler.opt.get("query"),
                tagged=handler.opt.get("tagged", False),
                conditional=handler.opt.get("conditional", False),
                media=handler.opt.get("media", JSON),
                lines=handler.opt.get("lines", False),
                file=_files(handler),
                pieces=handler.opt.get("pieces", False),
                upload=handler.opt.get("upload", False),
                adds=handler.opt.get("adds", False),
                numbers=frozenset(_NUMBER.findall(next(iter(handler.paths)))),
            )


_NUMBER = re.compile(r"\{(\w+):int\}")
_Number = Annotated[int, msgspec.Meta(ge=1, le=2**31 - 1)]


def _files(handler: HTTPRouteHandler) -> tuple[str, ...]:
    """Return the media types of an answer that is a file."""
    found = handler.opt.get("file", ())
    return (found,) if isinstance(found, str) else tuple(found)


def _text(handler: HTTPRouteHandler) -> str:
    function = handler.fn
    while hasattr(function, "func"):  # one that runs in a thread is wrapped, once or more often
        function = function.func
    return function.__doc__ or ""


def _body_type(handler: HTTPRouteHandler) -> Any:
    field = handler.parsed_data_field
    return field.annotation if field else handler.opt.get("body")


def _answer_type(handler: HTTPRouteHandler) -> Any:
    if "file" in handler.opt:
        return None
    declared = handler.opt.get("answers") or handler.parsed_return_field.annotation
    return None if declared is type(None) else declared


def _prepared(read: Read) -> _Operation:
    filters = f"\n\n{read.query.__doc__}" if read.query else ""
    return _Operation(
        id=read.operation_id,
        path=read.path,
        method="get",
        tag=read.tag,
        text=read.summary + filters,
        answers=read.answers,
        query=read.query,
        scope="read",
        from_catalogue=True,
        tagged=True,
    )


def _describe(
    operation: _Operation, sent_as: dict[Any, Any], answered_as: dict[Any, Any], filters: dict[str, Any]
) -> dict[str, Any]:
    summary, _, rest = operation.text.strip().partition("\n\n")
    described: dict[str, Any] = {
        "operationId": operation.id,
        "tags": [operation.tag],
        "summary": " ".join(summary.split()),
    }
    if rest:
        described["description"] = "\n\n".join(" ".join(part.split()) for part in rest.split("\n\n"))
    described["parameters"] = [
        *(_path_parameter(operation, name) for name in _names(operation.path)),
        *_query_parameters(operation.id, filters),
        *parameters(*_shared_parameters(operation), "X-Request-Id"),
    ]
    if operation.body:
        described["requestBody"] = {
            "required": True,
            "content": {operation.media: _content(operation, sent_as)},
        }
    if operation.upload:
        content = {"application/octet-stream": {"schema": {}, "example": examples.UPLOADS[operation.id]}}
        described["requestBody"] = {"required": True, "content": content}
    described["responses"] = _responses(operation, answered_as)
    described["security"] = [{"key": [operation.scope]}] if operation.scope else []
    return described


def _content(operation: _Operation, sent_as: dict[Any, Any]) -> dict[str, Any]:
    example = examples.BODIES[operation.id]
    if operation.lines:
        text = "".join(msgspec.json.encode(one).decode() + "\n" for one in example)
        return {"schema": _lines_of(operation.body, sent_as), "example": text}
    return {"schema": sent_as[operation.body], "example": msgspec.to_builtins(example)}


def _document(media: str) -> dict[str, Any]:
    """Return the schema of a drawing or a sheet: OpenAPI 3.1 says nothing of bytes."""
    return {} if media == "application/pdf" else {"type": "string"}


def _lines_of(line: type, described_as: dict[Any, Any]) -> dict[str, Any]:
    """Return the schema of NDJSON: OpenAPI 3.1 tells it in words; a line's schema stands beside."""
    words = f"A {line.__name__} on each line, as JSON."
    return {"type": "string", "description": words, "x-line": described_as[line]}


def _shared_parameters(operation: _Operation) -> Iterator[str]:
    if operation.tagged and operation.method == "get":
        yield "If-None-Match"
    if operation.conditional:
        yield from ("If-Match-to-replace", "If-None-Match-to-add") if operation.adds else ("If-Match",)
    if operation.pieces:
        yield from ("Range", "If-Range")
    if operation.writes:
        yield from ("validate_only", "Idempotency-Key")


def _responses(operation: _Operation, answered_as: dict[Any, Any]) -> dict[str, Any]:
    limits = ("RateLimit", "RateLimit-Policy") if operation.scope else ()
    revision = ("Catalogue-Revision",) if operation.from_catalogue else ()
    repeats = ("Idempotency-Replayed",) if operation.writes else ()
    caching = ("Cache-Control", "ETag", "Vary") if operation.tagged else ()
    found: dict[str, Any] = {
        "description": "The answer." if operation.answers else "It is done.",
        "headers": headers("X-Request-Id", *revision, *caching, *limits, *repeats),
    }
    if operation.file:
        found["content"] = {media: {"schema": {}} for media in operation.file}
    elif operation.lines:
        found["content"] = {operation.media: {"schema": _lines_of(operation.answers, answered_as)}}
    elif operation.answers:
        found["content"] = {
            "application/json": {"schema": answered_as[operation.answers]},
            **{media: {"schema": _document(media)} for media in operation.also},
        }
    links = openapi_parts.links(operation.id)
    answers = {str(operation.status): {**found, "links": links} if links else found}
    if operation.writes and operation.status != 200:
        answers["200"] = {**found, "description": "It is valid; nothing was changed."}
    if operation.pieces:
        found["headers"] |= headers("Accept-Ranges", "ETag", "Repr-Digest")
        piece = headers("Content-Range")
        answers["206"] = {**found, "description": "The part.", "headers": found["headers"] | piece}
    for status, text in operation.other.items():
        answers[status] = {**found, "description": text}
    if operation.tagged and operation.method == "get":
        kept = headers("X-Request-Id", *revision, *caching, *limits)
        answers["304"] = {"description": "You have it already.", "headers": kept}
    return dict(sorted((answers | refusals(*_refused(operation))).items()))


def _refused(operation: _Operation) -> Iterator[str]:
    """Yield the statuses of what the operation may refuse."""
    yield from operation.refused
    yield "500"
    if operation.scope:
        yield from ("401", "403", "422", "429", "503")
    if operation.from_catalogue:
        yield "404"
    if operation.lines:  # what is wrong with a line is answered on a line
        yield "415"
    elif operation.body:
        yield from ("400", "408", "413", "415")
    if operation.also:
        yield "406"
    if operation.pieces:
        yield "416"
    if operation.conditional:
        yield from ("412", "428")


def _names(path: str) -> list[str]:
    return [part[1:-1] for part in path.split("/") if part.startswith("{")]


def _path_parameter(operation: _Operation, name: str) -> dict[str, Any]:
    is_number = name in operation.numbers
    (schema,), _ = schemas.components([_Number if is_number else Id if name.endswith("_id") else str], PREFIX)
    example: str | int = int(examples.NAMES[name]) if is_number else examples.NAMES[name]
    if operation.method == "put" and operation.path.endswith(
        f"{{{name}}}"
    ):  # the body has its own name in it
        example = examples.BODIES[operation.id].id
    return {"name": name, "in": "path", "required": True, "schema": schema, "example": example}


def _query_parameters(operation_id: str, filters: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for name, field in filters.get("properties", {}).items():
        schema = without_null(field)
        description = schema.pop("description", None)
        yield {
            "name": name,
            "in": "query",
            **({"description": description} if description else {}),
            "schema": schema,
            "example": examples.FILTERS[operation_id][name],
        }


def _plain(path: str) -> str:
    """Return a path with bare parameter names: the framework's carry a type."""
    return "/".join(
        part.partition(":")[0] + "}" if part.startswith("{") else part for part in path.split("/")
    )
