"""What one JSON Schema allows and another does not: the heart of finding breaking changes.

What is sent must stay allowed, so there the older schema is held against the newer one; what is answered must
stay within what was described, so there the newer one is held against the older.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from typing import Any, NamedTuple

Schema = dict[str, Any]

_IGNORED = {"title", "description", "example", "examples", "deprecated", "discriminator", "$comment"}
_WEIGHED = {
    "type",
    "enum",
    "const",
    "properties",
    "required",
    "additionalProperties",
    "propertyNames",
    "items",
}
_WEIGHED |= {"prefixItems", "pattern", "format", "default", "x-extensible-enum"}
_LOWER = {"minLength": "shorter texts", "minItems": "fewer entries", "minProperties": "fewer entries"}
_UPPER = {"maxLength": "longer texts", "maxItems": "more entries", "maxProperties": "more entries"}
_NUMBER_LIMITS = {"minimum", "exclusiveMinimum", "maximum", "exclusiveMaximum"}
_KNOWN = _IGNORED | _WEIGHED | _NUMBER_LIMITS | set(_LOWER) | set(_UPPER)


class Loss(NamedTuple):
    """Where something is lost, and what it means for what is sent and for what is answered."""

    at: str
    sent: str
    answered: str


def _unusable(at: str, what: str) -> Loss:
    return Loss(at, f"no longer takes {what}", f"may now hold {what}")


@dataclass(frozen=True)
class Comparison:
    """Holds schemas of one document against those of another.

    ``documents`` are that of the wide schemas, which must fit, and that of the narrow ones.
    """

    documents: tuple[dict[str, Any], dict[str, Any]]
    answered: bool

    def losses(
        self, wide: Schema, narrow: Schema, at: str = "", above: frozenset[tuple[int, int]] = frozenset()
    ) -> Iterator[Loss]:
        """Yield what the wide schema allows and the narrow one does not."""
        wide, narrow = (_resolved(s, d) for s, d in zip((wide, narrow), self.documents, strict=True))
        if (id(wide), id(narrow)) in above:
            return
        above |= {(id(wide), id(narrow))}
        offered = list(_alternatives(narrow, self.documents[1]))
        for alternative in _alternatives(wide, self.documents[0]):
            fitting = [other for other in offered if _same_type(alternative, other)]
            found = [list(self._within(alternative, other, at, above)) for other in fitting]
            yield from min(found, key=len, default=[_unusable(at, _type(alternative) or "any type")])

    def _within(
        self, wide: Schema, narrow: Schema, at: str, above: frozenset[tuple[int, int]]
    ) -> Iterator[Loss]:
        yield from _values(wide, narrow, at)
        if _listed(wide) is None:
            yield from _limits(wide, narrow, at)
        if not self.answered:
            yield from _meaning(wide, narrow, at)
        yield from self._fields(wide, narrow, at, above)
        yield from self._parts(wide, narrow, at, above)

    def _parts(
        self, wide: Schema, narrow: Schema, at: str, above: frozenset[tuple[int, int]]
    ) -> Iterator[Loss]:
        for place, (one, other) in enumerate(
            zip(wide.get("prefixItems", []), narrow.get("prefixItems", []), strict=False)
        ):
            yield from self.losses(one, other, f"{at}/{place}", above)
        for keyword, step in (("items", "*"), ("propertyNames", "{name}")):
            if isinstance(narrow.get(keyword), dict):
                one = wide.get(keyword) or {}
                yield from self.losses(one, narrow[keyword], f"{at}/{step}", above)

    def _fields(
        self, wide: Schema, narrow: Schema, at: str, above: frozenset[tuple[int, int]]
    ) -> Iterator[Loss]:
        here, there = wide.get("properties", {}), narrow.get("properties", {})
        others = narrow.get("additionalProperties", True)
        for name, field in here.items():
            if name in there:
                yield from self.losses(field, there[name], f"{at}/{name}", above)
            elif others is False:
                yield _unusable(at, f"the field '{name}'")
            elif isinstance(others, dict):
                yield from self.losses(field, others, f"{at}/{name}", above)
        needed = set(narrow.get("required", [])) - set(wide.get("required", []))
        for name in sorted(needed & set(here)):
            yield Loss(at, f"now needs the field '{name}'", f"need no longer hold the field '{name}'")
        for name in sorted(set(there) - set(here)):
            if name in needed or self.answered:
                yield Loss(at, f"now needs the new field '{name}'", f"no longer has the field '{name}'")
        free = wide.get("additionalProperties", True)
        if isinstance(free, dict) and isinstance(others, dict):
            yield from self.losses(free, others, f"{at}/{{}}", above)
        elif free is not False and others is not True:
            yield _unusable(at, "fields that are not described")


def _resolved(schema: Schema, document: dict[str, Any]) -> Schema:
    while "$ref" in schema:
        found: Any = document
        for step in schema["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        schema = found
    return schema


def _alternatives(schema: Schema, document: dict[str, Any]) -> Iterator[Schema]:
    """Yield the schemas, each of one type, of which one must hold."""
    schema = _resolved(schema, document)
    for keyword in ("anyOf", "oneOf"):
        if keyword in schema:
            rest = {key: part for key, part in schema.items() if key != keyword}
            for branch in schema[keyword]:
                yield from _alternatives(rest | _resolved(branch, document), document)
            return
    unknown = {key for key in schema if key not in _KNOWN and not (key.startswith("x-"))}
    if unknown:  # to pass over it could hide a breaking change
        message = f"this comparison does not know {sorted(unknown)}"
        raise ValueError(message)
    if isinstance(schema.get("type"), list):
        yield from ({**schema, "type": one} for one in schema["type"])
    else:
        yield schema


def _type(schema: Schema) -> str | None:
    values = _listed(schema)
    if "type" in schema or not values:
        return schema.get("type")
    return {str: "string", bool: "boolean", int: "integer", float: "number"}.get(type(values[0]), "null")


def _same_type(wide: Schema, narrow: Schema) -> bool:
    one, other = _type(wide), _type(narrow)
    return other is None or one == other or (one, other) == ("integer", "number")


def _listed(schema: Schema) -> list[Any] | None:
    if "const" in schema:
        return [schema["const"]]
    return schema.get("enum")


def _values(wide: Schema, narrow: Schema, at: str) -> Iterator[Loss]:
    here, there = _listed(wide), _listed(narrow)
    if there is None:
        return
    if here is None:
        yield _unusable(at, f"other values than {there}")
        return
    for value in here:
        if value not in there:
            yield _unusable(at, f"the value {value!r}")


def _lower(schema: Schema) -> tuple[float, bool]:
    """Return the lower limit of a number and whether it is itself excluded."""
    return max((schema.get("minimum", -inf), False), (schema.get("exclusiveMinimum", -inf), True))


def _upper(schema: Schema) -> tuple[float, bool]:
    """Return the upper limit of a number, negated so that the stricter one is the greater."""
    return max((-schema.get("maximum", inf), False), (-schema.get("exclusiveMaximum", inf), True))


def _limits(wide: Schema, narrow: Schema, at: str) -> Iterator[Loss]:
    if _lower(narrow) > _lower(wide):
        yield _unusable(at, "smaller numbers")
    if _upper(narrow) > _upper(wide):
        yield _unusable(at, "larger numbers")
    for keyword, what in _LOWER.items():
        if narrow.get(keyword, 0) > wide.get(keyword, 0):
            yield _unusable(at, what)
    for keyword, what in _UPPER.items():
        if narrow.get(keyword, inf) < wide.get(keyword, inf):
            yield _unusable(at, what)
    for keyword in ("pattern", "format"):
        if keyword in narrow and narrow[keyword] != wide.get(keyword):
            yield _unusable(at, f"texts of another {keyword} than {narrow[keyword]}")


def _meaning(wide: Schema, narrow: Schema, at: str) -> Iterator[Loss]:
    """Yield what is still taken but no longer understood as before."""
    if "default" in wide and wide["default"] != narrow.get("default", wide["default"]):
        text = f"has another default, {narrow['default']!r} instead of {wide['default']!r}"
        yield Loss(at, text, text)
    known = narrow.get("x-extensible-enum")
    for word in wide.get("x-extensible-enum", []):
        if known is not None and word not in known:
            yield Loss(at, f"no longer knows the word '{word}'", f"no longer says '{word}'")
