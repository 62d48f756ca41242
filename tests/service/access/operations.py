"""Every operation that the service describes, so that a test cannot forget a new one."""

import re
from collections.abc import Iterator
from typing import NamedTuple

import httpx


class Operation(NamedTuple):
    """One operation under /v1."""

    id: str
    method: str
    path: str

    def at(self, **names: str) -> str:
        """Return the path with its names filled in."""
        return re.sub(r"\{(\w+)\}", lambda found: names[found[1]], self.path)


def operations(http: httpx.Client) -> list[Operation]:
    """Return the operations that need a key, as /openapi.json lists them."""
    return list(_operations(http.get("/openapi.json").raise_for_status().json()))


def _operations(document: dict[str, dict[str, dict[str, dict[str, str]]]]) -> Iterator[Operation]:
    for path, methods in document["paths"].items():
        for method, described in methods.items():
            if path.startswith("/v1/"):
                yield Operation(described["operationId"], method.upper(), path)
