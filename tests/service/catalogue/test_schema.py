"""The published JSON Schema takes what the importer takes, as another validator than ours sees it."""

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service import small
from service.catalogue.demo import FOLDER
from service.catalogue.test_strict_import import FIXTURE_FAULTS, VEHICLE_FAULTS, put
from snapline_service.catalogue.documents import from_json, json_schema

SCHEMA = json_schema()
VALIDATOR = jsonschema_rs.Draft202012Validator(SCHEMA)
FILES = sorted(p for folder in ("catalogue", "correction") for p in (FOLDER / folder).rglob("*.json"))
# Faults of form: those that the importer finds without knowing any other document or doing arithmetic.
OF_FORM = ("not known here", "wrong type", "is missing", "known words", "too ", "expected form")


def test_it_is_a_valid_schema_of_its_dialect() -> None:
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema_rs.meta.validate(SCHEMA)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_demo_document_is_valid(path: Path) -> None:
    VALIDATOR.validate(json.loads(path.read_text()))


def of_form(faults: dict[str, tuple[Any, ...]]) -> Iterator[tuple[str, str, Any]]:
    for name, (pointer, value, _, detail, _) in faults.items():
        if any(word in detail for word in OF_FORM) and name not in NOT_IN_THE_SCHEMA:
            yield name, pointer, value


NOT_IN_THE_SCHEMA = {"beyond any number"}  # JSON Schema has no largest number
VEHICLES = list(of_form(VEHICLE_FAULTS))
FIXTURES = list(of_form(FIXTURE_FAULTS))


def test_there_are_mutants_enough() -> None:
    assert len(VEHICLES) >= 20


@pytest.mark.parametrize(("name", "pointer", "value"), VEHICLES)
def test_a_spoilt_vehicle_is_refused(name: str, pointer: str, value: Any) -> None:
    assert VALIDATOR.is_valid(small.vehicle())
    assert not VALIDATOR.is_valid(put(small.vehicle(), pointer, value))


@pytest.mark.parametrize(("name", "pointer", "value"), FIXTURES)
def test_a_spoilt_fixture_is_refused(name: str, pointer: str, value: Any) -> None:
    assert VALIDATOR.is_valid(small.fixture())
    assert not VALIDATOR.is_valid(put(small.fixture(), pointer, value))


@pytest.mark.parametrize("kind", ["vehicl", "", None, 1])
def test_a_document_of_no_kind_is_refused(kind: object) -> None:
    assert not VALIDATOR.is_valid({**small.vehicle(), "kind": kind})
    assert not VALIDATOR.is_valid({**small.source(), "kind": "fixture"})
    assert not VALIDATOR.is_valid([small.vehicle()])


def places(value: Any, way: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Yield the way to every value of a document."""
    yield way
    steps = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, part in steps:
        yield from places(part, (*way, step))


BASES = [*small.catalogue()[:4], *(json.loads(path.read_text()) for path in FILES[::9])]
JUNK = st.sampled_from([None, True, 0, -1, 1.5, 1e7, "", "x", "é" * 200, [], {}, [1], {"a": 1}])


@settings(max_examples=300)
@given(st.data())
def test_it_takes_exactly_what_the_importer_takes(data: st.DataObject) -> None:
    """Whatever stands at any place of a document, both agree whether its form is good."""
    document = copy.deepcopy(data.draw(st.sampled_from(BASES)))
    *way, last = data.draw(st.sampled_from([way for way in places(document) if way]))
    place: Any = document
    for step in way:
        place = place[step]
    place[last] = data.draw(JUNK)
    if isinstance(place, dict) and data.draw(st.booleans()):
        del place[last]
    _, faults = from_json(document)
    assert VALIDATOR.is_valid(document) == (faults == [])
    assert all(fault.detail and fault.mend for fault in faults)
