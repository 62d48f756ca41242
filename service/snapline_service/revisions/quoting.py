"""Which sources a part of a document refers to, and which of its statements nobody has checked."""

from collections.abc import Iterator

from msgspec import Struct

from snapline.wire.common import SourceRef


def references(value: object) -> Iterator[SourceRef]:
    """Yield every reference to a source, however deep."""
    if isinstance(value, SourceRef):
        yield value
    elif isinstance(value, Struct):
        for field in value.__struct_fields__:
            yield from references(getattr(value, field))
    elif isinstance(value, tuple):
        for part in value:
            yield from references(part)


def quoted_sources(value: object) -> set[str]:
    """Return the names of the sources that a value refers to."""
    return {reference.source for reference in references(value)}
