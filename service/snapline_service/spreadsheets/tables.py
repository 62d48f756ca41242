"""Which sheets there are, which columns each has, and where in a document their cells stand.

Documents are JSON values here. A row is addressed by its key columns; every other column is a path inside
what they lead to.
"""

from collections.abc import Iterator
from typing import Any, Literal

from msgspec import Struct

from snapline.wire.spreadsheets import SheetName

Form = Literal["text", "word", "words", "number", "integer", "yes_no", "day"]
Value = str | float | bool | None
Keys = tuple[Value, ...]
RETIRE = "retire"


class Column(Struct, frozen=True):
    """A column and the path of its cells; ``otherwise`` is what an absent field means."""

    name: str
    steps: tuple[str, ...]
    form: Form = "number"
    otherwise: Value = None

    def of(self, item: Any) -> Value:
        """Return the cell's value in what a row is about."""
        for step in self.steps:
            if not isinstance(item, dict) or step not in item:
                return self.otherwise
            item = item[step]
        if self.form == "words":
            return " ".join(item) or None
        found: Value = item
        return found

    def put(self, item: dict[str, Any], value: Value) -> None:
        """Set the cell's field; an empty cell removes it, and what then holds nothing."""
        *above, last = self.steps
        passed = [item]
        for step in above:
            passed.append(passed[-1].setdefault(step, {}))
        if value is None:
            passed[-1].pop(last, None)
        else:
            passed[-1][last] = str(value).split() if self.form == "words" else value
        for holder, step in zip(reversed(passed[:-1]), reversed(above), strict=True):
            if not holder[step] and step != "dimensions":
                del holder[step]


class Level(Struct, frozen=True):
    """A list inside a document and the columns that tell its items apart, with the items' own field names."""

    field: str
    keys: tuple[tuple[str, str], ...]


class Sheet(Struct, frozen=True):
    """A sheet: the kind of document it is about, the lists that lead to a row, and its columns."""

    name: SheetName
    kind: str
    levels: tuple[Level, ...]
    columns: tuple[Column, ...]

    @property
    def keys(self) -> tuple[Column, ...]:
        """The columns that address a row; the first is the document's id."""
        inner = (Column(name, (field,), "word") for level in self.levels for name, field in level.keys)
        return (Column(f"{self.kind}_id", ("id",), "word"), *inner)

    @property
    def all_columns(self) -> tuple[Column, ...]:
        """Every column in the order of the sheet."""
        return (*self.keys, *self.columns, Column(RETIRE, (), "yes_no"))

    def items(self, document: dict[str, Any]) -> Iterator[tuple[Keys, dict[str, Any]]]:
        """Yield what the sheet has a row for, with its keys."""
        found: list[tuple[Keys, dict[str, Any]]] = [((document["id"],), document)]
        for level in self.levels:
            found = [
                ((*keys, *(part.get(field) for _, field in level.keys)), part)
                for keys, item in found
                for part in item.get(level.field, ())
            ]
        return iter(found)

    def pointer(self, document: dict[str, Any], keys: Keys) -> str | None:
        """Return the RFC 6901 pointer of a row's item; None if it is not there."""
        at, item, rest = "", document, list(keys[1:])
        for level in self.levels:
            wanted, rest = rest[: len(level.keys)], rest[len(level.keys) :]
            for index, part in enumerate(item.get(level.field, ())):
                if [part.get(field) for _, field in level.keys] == wanted:
                    at, item = f"{at}/{level.field}/{index}", part
                    break
            else:
                return None
        return at

    def holder(self, document: dict[str, Any], keys: Keys) -> list[Any] | Column:
        """Return the list that a row belongs in, or the column of the first key that leads nowhere."""
        item, columns, rest = document, list(self.keys[1:]), list(keys[1:])
        for level in self.levels[:-1]:
            count = len(level.keys)
            wanted = rest[:count]
            parts = item.get(level.field, ())
            there = [part for part in parts if [part.get(field) for _, field in level.keys] == wanted]
            if not there:
                return columns[0]
            item, rest, columns = there[0], rest[count:], columns[count:]
        found: list[Any] = item.setdefault(self.levels[-1].field, [])
        return found


_VEHICLES = Sheet(
    "vehicles",
    "vehicle",
    (),
    (
        Column("make", ("make",), "text"),
        Column("model", ("model",), "text"),
        Column("body", ("body",), "word"),
        Column("markets", ("markets",), "words"),
        Column("drive_side", ("drive_side",), "word"),
        Column("model_year_first", ("model_year_first",), "integer"),
        Column("model_year_last", ("model_year_last",), "integer"),
        Column("light_vehicle", ("light_vehicle",), "yes_no", True),
        Column("invented", ("invented",), "yes_no", False),
        *(
            Column(name, ("dimensions", name))
            for name in (
                "wheelbase_mm",
                "front_track_mm",
                "rear_track_mm",
                "front_overhang_mm",
                "rear_overhang_mm",
                "width_mm",
                "height_mm",
                "tyre_width_mm",
            )
        ),
        Column("thrust_limit_deg", ("thrust_limit_deg",)),
    ),
)
_PLACEMENTS = Sheet(
    "placements",
    "vehicle",
    (
        Level("procedures", (("procedure_id", "id"),)),
        Level("stages", (("stage_id", "id"),)),
        Level("placements", (("placement_id", "id"),)),
    ),
    (
        Column("capability", ("need", "capability"), "word"),
        Column("named_fixtures", ("need", "named"), "words"),
        Column("radar_frequency_ghz", ("need", "radar", "frequency_ghz")),
        Column("radar_min_rcs_dbsm", ("need", "radar", "min_rcs_dbsm")),
        Column("radar_max_rcs_dbsm", ("need", "radar", "max_rcs_dbsm")),
        Column("carrier_capability", ("carrier", "capability"), "word"),
        Column("carrier_named_fixtures", ("carrier", "named"), "words"),
        Column("aim_line", ("placement", "aim_line"), "word"),
        Column("along_datum", ("placement", "along", "datum"), "word"),
        Column("along_mm", ("placement", "along", "distance_mm")),
        Column("lateral_datum", ("placement", "lateral", "datum"), "word"),
        Column("lateral_mm", ("placement", "lateral", "distance_mm")),
        Column("height_datum", ("placement", "height", "datum"), "word"),
        Column("height_mm", ("placement", "height", "distance_mm")),
        *(Column(name, ("placement", name), "number", 0.0) for name in ("yaw_deg", "pitch_deg", "roll_deg")),
        Column("range_min_mm", ("range", "min_mm")),
        Column("range_max_mm", ("range", "max_mm")),
        *(
            Column(f"tolerance_{name}", ("tolerance", name))
            for name in ("along_mm", "lateral_mm", "height_mm", "yaw_deg", "pitch_deg", "roll_deg")
        ),
        *(
            Column(f"clear_{name}", ("clear_zone", name))
            for name in ("facing_mm", "behind_mm", "left_mm", "right_mm")
        ),
    ),
)
_FIXTURES = Sheet(
    "fixtures",
    "fixture",
    (),
    (
        Column("name", ("name",), "text"),
        Column("fixture_kind", ("fixture_kind",), "word"),
        Column("reference_point", ("reference_point",), "text"),
        Column("invented", ("invented",), "yes_no", False),
        Column("height_min_mm", ("height_min_mm",)),
        Column("height_max_mm", ("height_max_mm",)),
        Column("top_mm", ("top_mm",)),
        Column("mass_kg", ("mass_kg",)),
        Column("reflector_shape", ("reflector", "shape"), "word"),
        Column("reflector_leg_mm", ("reflector", "leg_mm")),
        Column("reflector_width_mm", ("reflector", "width_mm")),
        Column("reflector_height_mm", ("reflector", "height_mm")),
    ),
)
_DISTURBANCES = Sheet(
    "disturbances",
    "vehicle",
    (
        Level("systems", (("system_id", "id"),)),
        Level("disturbances", (("operation", "operation"), ("extent", "extent"))),
    ),
    (
        Column("effect", ("effect",), "word"),
        Column("reason", ("reason",), "text"),
        Column("requirement", ("requirement",), "word"),
        Column("question", ("question",), "text"),
        Column("source", ("source", "source"), "word"),
        Column("locator", ("source", "locator"), "text"),
        Column("checked_by", ("source", "checked_by"), "text"),
        Column("checked_on", ("source", "checked_on"), "day"),
    ),
)
SHEETS: dict[str, Sheet] = {sheet.name: sheet for sheet in (_VEHICLES, _PLACEMENTS, _FIXTURES, _DISTURBANCES)}
EMPTY: dict[str, dict[str, Any]] = {
    "vehicle": {"kind": "vehicle", "format": 1, "dimensions": {}},
    "fixture": {"kind": "fixture", "format": 1},
}
