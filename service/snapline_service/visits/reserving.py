"""Why nobody can say for sure what is to be done to a car, wherever it is done."""

from collections.abc import Iterator

from snapline.wire.scope import Scope, UnknownOperation


def reservation(scope: Scope) -> str:
    """Return the first thing that leaves a scope open, in a sentence; nothing where all is settled."""
    return next(_reservations(scope), "")


def _reservations(scope: Scope) -> Iterator[str]:
    if scope.unknown_operations:
        lines = "; ".join(map(_line, scope.unknown_operations))
        yield f"Not every repair line is understood: {lines}."
    if any(one.answer == "conditional" or one.undecided for one in scope.systems):
        yield "Open questions decide part of it."
    if any(one.answer == "refer_to_maker" for one in scope.changed_car):
        yield "The car was changed: ask the maker first."


def _line(one: UnknownOperation) -> str:
    near = " or ".join(f"'{term}'" for term in one.nearest)
    return f"line {one.line + 1}, '{one.text}'" + (f" (did you mean {near}?)" if near else "")
