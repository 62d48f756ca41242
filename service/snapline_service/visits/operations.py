"""Repair lines as operations of the catalogue, whichever trade term they use."""

import difflib
from collections.abc import Iterable, Mapping, Sequence
from weakref import WeakKeyDictionary

from msgspec import Struct

from snapline.offline import RevisionFile
from snapline.wire.catalogue import OperationDocument
from snapline.wire.scope import KnownOperation, RepairLine, UnknownOperation
from snapline_service.errors import InvalidValue
from snapline_service.faults import pointer

_KNOWN: WeakKeyDictionary[RevisionFile, "Operations"] = WeakKeyDictionary()


def operations_of(file: RevisionFile) -> "Operations":
    """Return the operations of a revision, kept at hand as long as its file is open."""
    known = _KNOWN.get(file)
    if known is None:
        known = _KNOWN[file] = Operations(file.operations().values())
    return known


class Understood(Struct, frozen=True):
    """The lines that are understood, in order and without repeats, and those that are not."""

    known: tuple[KnownOperation, ...]
    unknown: tuple[UnknownOperation, ...]
    notes: tuple[str, ...]


class Operations:
    """The operations by their ids, names and synonyms."""

    def __init__(self, operations: Iterable[OperationDocument]) -> None:
        self.by_id: Mapping[str, OperationDocument] = {one.id: one for one in operations}
        self._terms: dict[str, list[str]] = {}
        self._spelling: dict[str, str] = {}
        for one in self.by_id.values():
            for term in dict.fromkeys((one.id, one.name, *one.synonyms)):
                self._terms.setdefault(_folded(term), []).append(one.id)
                self._spelling.setdefault(_folded(term), term)

    def understand(self, lines: Sequence[RepairLine]) -> Understood:
        """Look every line up. Raises InvalidValue for an extent that the operation does not have."""
        known: dict[tuple[str, str | None], KnownOperation] = {}
        unknown, notes = [], []
        for number, line in enumerate(lines):
            found = dict.fromkeys(self._terms.get(_folded(line.operation), []))
            if len(found) != 1:
                unknown.append(
                    UnknownOperation(line=number, text=line.operation, nearest=self._near(line, found))
                )
                continue
            operation = self.by_id[next(iter(found))]
            extent = self._extent(operation, line, number)
            if (operation.id, extent) in known:
                notes.append(f"Line {number + 1} repeats '{operation.name}'.")
                continue
            known[operation.id, extent] = KnownOperation(
                line=number, text=line.operation, operation=operation.id, name=operation.name, extent=extent
            )
        return Understood(tuple(known.values()), tuple(unknown), tuple(notes))

    def _near(self, line: RepairLine, ambiguous: Iterable[str]) -> tuple[str, ...]:
        names = [self.by_id[name].name for name in ambiguous]
        near = difflib.get_close_matches(_folded(line.operation), list(self._terms), n=3, cutoff=0.5)
        words = set(_folded(line.operation).split())
        sharing = [term for term in self._terms if words & set(term.split()) and len(term) > 2]
        terms = [self._spelling[term] for term in dict.fromkeys([*near, *sharing])]
        return tuple(names or terms[:3])

    @staticmethod
    def _extent(operation: OperationDocument, line: RepairLine, number: int) -> str | None:
        if line.extent is None:
            return operation.extents[0] if len(operation.extents) == 1 else None
        if operation.extents and line.extent not in operation.extents:
            detail = f"'{operation.name}' is not something that is {line.extent.replace('_', ' ')}."
            mend = f"Give one of: {', '.join(operation.extents)}; or leave the extent out."
            raise InvalidValue(detail, pointer=pointer(["operations", str(number), "extent"]), mend=mend)
        return line.extent


def _folded(term: str) -> str:
    """Fold a term so that case, hyphens and spaces do not matter."""
    return " ".join("".join(c if c.isalnum() else " " for c in term.casefold()).split())
