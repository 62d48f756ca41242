"""What leaves the building: the API contract and the catalogue's schema, as committed in ``openapi/``."""

from pathlib import Path

import msgspec

from snapline_service import openapi
from snapline_service.app import READS, framework_app
from snapline_service.catalogue.documents import json_schema


def files() -> dict[str, bytes]:
    """Return the contract files by name, made from the code as it is."""
    documents = {
        "openapi.json": openapi.document(framework_app(), READS),
        "catalogue-1.schema.json": json_schema(),
    }
    return {
        name: msgspec.json.format(msgspec.json.encode(document), indent=2) + b"\n"
        for name, document in documents.items()
    }


def write(folder: Path) -> None:
    """Write the contract files into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, body in files().items():
        (folder / name).write_bytes(body)
