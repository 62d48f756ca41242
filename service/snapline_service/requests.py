"""Decode request bodies strictly and name every fault at once."""

from functools import cache
from typing import Any

import msgspec
from litestar import Request

from snapline_service.errors import BadInput, MalformedJson
from snapline_service.faults import Checker, parse
from snapline_service.schemas import closed


def decode(body: bytes, wire_type: Any) -> Any:
    """Return the body as a wire type. Raises MalformedJson, BadInput."""
    value, faults = parse(body)
    if faults:
        raise MalformedJson(faults)
    return convert(value, wire_type)


def convert(value: Any, wire_type: Any) -> Any:
    """Return a JSON value as a wire type. Raises BadInput with every fault."""
    faults = _checker(wire_type).faults(value)
    if faults:
        raise BadInput(faults)
    return msgspec.convert(value, wire_type)


@cache
def _checker(wire_type: Any) -> Checker:
    return Checker(closed(wire_type))


class StrictRequest(Request[Any, Any, Any]):
    """Litestar decodes bodies leniently ("1" for a number, unknown fields passed over); this does not."""

    async def json(self) -> Any:
        """Return the body as the type that the handler declares for its data."""
        field = self.route_handler.parsed_data_field
        return decode(await self.body(), field.annotation if field else Any)
