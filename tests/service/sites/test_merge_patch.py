"""JSON Merge Patch by the table of RFC 7396, appendix A, and what must hold for any documents."""

import copy
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapline_service.merge_patch import merged

# Original, patch, result: RFC 7396, appendix A, row by row.
TABLE = r"""
{"a":"b"}            | {"a":"c"}                  | {"a":"c"}
{"a":"b"}            | {"b":"c"}                  | {"a":"b","b":"c"}
{"a":"b"}            | {"a":null}                 | {}
{"a":"b","b":"c"}    | {"a":null}                 | {"b":"c"}
{"a":["b"]}          | {"a":"c"}                  | {"a":"c"}
{"a":"c"}            | {"a":["b"]}                | {"a":["b"]}
{"a":{"b":"c"}}      | {"a":{"b":"d","c":null}}   | {"a":{"b":"d"}}
{"a":[{"b":"c"}]}    | {"a":[1]}                  | {"a":[1]}
["a","b"]            | ["c","d"]                  | ["c","d"]
{"a":"b"}            | ["c"]                      | ["c"]
{"a":"foo"}          | null                       | null
{"a":"foo"}          | "bar"                      | "bar"
{"e":null}           | {"a":1}                    | {"e":null,"a":1}
[1,2]                | {"a":"b","c":null}         | {"a":"b"}
{}                   | {"a":{"bb":{"ccc":null}}}  | {"a":{"bb":{}}}
"""
ROWS = [tuple(map(str.strip, row.split("|"))) for row in TABLE.strip().splitlines()]

values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from("abc"), inner, max_size=3),
    max_leaves=10,
)


@pytest.mark.parametrize(("original", "patch", "result"), ROWS)
def test_the_table_of_the_rfc(original: str, patch: str, result: str) -> None:
    assert merged(json.loads(original), json.loads(patch)) == json.loads(result)


def test_the_example_of_section_3() -> None:
    original = {
        "title": "Goodbye!",
        "author": {"givenName": "John", "familyName": "Doe"},
        "tags": ["example", "sample"],
        "content": "This will be unchanged",
    }
    patch = {
        "title": "Hello!",
        "phoneNumber": "+01-123-456-7890",
        "author": {"familyName": None},
        "tags": ["example"],
    }
    assert merged(original, patch) == {
        "title": "Hello!",
        "author": {"givenName": "John"},
        "tags": ["example"],
        "content": "This will be unchanged",
        "phoneNumber": "+01-123-456-7890",
    }


@given(values, values)
def test_a_patch_applied_twice_is_a_patch_applied_once_and_spoils_nothing(original: Any, patch: Any) -> None:
    before = copy.deepcopy((original, patch))
    once = merged(original, patch)
    assert merged(once, patch) == once
    assert (original, patch) == before
