"""JSON Schemas made from the wire types."""

from collections.abc import Iterable
from typing import Any

import msgspec

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def components(
    types: Iterable[Any], ref_prefix: str
) -> tuple[list[dict[str, Any]], dict[str, dict[str, Any]]]:
    """Return a schema for each type and the named schemas that they refer to."""
    roots, named = msgspec.json.schema_components(types, ref_template=ref_prefix + "{name}")
    for schema in named.values():
        if "description" in schema:
            schema["description"] = " ".join(schema["description"].split())
    return list(roots), named


def closed(wire_type: Any) -> dict[str, Any]:
    """Return one self-contained schema that refuses unknown fields."""
    (root,), named = components([wire_type], "#/$defs/")
    for schema in named.values():
        close(schema)
    return {"$schema": DIALECT, **root, "$defs": named}


def close(schema: dict[str, Any]) -> None:
    """Refuse fields that an object schema does not list."""
    if "properties" in schema:
        schema["additionalProperties"] = False


def with_known_words(schema: Any) -> Any:
    """Return the schema with every open list of words closed to the words known today."""
    if isinstance(schema, list):
        return [with_known_words(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    return {
        "enum" if key == "x-extensible-enum" else key: with_known_words(part) for key, part in schema.items()
    }
