"""What is wrong with a piece of JSON: every fault at once, each with its place and how to mend it."""

import codecs
import difflib
import json
import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

import jsonschema_rs
import msgspec

from snapline_service.errors import Fault


class Checker:
    """Finds the faults of values under one closed schema."""

    def __init__(self, schema: dict[str, Any]) -> None:
        self._schema = _bounded(schema)
        self._validator = jsonschema_rs.validator_for(self._schema, validate_formats=True)

    def faults(self, value: Any) -> list[Fault]:
        """Return all faults, one for each place; none if all is good. Raises ValueError beyond 255 levels."""
        if self._validator.is_valid(value):
            return []
        found: dict[str, Fault] = {}
        for error in self._validator.iter_errors(value):
            for fault in self._explain(error):
                found.setdefault(fault.pointer, fault)
        return list(found.values())

    def _explain(self, error: Any) -> Iterator[Fault]:
        path, kind = list(error.instance_path), error.kind.name
        if kind in ("anyOf", "oneOf"):
            for inner in _likeliest_branch(error.kind.value, path):
                yield from self._explain(inner)
        elif kind == "falseSchema":
            return  # a list that is too long says so itself
        elif kind == "additionalProperties":
            known = list(self._schema_around(error).get("properties", {}))
            for name in error.kind.value:
                detail = f"The field '{_short(name)}' is not known here."
                yield Fault(pointer([*path, name]), detail, nearest(name, known), code="UNKNOWN_FIELD")
        elif kind == "required":
            name = error.kind.value
            detail = f"The field '{name}' is missing."
            yield Fault(pointer([*path, name]), detail, f"Add '{name}'.", code="MISSING_FIELD")
        elif kind == "enum":
            detail = f"'{_short(error.instance)}' is not one of the known words."
            yield Fault(pointer(path), detail, nearest(error.instance, error.kind.value))
        elif kind == "pattern":
            words = self._schema_around(error).get("x-extensible-enum")
            mend = nearest(error.instance, words) if words else FORMS.get(error.kind.value, _NO_FORM)
            yield Fault(pointer(path), "The text does not have the expected form.", mend)
        elif kind == "format":
            yield Fault(pointer(path), *_FORMATS.get(error.kind.value, _NO_FORMAT))
        else:
            yield Fault(pointer(path), *_sentences(kind, error))

    def _schema_around(self, error: Any) -> Any:
        """Return the part of the schema that an error is about."""
        place: Any = self._schema
        for step in error.schema_path[:-1]:
            place = place[step]
            if "$ref" in place:
                place = self._schema["$defs"][place["$ref"].rpartition("/")[2]]
        return place


def pointer(path: list[str | int]) -> str:
    """Return the RFC 6901 pointer of a path."""
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in path)


TOO_DEEP = Fault(
    "", "The JSON is nested too deeply.", "Nest it no deeper than the documented form.", "MALFORMED_JSON"
)


def parse(body: bytes) -> tuple[Any, list[Fault]]:
    """Return the JSON value of a body, or the fault that makes it unreadable."""
    if not body:
        return None, [Fault("", "The body is empty.", "Send a JSON object.", "MALFORMED_JSON")]
    if body.startswith(codecs.BOM_UTF8):
        detail = "The JSON begins with a byte order mark."
        return None, [
            Fault("", detail, "Save it as UTF-8 without one (RFC 8259, section 8.1).", "MALFORMED_JSON")
        ]
    try:
        return msgspec.json.decode(body), []
    except RecursionError:
        return None, [TOO_DEEP]
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        detail = f"This is not valid JSON: {error}."
        return None, [
            Fault("", detail, "Correct it there: it must be JSON in UTF-8 (RFC 8259).", "MALFORMED_JSON")
        ]


def unconvertible(error: msgspec.ValidationError) -> Fault:
    """Return the fault of a value that fits its schema and yet not its type: to JSON Schema 2.0 is whole."""
    detail, _, place = str(error).partition(" - at `$")
    steps = re.findall(r"\w+", place.partition("[...]")[0])
    return Fault(pointer(steps), f"{detail}.", "Write whole numbers without a decimal point.")


def _bounded(schema: Any) -> Any:
    """Return the schema with every number bounded to what a double can hold: JSON itself has no limit."""
    if isinstance(schema, list):
        return [_bounded(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    bounds = {"minimum": -sys.float_info.max, "maximum": sys.float_info.max}
    wider = bounds if schema.get("type") == "number" else {}
    return {**wider, **{key: _bounded(part) for key, part in schema.items()}}


def _likeliest_branch(branches: list[list[Any]], path: list[str | int]) -> list[Any]:
    """Return the errors of the branch that was probably meant: one whose own type fits, or else not null."""

    def wrong_type(errors: list[Any]) -> bool:
        return any(list(error.instance_path) == path and error.kind.name == "type" for error in errors)

    def null(errors: list[Any]) -> bool:
        return "null" in str(errors[0].kind.value)

    fitting = [errors for errors in branches if not wrong_type(errors)]
    return min(fitting or [errors for errors in branches if not null(errors)] or branches, key=len)


# The detail and the mend for each keyword of the schema. The value itself is not repeated: it may be private.
_SENTENCES = {
    "type": ("The value is of the wrong type.", "Give a value of type {}."),
    "minimum": ("The number is too small.", "Give at least {}."),
    "exclusiveMinimum": ("The number is too small.", "Give more than {}."),
    "maximum": ("The number is too large.", "Give at most {}."),
    "exclusiveMaximum": ("The number is too large.", "Give less than {}."),
    "minLength": ("The text is too short.", "Give at least {} characters."),
    "maxLength": ("The text is too long.", "Give at most {} characters."),
    "minItems": ("There are too few entries.", "Give at least {}."),
    "maxItems": ("There are too many entries.", "Give at most {}."),
    "maxProperties": ("There are too many entries.", "Give at most {}."),
    "propertyNames": ("A name does not have the expected form.", "Use letters, digits, '.', '_' and '-'."),
    "const": ("The value is not the expected one.", "Give {}."),
}
_DAY = "Give a day of the calendar as YYYY-MM-DD."
_ADDRESS = "Write it as https://hooks.example.com/path; a name with other letters in its xn-- form, no user."
_WORD = "Write a word in lower case letters, digits and '_'."
# What a text of a form looks like, by the pattern that the wire types give it.
FORMS = {
    r"^[a-z0-9][a-z0-9_-]*$": "Use lower case letters, digits, '-' and '_', the first a letter or digit.",
    r"^[A-Za-z0-9][A-Za-z0-9_.\-]*$": "Use letters, digits, '.', '-' and '_', the first a letter or digit.",
    r"^[a-z][a-z0-9_]*$": _WORD,
    r"^[a-z_]+$": _WORD,
    r"^[a-z_]+(\.[a-z_]+)?$": "Give a type of event, visit.kept say, or what stands before its dot.",
    r"^[a-z_]+\.[a-z_]+$": "Give a type of event, visit.kept say.",
    r"^[A-Z]{2,3}$": "Give a market in two or three capital letters, EU say.",
    r"^(yes|no|cannot_tell)$": "Give yes, no or cannot_tell.",
    r"^\d{4}-\d{2}-\d{2}$": _DAY,
    r"^\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?Z?)?$": (
        "Give a day as YYYY-MM-DD, or a time in UTC as YYYY-MM-DDTHH:MM:SSZ."
    ),
    r"^([01]\d|2[0-3]):[0-5]\d$": "Give a time of the day as HH:MM, 08:00 say.",
    r"^https?://[^\s@#]+$": _ADDRESS,
    r"^vis_[0-9a-f]{32}$": "Take a visit's id from GET /v1/visits.",
    r"^(centreline|thrust_line|sensor:.+)$": "Give centreline, thrust_line or sensor:NAME.",
    r"^((front|rear)_(bumper|axle)|wheel:(front|rear)_(left|right)|sensor:.+)$": (
        "Give front_bumper, rear_bumper, front_axle, rear_axle, sensor:NAME or a wheel, wheel:front_left say."
    ),
    r"^(aim_line|centreline|wheel:(front|rear)_(left|right)|sensor:.+)$": (
        "Give aim_line, centreline, sensor:NAME or a wheel, wheel:front_left say."
    ),
    r"^(floor|sensor:.+)$": "Give floor or sensor:NAME.",
}
_NO_FORM = "See this field in the API document."
_FORMATS = {
    "date": ("This is no day of the calendar.", _DAY),
    "uri": ("This is no address on the internet.", _ADDRESS),
}
_NO_FORMAT = ("The text does not have the expected form.", _NO_FORM)


def _sentences(kind: str, error: Any) -> tuple[str, str]:
    detail, mend = _SENTENCES.get(kind, ("The value is not valid.", "See this field in the API document."))
    return detail, mend.format(_plain(error.kind.value))


def _plain(value: Any) -> str:
    if isinstance(value, list):
        return " or ".join(map(str, value))
    return f"{value:,.15g}" if isinstance(value, int | float) else str(value)


def nearest(word: object, known: list[Any]) -> str:
    """Return the advice for a word that is not known: the nearest one, or all."""
    texts = [str(name) for name in known]
    close = difflib.get_close_matches(str(word)[:100], texts, n=1, cutoff=0.5)
    if close:
        return f"Did you mean '{close[0]}'?"
    return f"Known here: {', '.join(texts)}." if texts else "Leave it out."


def _short(value: object, limit: int = 80) -> str:
    text = value if isinstance(value, str) else msgspec.json.encode(value).decode()
    return text if len(text) <= limit else text[: limit - 1] + "…"


class _Repeating(list[tuple[str, Any]]):
    """The fields of a JSON object that gives one of them twice."""


def repeated_names(text: bytes) -> list[Fault]:
    """Return a fault for each name that an object gives twice: readers differ in which they believe."""
    found = False

    def note(pairs: list[tuple[str, Any]]) -> dict[str, Any] | _Repeating:
        nonlocal found
        fields = dict(pairs)
        if len(fields) == len(pairs):
            return fields
        found = True
        return _Repeating(pairs)

    try:
        value = json.loads(text, object_pairs_hook=note)
        return list(_repetitions(value, [])) if found else []
    except RecursionError:  # in what stood under the first of two equal names
        return [TOO_DEEP]


def _repetitions(value: Any, path: list[str | int]) -> Iterator[Fault]:
    steps: Iterable[tuple[str | int, Any]] = ()
    if isinstance(value, _Repeating):
        steps = value
        for name, times in Counter(name for name, _ in value).items():
            if times > 1:
                detail = f"The field '{name}' stands twice in one object."
                yield Fault(pointer([*path, name]), detail, "Keep one of them.")
    elif isinstance(value, dict):
        steps = value.items()
    elif isinstance(value, list):
        steps = enumerate(value)
    for step, part in steps:
        yield from _repetitions(part, [*path, step])
