"""What is not a JSON object, or not sent as one."""

import gzip
import json
from collections.abc import Iterator

import httpx
import pytest

from service.problems.bodies import GOOD, Json, problem_of

JSON = {"content-type": "application/json"}
every_route = pytest.mark.parametrize("route", GOOD)

# A body is refused before anything looks at a database, so one engine will do for this many.
pytestmark = pytest.mark.parametrize("demo_service", ["sqlite"], indirect=True)


def send(http: httpx.Client, route: str, body: bytes | Iterator[bytes], **headers: str) -> httpx.Response:
    return http.post(route, content=body, headers={**JSON, **headers})


@every_route
def test_the_good_bodies_are_good(http: httpx.Client, route: str) -> None:
    assert send(http, route, json.dumps(GOOD[route]).encode()).status_code == 200
    charset = {"content-type": "Application/JSON; charset=utf-8"}
    assert http.post(route, content=json.dumps(GOOD[route]), headers=charset).status_code == 200
    assert http.post(route, content=json.dumps(GOOD[route])).status_code == 200  # without a content type


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b" ",
        b"{",
        b"}",
        b"not json",
        b"{'make': 'Quellovane'}",
        b'{"make": "Quellovane",}',
        b'{"make": "Quellovane"} {}',
        b"make=Quellovane",
        b"<make>Quellovane</make>",
        b'\xef\xbb\xbf{"make": "Quellovane"}',  # a byte order mark (RFC 8259, 8.1)
        '{"make": "Quellovane"}'.encode("utf-16"),
        b'{"make": "\xff\xfe"}',
        b'{"make": "\xc0\xaf"}',  # an overlong '/'
        b'{"make": "\xed\xa0\x80"}',  # half of a surrogate pair
        b'{"make": "\\ud800"}',
        b'{"make": "a\x00b"}',  # a control character that is not escaped
        b'{"number": NaN}',
        b'{"number": Infinity}',
        b'{"number": -Infinity}',
        b'{"number": 1e999}',
        b'{"number": -1e999}',
        b'{"number": 01}',
        b'{"number": .5}',
        b'{"number": +1}',
        b'{"number": 0x10}',
        b"\x00" * 100,
        gzip.compress(b"{}"),
    ],
)
@every_route
def test_what_is_not_json_is_refused(http: httpx.Client, route: str, body: bytes) -> None:
    problem = problem_of(http, send(http, route, body), 400)
    assert problem["code"] == "MALFORMED_JSON"
    assert problem["errors"][0]["pointer"] == ""


@pytest.mark.parametrize("body", ["null", "true", "1", "-1.5", '"text"', "[]", "[{}]", "[[[]]]"])
@every_route
def test_what_is_not_an_object_is_refused(http: httpx.Client, route: str, body: str) -> None:
    problem = problem_of(http, send(http, route, body.encode()), 422)
    assert [fault["pointer"] for fault in problem["errors"]] == [""]
    assert "object" in problem["detail"]


def around_numbers(value: Json) -> Iterator[tuple[str, str]]:
    """Yield what stands before and after each number of a body."""
    text = json.dumps(value)
    for start, character in enumerate(text):
        if character.isdigit() and text[start - 1] == " ":
            end = start + 1
            while text[end] in ".0123456789":
                end += 1
            yield text[:start], text[end:]


@pytest.mark.parametrize("literal", ["NaN", "Infinity", "-Infinity", "1e999", "-1e400", "nan", "1_000", "١"])
@every_route
def test_a_number_that_json_has_no_word_for_is_refused_wherever_it_stands(
    http: httpx.Client, route: str, literal: str
) -> None:
    cuts = list(around_numbers(GOOD[route]))
    assert cuts
    for before, after in cuts:
        answer = send(http, route, f"{before}{literal}{after}".encode())
        assert problem_of(http, answer, 400)["code"] == "MALFORMED_JSON"


@pytest.mark.parametrize("depth", [64, 260, 500, 900, 20_000])
@every_route
def test_nesting_of_any_depth_is_refused(http: httpx.Client, route: str, depth: int) -> None:
    good = json.dumps(GOOD[route])[:-1]
    arrays, objects = "[" * depth + "]" * depth, '{"a":' * depth + "1" + "}" * depth
    for deep in (arrays, objects):
        problem_of(http, send(http, route, deep.encode()))
        problem_of(http, send(http, route, f'{good}, "deep": {deep}}}'.encode()))
    # Never closed, as an attacker saves the other half.
    assert problem_of(http, send(http, route, b"[" * depth), 400)["code"] == "MALFORMED_JSON"


@every_route
def test_a_body_beyond_the_limit_is_refused(http: httpx.Client, route: str) -> None:
    great = b'{"make": "' + b"x" * 10_000_000 + b'"}'
    assert problem_of(http, send(http, route, great), 413)["code"] == "BODY_TOO_LARGE"
    # The same without a Content-Length, so that only counting finds out.
    pieces = (great[start : start + 100_000] for start in range(0, len(great), 100_000))
    assert problem_of(http, send(http, route, pieces), 413)["code"] == "BODY_TOO_LARGE"


@every_route
def test_a_long_text_within_the_limit_is_named(http: httpx.Client, route: str) -> None:
    name = next(iter(GOOD[route]))
    problem = problem_of(http, http.post(route, json={**GOOD[route], name: "x" * 900_000}), 422)
    assert f"/{name}" in {fault["pointer"] for fault in problem["errors"]}
    assert len(problem["detail"]) < 500  # and is not sent back


@pytest.mark.parametrize(
    "content_type",
    [
        "text/plain",
        "text/json",
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        "application/xml",
        "application/msgpack",
        "application/jsonp",
        "nonsense",
    ],
)
@every_route
def test_another_content_type_is_refused(http: httpx.Client, route: str, content_type: str) -> None:
    body = json.dumps(GOOD[route]).encode()
    problem = problem_of(http, http.post(route, content=body, headers={"content-type": content_type}), 415)
    assert "application/json" in problem["detail"]


@every_route
def test_a_name_that_stands_twice_is_refused(http: httpx.Client, route: str) -> None:
    # RFC 8259, section 4: software differs in which of the two it takes.
    text = json.dumps(GOOD[route])
    name, value = next(iter(GOOD[route].items()))
    doubled = f'{{"{name}": {json.dumps(value)}, {text[1:]}'
    problem = problem_of(http, send(http, route, doubled.encode()), 422)
    assert [fault["pointer"] for fault in problem["errors"]] == [f"/{name}"]


def test_a_name_that_stands_twice_further_down_is_found(http: httpx.Client) -> None:
    text = json.dumps(GOOD["/v1/geometry/placement"])
    doubled = text.replace('"datum": "floor"', '"datum": "floor", "distance_mm": 1300')
    problem = problem_of(http, send(http, "/v1/geometry/placement", doubled.encode()), 422)
    assert [fault["pointer"] for fault in problem["errors"]] == ["/placement/height/distance_mm"]
    # The first of the two may hide anything, since the second one is good.
    for hidden in (
        "[" * 20_000 + "]" * 20_000,
        "[" * 900 + "]" * 900,
        "1" * 5000,
        '{"a":' * 900 + "1" + "}" * 900,
    ):
        body = f'{{"shape": {hidden}, "shape": "plate", "frequency_ghz": 77, "width_mm": 1, "height_mm": 1}}'
        problem_of(http, send(http, "/v1/geometry/reflector", body.encode()))


@every_route
def test_other_methods_are_refused_with_the_right_one(http: httpx.Client, route: str) -> None:
    for method in ("PUT", "PATCH", "DELETE"):
        answer = http.request(method, route, json=GOOD[route])
        assert problem_of(http, answer, 405)["code"] == "METHOD_NOT_ALLOWED"
        assert "POST" in answer.headers["allow"]
