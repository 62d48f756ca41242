"""Which schemas are sent and which are answered: what is sent is closed, what is answered may grow."""

from collections.abc import Iterable, Set
from typing import Any

import msgspec

from snapline_service import schemas

PREFIX = "#/components/schemas/"
Schema = dict[str, Any]


def separate(
    sent: Iterable[Schema], answered: Iterable[Schema], named: dict[str, Schema]
) -> tuple[list[Schema], dict[str, Schema]]:
    """Return the schemas of request bodies, and the named schemas with those of requests closed.

    What occurs on both sides is there twice: open as it is, and closed under its name with ``Input`` added.
    In what is answered, a default is said in words: nobody fills it in, and generators of clients take the
    keyword for a promise that the field is there.
    """
    sent = list(sent)
    in_requests, in_answers = _reachable(sent, named), _reachable(answered, named)
    both = in_requests & in_answers
    done = {name: _without_defaults(schema) for name, schema in named.items()}
    for name in in_requests:
        closed = _pointing_to_input(named[name], both)
        schemas.close(closed)
        if name in both:
            closed["title"] = f"{name}Input"
        done[f"{name}Input" if name in both else name] = closed
    return [_pointing_to_input(schema, both) for schema in sent], done


def _without_defaults(schema: Any) -> Any:
    if isinstance(schema, list):
        return [_without_defaults(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    copy = {key: _without_defaults(part) for key, part in schema.items() if key != "default"}
    if schema.get("default") not in (None, (), {}):
        text = f"{msgspec.json.encode(schema['default']).decode()} if left out."
        copy["description"] = f"{schema.get('description', '')} {text}".strip()
    return copy


def without_null(schema: Schema) -> Schema:
    """Return the schema of a query parameter, which is left out rather than null."""
    rest = {key: part for key, part in schema.items() if key not in ("anyOf", "default")}
    kinds = [kind for kind in schema.get("anyOf", []) if kind != {"type": "null"}]
    default = {"default": schema["default"]} if schema.get("default") is not None else {}
    return {**(kinds[0] if kinds else {}), **rest, **default}


def _reachable(roots: Iterable[Schema], named: dict[str, Schema]) -> set[str]:
    waiting: list[Any] = list(roots)
    found: set[str] = set()
    while waiting:
        part = waiting.pop()
        if isinstance(part, list):
            waiting += part
        elif isinstance(part, dict):
            name = str(part.get("$ref", "")).removeprefix(PREFIX)
            if name and name not in found:
                found.add(name)
                waiting.append(named[name])
            waiting += part.values()
    return found


def _pointing_to_input(schema: Any, names: Set[str]) -> Any:
    """Return a copy that refers to the closed form of these names."""
    if isinstance(schema, list):
        return [_pointing_to_input(part, names) for part in schema]
    if not isinstance(schema, dict):
        return schema
    copy = {key: _pointing_to_input(part, names) for key, part in schema.items()}
    if str(copy.get("$ref", "")).removeprefix(PREFIX) in names:
        copy["$ref"] += "Input"
    return copy
