"""What is doubtful in a document whose form and references are good."""

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

from msgspec import Struct

from snapline.wire.catalogue import CatalogueDocument, VehicleDocument
from snapline.wire.common import SourceRef
from snapline_service.validation.doubt import Doubt
from snapline_service.validation.duplicates import indistinct
from snapline_service.validation.reaching import Served, unreachable, unserved, without_rules
from snapline_service.validation.sanity import placement_doubts


def doubts(
    document: CatalogueDocument, served: Served, neighbours: Iterable[VehicleDocument] = ()
) -> Iterator[Doubt]:
    """Yield the doubts about one document.

    ``served`` says whether a fixture of the catalogue meets a need; ``neighbours`` are the vehicles of the
    same model, and those whose VIN patterns begin alike.
    """
    yield from _unchecked(document)
    if isinstance(document, VehicleDocument):
        yield from placement_doubts(document)
        yield from unreachable(document)
        yield from unserved(document, served)
        yield from without_rules(document)
        yield from indistinct(document, neighbours)


def _unchecked(document: CatalogueDocument) -> Iterator[Doubt]:
    """Yield a doubt for each source that statements quote without anybody having compared them with it."""
    found = [(pointer, ref.source) for pointer, ref in _quoted(document, "") if not ref.checked_by]
    for source, count in Counter(source for _, source in found).items():
        first = next(pointer for pointer, name in found if name == source)
        text = f"Nobody has compared what is quoted from '{source}' with it; such statements: {count}."
        mend = "Compare them, and give checked_by and checked_on."
        yield Doubt("warning", "SOURCE_UNCHECKED", first, text, mend)


def _quoted(value: Any, at: str) -> Iterator[tuple[str, SourceRef]]:
    if isinstance(value, SourceRef):
        yield at, value
    elif isinstance(value, Struct):
        for field in value.__struct_fields__:
            yield from _quoted(getattr(value, field), f"{at}/{field}")
    elif isinstance(value, tuple):
        for index, part in enumerate(value):
            yield from _quoted(part, f"{at}/{index}")
