"""Which sources a part of a document refers to, and which of its statements nobody has checked."""

from collections.abc import Iterator

from msgspec import Struct

from snapline.wire.common import SourceRef

_MAY_REFER = (Struct, tuple)


def references(value: object) -> Iterator[SourceRef]:
    """Yield every reference to a source, however deep."""
    if isinstance(value, SourceRef):
        yield value
        return
    inner = _fields(value) if isinstance(value, Struct) else value if isinstance(value, tuple) else ()
    for part in inner:
        if isinstance(part, _MAY_REFER):  # most parts are texts and numbers
            yield from references(part)


def _fields(value: Struct) -> Iterator[object]:
    return (getattr(value, field) for field in value.__struct_fields__)


def quoted_sources(value: object) -> set[str]:
    """Return the names of the sources that a value refers to."""
    return {reference.source for reference in references(value)}
