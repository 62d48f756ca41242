"""The preparation list of a sheet: limits, acts and readings, with fields to write in."""

from collections.abc import Iterator, Sequence

from snapline.wire.catalogue import PreparationItem
from snapline.wire.visits import MergedPreparation
from snapline_service.sheets.document import Blank, Cell, Column, Table

Item = PreparationItem | MergedPreparation
_UNITS = {"deg": "°"}
_TYRES = ("FL", "FR", "RL", "RR")
_TOES = ("RL in", "RL out", "RR in", "RR out")
_THRUST = "vehicle.thrust_yaw_deg"
_TITLES = (("limit", "Limits to keep"), ("act", "Things to do"), ("reading", "Readings to take"))


def tables(items: Sequence[Item], *, thrust_line: str | None = None) -> Iterator[Table]:
    """Yield a table for each type of item; types that this version does not know come last.

    ``thrust_line`` says how the thrust line was found to be turned, if the figures rest on a reading of it.
    """
    known = [name for name, _ in _TITLES]
    for name, title in (*_TITLES, ("", "Other preparation")):
        chosen = [i for i in items if i.type == name or (not name and i.type not in known)]
        if chosen:
            yield Table(title, _columns(name), tuple(_row(name, item, thrust_line) for item in chosen))


def _columns(kind: str) -> tuple[Column, ...]:
    found = Column("Done", 12) if kind == "act" else Column("Found", 24)
    middle = (Column("Limit", 26),) if kind == "limit" else ()
    return (Column("What", 70), *middle, found, Column("If not", 18))


def _row(kind: str, item: Item, thrust_line: str | None) -> tuple[Cell, ...]:
    if _is_thrust(item) and thrust_line:
        return (item.text, f"read: {thrust_line}", "if it has changed since: stop, print again")
    middle = (limit(item),) if kind == "limit" else ()
    return (item.text, *middle, _found(kind, item), _if_not(item))


def _found(kind: str, item: Item) -> Blank:
    if kind == "act":
        return Blank(tick=True)
    parts = _TYRES if item.item == "tyre_pressure" else _TOES if _is_thrust(item) else ()
    return Blank(_unit(item), parts=parts)


def _is_thrust(item: Item) -> bool:
    return item.type == "reading" and item.feeds == _THRUST


def _if_not(item: Item) -> str:
    """Return what follows; figures for a thrust line that nobody read hold for no other car."""
    if _is_thrust(item):
        return "stop: read it and print again"
    return "do not start" if item.stops_work else "note it"


def limit(item: Item) -> str:
    """Return a limit in words: 'at most 5 mm/m', '200 to 1,500 lux', 'within 5 mm either way'."""
    low, high, unit = item.minimum, item.maximum, _unit(item)
    if low is not None and high is not None:
        if low == -high:
            return _spaced(f"within {high:,g}", unit) + " either way"
        return f"{_figure(low)} to {_spaced(_figure(high), unit)}"
    if high is not None:
        return f"at most {_spaced(_figure(high), unit)}"
    return f"at least {_spaced(_figure(low), unit)}" if low is not None else ""


def _figure(value: float) -> str:
    return f"{value:,g}" if value >= 0 else f"{abs(value):,g} below zero"


def _unit(item: Item) -> str:
    return _UNITS.get(item.unit or "", item.unit or "")


def _spaced(figure: str, unit: str) -> str:
    return f"{figure}{unit}" if unit == "°" else f"{figure} {unit}".strip()
