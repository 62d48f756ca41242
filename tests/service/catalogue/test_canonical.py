"""Documents are stored and named by RFC 8785; the values are that text's own samples."""

import hashlib
import json
import struct

import msgspec
import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from service import small
from service.catalogue.demo import DOCUMENTS, FOLDER
from snapline.wire.catalogue import CatalogueDocument, OperationDocument, SourceDocument, VehicleDocument
from snapline_service.catalogue.documents import canonical, content_hash, decode, from_json, kind_of

# RFC 8785, section 3.2.2 and its canonical form in section 3.2.3.
STRING = json.loads(r'"\u20ac$\u000F\u000aA\u0027\u0042\u0022\u005c\\\"\/"')
STRING_CANONICAL = r'"€$\u000f\nA' + "'" + r'B\"\\\\\"/"'
NUMBERS = {
    "333333333.33333329": "333333333.3333333",
    "1E30": "1e+30",
    "4.50": "4.5",
    "2e-3": "0.002",
    "0.000000000000000000000000001": "1e-27",
}
# RFC 8785, section 3.2.3: names sort by their UTF-16 code units.
SORTED = ["\r", "1", "\x80", "\xf6", "\u20ac", "\U0001f600", "\ufb33"]
# RFC 8785, appendix B: the bits of a double and how it is written.
DOUBLES = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}


def source_titled(title: str) -> SourceDocument:
    return SourceDocument(format=1, id="a", title=title, edition="1", published_on="2024-01-01")


def car_with_limit(text: str) -> bytes:
    """Return a car's canonical form with a number, as a file has it, for a limit."""
    car = json.dumps(small.vehicle()).replace('"maximum": 0.1', f'"maximum": {text}')
    document, faults = from_json(msgspec.json.decode(car))
    assert document is not None, faults
    return canonical(document)


def test_text_is_written_as_the_sample_has_it() -> None:
    assert f'"title":{STRING_CANONICAL}}}'.encode() in canonical(source_titled(STRING))


@pytest.mark.parametrize("text", NUMBERS)
def test_numbers_are_written_as_the_sample_has_them(text: str) -> None:
    assert f'"maximum":{NUMBERS[text]},'.encode() in car_with_limit(text)


@pytest.mark.parametrize("bits", DOUBLES)
def test_doubles_are_written_as_the_table_has_them(bits: str) -> None:
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert f'"maximum":{DOUBLES[bits]},'.encode() in car_with_limit(repr(value))


def test_names_are_sorted_by_their_utf_16_code_units() -> None:
    value = {**small.vehicle(), "standard_uncertainty": dict.fromkeys(reversed(SORTED), 1)}
    body = canonical(msgspec.convert(value, VehicleDocument))
    assert list(json.loads(body)["standard_uncertainty"]) == SORTED


def test_fields_are_sorted_and_defaults_left_out() -> None:
    said = {**small.operation(), "cure_wait_min": None, "invented": False}
    document, _ = from_json(said)
    assert document is not None
    assert canonical(document) == (
        b'{"extents":["removed_and_refitted","replaced"],"format":1,"id":"windscreen","kind":"operation",'
        b'"name":"Windscreen","synonyms":["front glass"]}'
    )


@pytest.mark.parametrize("kind", ["sources", "operations"])
def test_the_hash_is_sha_256_of_what_the_library_makes_of_the_file(kind: str) -> None:
    """These files give no default, so the library alone, on the file alone, must come to the same."""
    by_id = {(kind_of(document) + "s", document.id): document for document in DOCUMENTS}
    files = sorted((FOLDER / "catalogue" / kind).glob("*.json"))
    assert len(files) > 10
    for file in files:
        alone = hashlib.sha256(rfc8785.dumps(json.loads(file.read_text()))).hexdigest()
        assert content_hash(canonical(by_id[kind, file.stem])) == alone


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.id)
def test_what_is_stored_says_the_same(document: CatalogueDocument) -> None:
    body = canonical(document)
    assert decode(kind_of(document), body) == document
    assert rfc8785.dumps(json.loads(body)) == body, "the canonical form of the canonical form is itself"


def equal_spellings() -> list[str]:
    car = small.vehicle()
    turned = dict(reversed(car.items()))
    return [
        json.dumps(car),
        json.dumps(car, indent=8, ensure_ascii=False),
        json.dumps(turned, separators=(",", ":")),
        json.dumps(car).replace("2400", "2400.0"),
        json.dumps(car).replace("2400", "2.4e3"),
        json.dumps(car).replace("Sennic", r"\u0053ennic"),
        json.dumps({**car, "thrust_limit_deg": None, "traits": [], "light_vehicle": True}),
    ]


def test_spellings_of_the_same_content_have_the_same_hash() -> None:
    documents = [from_json(msgspec.json.decode(text))[0] for text in equal_spellings()]
    assert len({content_hash(canonical(document)) for document in documents if document}) == 1
    assert None not in documents


@given(st.text(min_size=1, max_size=120))
def test_any_text_comes_back(title: str) -> None:
    document = source_titled(title)
    assert decode("source", canonical(document)) == document


@settings(max_examples=50)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_any_number_comes_back(value: float) -> None:
    found = json.loads(car_with_limit(repr(value)))["procedures"][0]["preparation"][0]["maximum"]
    assert float(found) == value


def test_another_content_has_another_hash() -> None:
    one, other = (OperationDocument(format=1, id="a", name=name) for name in ("A", "B"))
    assert content_hash(canonical(one)) != content_hash(canonical(other))
