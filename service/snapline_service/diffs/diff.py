"""What differs between two documents of one name, entry by entry: lists are matched by what names entries."""

from collections.abc import Iterator, Mapping
from typing import Any

import msgspec
from msgspec import Struct

from snapline.wire.diffs import Act, DiffItem
from snapline.wire.drafts import DocumentKind
from snapline_service.diffs.words import Told, heading, told
from snapline_service.faults import pointer

# What names an entry of a list, the first that all entries have and that tells them apart.
_NAMING = ("id", "name", "pattern", "code", "trait", "capability")

Json = Mapping[str, Any]


class Difference(Struct, frozen=True):
    """A value that is another, at a path of field names and of entries' names."""

    path: tuple[str, ...]
    before: Any
    after: Any


_WHOLE = Difference((), None, None)


def differences(before: Any, after: Any, path: tuple[str, ...] = ()) -> Iterator[Difference]:
    """Yield where two JSON values differ, as deep as both have something there."""
    if before == after:
        return
    old, new = _fields(before, after), _fields(after, before)
    if old is None or new is None:
        yield Difference(path, before, after)
        return
    for name in dict.fromkeys((*old, *new)):
        yield from differences(old.get(name), new.get(name), (*path, name))
    kept = [[name for name in one if name in other] for one, other in ((old, new), (new, old))]
    if isinstance(before, list) and kept[0] != kept[1]:  # order may be preference
        yield Difference(path, list(old), list(new))


def items(kind: DocumentKind, name: str, before: Json | None, after: Json | None) -> Iterator[DiffItem]:
    """Yield what differs between two documents of a name; None: there is none."""
    if before is None:
        if after is not None:
            yield _item("adds", kind, name, _WHOLE, Told(f"{heading(kind, after)}: added"))
        return
    if after is None:
        yield _item("retires", kind, name, _WHOLE, Told(f"{heading(kind, before)}: retired"))
        return
    for found in differences(before, after):
        yield _item("changes", kind, name, found, told(kind, before, after, found.path))


def _item(act: Act, kind: DocumentKind, name: str, found: Difference, words: Told) -> DiffItem:
    return DiffItem(
        act=act,
        kind=kind,
        name=name,
        pointer=pointer(list(found.path)),
        before=found.before,
        after=found.after,
        **msgspec.structs.asdict(words),
    )


def _fields(value: Any, other: Any) -> Json | None:
    """Return an object's fields or a list's entries by their names; None if it is neither."""
    if isinstance(value, dict) and isinstance(other, dict):
        return value
    if isinstance(value, list) and isinstance(other, list):
        for field in _NAMING:
            if all(isinstance(e, dict) and isinstance(e.get(field), str) for e in (*value, *other)):
                named = [{entry[field]: entry for entry in entries} for entries in (value, other)]
                if len(named[0]) == len(value) and len(named[1]) == len(other):
                    return named[0]
    return None
