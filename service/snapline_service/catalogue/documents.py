"""Catalogue documents as values, as canonical bytes and as a published JSON Schema."""

import hashlib
from functools import cache
from typing import Any

import msgspec
import rfc8785

from snapline.wire.catalogue import (
    CatalogueDocument,
    FixtureDocument,
    OperationDocument,
    SourceDocument,
    VehicleDocument,
)
from snapline_service.errors import Fault
from snapline_service.faults import TOO_DEEP, Checker, unconvertible
from snapline_service.schemas import closed, with_known_words

TYPES: dict[str, type[CatalogueDocument]] = {
    "source": SourceDocument,
    "operation": OperationDocument,
    "fixture": FixtureDocument,
    "vehicle": VehicleDocument,
}


def kind_of(document: CatalogueDocument) -> str:
    """Return the word that a document's ``kind`` field carries."""
    return str(type(document).__struct_config__.tag)


def canonical(document: CatalogueDocument) -> bytes:
    """Return the document as canonical JSON (RFC 8785); defaults are left out."""
    return rfc8785.dumps(msgspec.to_builtins(document))


def content_hash(body: bytes) -> str:
    """Return the SHA-256 of canonical bytes in hexadecimal."""
    return hashlib.sha256(body).hexdigest()


def decode(kind: str, body: bytes) -> CatalogueDocument:
    """Return the document that stored bytes hold."""
    return msgspec.json.decode(body, type=TYPES[kind])


def from_json(value: Any) -> tuple[CatalogueDocument | None, list[Fault]]:
    """Return the document that a JSON value describes, or every fault of its form."""
    kind = value.get("kind") if isinstance(value, dict) else None
    if not isinstance(kind, str) or kind not in TYPES:
        detail = "The document does not say which kind it is."
        return None, [Fault("/kind", detail, f"Set 'kind' to one of: {', '.join(TYPES)}.")]
    try:
        faults = _checker(kind).faults(value)
        return (None, faults) if faults else (msgspec.convert(value, TYPES[kind], strict=False), [])
    except msgspec.ValidationError as error:
        return None, [unconvertible(error)]
    except ValueError:
        return None, [TOO_DEEP]


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema by which catalogue documents are checked, for those who write them."""
    schema: dict[str, Any] = with_known_words(closed(CatalogueDocument))
    return {
        "$id": "https://snapline.invalid/schemas/catalogue-1.schema.json",
        "title": "Snapline catalogue document, format 1",
        **schema,
    }


@cache
def _checker(kind: str) -> Checker:
    return Checker(with_known_words(closed(TYPES[kind])))
