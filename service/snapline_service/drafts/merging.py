"""Merge two changes of one document, field by field. JSON values; None is absent, as no document holds null.

Entries of lists are matched by what names them, their id where they have one, so that two people may
change different procedures of a vehicle. What cannot be merged is a clash: the draft's side stands, and both
are kept.
"""

from collections.abc import Sequence
from typing import Any

from msgspec import Struct

# What names the entries of a list, in this order.
_NAMING = (
    ("id",),
    ("name",),
    ("code",),
    ("pattern",),
    ("trait",),
    ("capability",),
    ("operation", "extent"),
    ("type", "item"),
    ("change",),
)
Path = tuple[str, ...]


class Clash(Struct, frozen=True):
    """A place where both sides differ from the base and from each other."""

    path: Path
    base: Any
    published: Any
    draft: Any


def merge(base: Any, published: Any, draft: Any, path: Path = ()) -> tuple[Any, list[Clash]]:
    """Return the document with both changes in it, and every clash."""
    if draft in (published, base):
        return published, []
    if published == base:
        return draft, []
    if isinstance(published, dict) and isinstance(draft, dict):
        known = base if isinstance(base, dict) else {}
        return _merge_fields(known, published, draft, path)
    if isinstance(published, list) and isinstance(draft, list):
        merged = _merge_lists(base if isinstance(base, list) else [], published, draft, path)
        if merged:
            return merged
    return draft, [Clash(path, base, published, draft)]


def _merge_fields(
    base: dict[str, Any], published: dict[str, Any], draft: dict[str, Any], path: Path
) -> tuple[dict[str, Any], list[Clash]]:
    answer: dict[str, Any] = {}
    clashes: list[Clash] = []
    for name in dict.fromkeys([*published, *draft]):
        value, found = merge(base.get(name), published.get(name), draft.get(name), (*path, name))
        clashes += found
        if value is not None:
            answer[name] = value
    return answer, clashes


def _merge_lists(
    base: list[Any], published: list[Any], draft: list[Any], path: Path
) -> tuple[list[Any], list[Clash]] | None:
    """Return the merged list; None if its entries have no names, or both sides gave them another order."""
    fields = _fields_of([base, published, draft])
    if fields is None:
        return None
    sides = [{_name(entry, fields): entry for entry in side} for side in (base, published, draft)]
    answer: dict[str, Any] = {}
    clashes: list[Clash] = []
    for name in dict.fromkeys([*sides[1], *sides[2]]):
        value, found = merge(sides[0].get(name), sides[1].get(name), sides[2].get(name), (*path, name))
        clashes += found
        if value is not None:
            answer[name] = value
    order = _order(*(list(side) for side in sides))
    return None if order is None else ([answer[name] for name in order if name in answer], clashes)


def _order(base: list[str], published: list[str], draft: list[str]) -> list[str] | None:
    common = set(base) & set(published) & set(draft)
    was, theirs, ours = ([name for name in names if name in common] for names in (base, published, draft))
    if ours in (was, theirs):
        return _insert(published, draft)
    return _insert(draft, published) if theirs == was else None


def _insert(into: list[str], others: list[str]) -> list[str]:
    """Return the first list with the names that only the other has, each after its predecessor there."""
    answer = list(into)
    for index, name in enumerate(others):
        if name not in answer:
            before = [other for other in others[:index] if other in answer]
            answer.insert(answer.index(before[-1]) + 1 if before else 0, name)
    return answer


def settled(document: Any, path: Path, value: Any, like: Any = None) -> Any:
    """Return a document with a value put at a path, or taken away if it is None.

    ``like`` is a document that shows where in a list a new entry belongs. Raises KeyError if what the path
    leads through is not there.
    """
    if not path:
        return value
    step, rest = path[0], path[1:]
    if isinstance(document, dict):
        inner = settled(
            document[step] if rest else None, rest, value, like.get(step) if isinstance(like, dict) else None
        )
        return {name: part for name, part in {**document, step: inner}.items() if part is not None}
    if not isinstance(document, list):
        raise KeyError(step)
    shown = like if isinstance(like, list) else []
    fields = _fields_of([document, shown, [value] if isinstance(value, dict) and not rest else []])
    if fields is None:
        raise KeyError(step)
    entries = {_name(entry, fields): entry for entry in document}
    models = {_name(entry, fields): entry for entry in shown}
    entries[step] = settled(entries[step] if rest else None, rest, value, models.get(step))
    order = (
        list(entries)
        if step in {_name(entry, fields) for entry in document}
        else _insert(
            [name for name in entries if name != step], list(models) if step in models else [*entries]
        )
    )
    return [entries[name] for name in order if entries.get(name) is not None]


def _fields_of(lists: Sequence[list[Any]]) -> tuple[str, ...] | None:
    """Return by what the entries of all the lists can be told apart."""
    return next(
        (fields for fields in _NAMING if all(_tells_apart(fields, entries) for entries in lists)), None
    )


def _tells_apart(fields: tuple[str, ...], entries: list[Any]) -> bool:
    if not all(isinstance(entry, dict) and isinstance(entry.get(fields[0]), str) for entry in entries):
        return False
    return len({_name(entry, fields) for entry in entries}) == len(entries)


def _name(entry: dict[str, Any], fields: tuple[str, ...]) -> str:
    return " ".join(str(entry[field]) for field in fields if field in entry)
