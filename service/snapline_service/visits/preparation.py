"""Preparation of several procedures, merged without repeats."""

from collections.abc import Iterable

import msgspec

from snapline.wire.catalogue import Procedure
from snapline.wire.visits import MergedPreparation

_ORDER = {"limit": 0, "act": 1, "reading": 2}


def merged(procedures: Iterable[Procedure]) -> tuple[MergedPreparation, ...]:
    """Return every item once, limits first. Items that differ in a figure or in words stay apart."""
    found: dict[tuple[object, ...], MergedPreparation] = {}
    for procedure in procedures:
        for item in procedure.preparation:
            own = MergedPreparation(
                type=item.type,
                item=item.item,
                text=item.text,
                minimum=item.minimum,
                maximum=item.maximum,
                unit=item.unit,
                feeds=item.feeds,
                stops_work=item.stops_work,
                procedures=(procedure.id,),
                sources=(item.source,),
            )
            key = (item.type, item.item, item.text, item.minimum, item.maximum, item.unit, item.feeds)
            found[key] = _joined(found[key], own) if key in found else own
    return tuple(sorted(found.values(), key=lambda one: _ORDER.get(one.type, len(_ORDER))))


def _joined(one: MergedPreparation, other: MergedPreparation) -> MergedPreparation:
    return msgspec.structs.replace(
        one,
        stops_work=one.stops_work or other.stops_work,
        procedures=tuple(dict.fromkeys((*one.procedures, *other.procedures))),
        sources=tuple(dict.fromkeys((*one.sources, *other.sources))),
    )
