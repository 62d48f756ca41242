"""Fill the normalised tables from the documents of a revision file."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import msgspec
import sqlalchemy as sa
from sqlmodel import SQLModel

from benchmarks.peers.normalised_tables import (
    AlternativeRow,
    DisturbanceRow,
    PlacementRow,
    ProcedureRow,
    RequirementRow,
    StageRow,
    SystemRow,
    VehicleRow,
)
from snapline.offline import RevisionFile
from snapline.wire.catalogue import FixturePlacement, Procedure, System
from snapline.wire.common import SourceRef
from snapline.wire.vehicles import Vehicle

Row = tuple[type[SQLModel], dict[str, Any]]
_VEHICLES_AT_ONCE = 500
_NUMBERS = count(1)


def fill(path: Path, file: RevisionFile, vehicles: Iterable[str]) -> None:
    """Write the vehicles to a new SQLite database at a path."""
    beside = path.with_suffix(".filling")
    beside.unlink(missing_ok=True)
    engine = sa.create_engine(f"sqlite:///{beside}")
    tables = [SQLModel.metadata.tables[str(row.__tablename__)] for row in _TABLES]
    SQLModel.metadata.create_all(engine, tables)
    waiting: dict[type[SQLModel], list[dict[str, Any]]] = defaultdict(list)
    with engine.begin() as connection:
        for number, vehicle_id in enumerate(vehicles, 1):
            vehicle = file.get_vehicle(vehicle_id)
            assert vehicle
            for table, row in _vehicle(vehicle):
                waiting[table].append(row)
            if number % _VEHICLES_AT_ONCE == 0:
                _flush(connection, waiting)
        _flush(connection, waiting)
    engine.dispose()
    beside.replace(path)


_TABLES = (
    VehicleRow,
    SystemRow,
    DisturbanceRow,
    RequirementRow,
    AlternativeRow,
    ProcedureRow,
    StageRow,
    PlacementRow,
)


def _flush(connection: sa.Connection, waiting: dict[type[SQLModel], list[dict[str, Any]]]) -> None:
    for table in _TABLES:
        if rows := waiting.pop(table, None):
            connection.execute(sa.insert(table), rows)


def _vehicle(vehicle: Vehicle) -> Iterator[Row]:
    yield (
        VehicleRow,
        {
            "id": vehicle.id,
            "make": vehicle.make,
            "model": vehicle.model,
            "body": vehicle.body,
            "market": " ".join(vehicle.markets),
            "drive_side": vehicle.drive_side,
            "model_year_first": vehicle.model_year_first,
            "model_year_last": vehicle.model_year_last,
            "dimensions": msgspec.to_builtins(vehicle.dimensions),
            "sensors": msgspec.to_builtins(vehicle.sensors),
            "options": msgspec.to_builtins(vehicle.options),
        },
    )
    for system in vehicle.systems:
        yield from _system(system, vehicle.id)
    for procedure in vehicle.procedures:
        yield from _procedure(procedure, vehicle.id)


def _system(system: System, vehicle_id: str) -> Iterator[Row]:
    own = next(_NUMBERS)
    yield (
        SystemRow,
        {
            "id": own,
            "vehicle_id": vehicle_id,
            "name": system.id,
            "kind": system.kind,
            "title": system.name,
            "fitted_when": msgspec.to_builtins(system.fitted_when),
        },
    )
    for rule in system.disturbances:
        yield (
            DisturbanceRow,
            {
                "id": next(_NUMBERS),
                "system_id": own,
                "operation": rule.operation,
                "effect": rule.effect,
                "reason": rule.reason,
                "question": rule.question,
                **_quoted(rule.source),
            },
        )
    for requirement in system.requirements:
        row = {"id": next(_NUMBERS), "system_id": own, "name": requirement.id, **_quoted(requirement.source)}
        yield RequirementRow, row
        for way in requirement.alternatives:
            yield (
                AlternativeRow,
                {
                    "id": next(_NUMBERS),
                    "requirement_id": row["id"],
                    "name": way.id,
                    "title": way.name,
                    "procedures": " ".join(way.procedures),
                },
            )


def _procedure(procedure: Procedure, vehicle_id: str) -> Iterator[Row]:
    own = next(_NUMBERS)
    yield (
        ProcedureRow,
        {
            "id": own,
            "vehicle_id": vehicle_id,
            "name": procedure.id,
            "title": procedure.name,
            "method": procedure.method,
            "duration_min": procedure.duration_min,
            "people": procedure.people,
            "preparation": msgspec.to_builtins(procedure.preparation),
            "drive": msgspec.to_builtins(procedure.drive),
            "tool_function": procedure.tool_function,
            **_quoted(procedure.source),
        },
    )
    for stage in procedure.stages:
        row = {"id": next(_NUMBERS), "procedure_id": own, "name": stage.id, "title": stage.name}
        yield StageRow, row
        for item in stage.placements:
            yield PlacementRow, {"id": next(_NUMBERS), "stage_id": row["id"], **_placement(item)}


def _placement(item: FixturePlacement) -> dict[str, Any]:
    place, tolerance, clear = item.placement, item.tolerance, item.clear_zone
    return {
        "name": item.id,
        "capability": item.need.capability,
        "named": " ".join(item.need.named),
        "aim_line": place.aim_line,
        "along_datum": place.along.datum,
        "along_mm": place.along.distance_mm,
        "lateral_datum": place.lateral.datum,
        "lateral_mm": place.lateral.distance_mm,
        "height_mm": place.height.distance_mm,
        "yaw_deg": place.yaw_deg,
        "tolerance_along_mm": tolerance and tolerance.along_mm,
        "tolerance_lateral_mm": tolerance and tolerance.lateral_mm,
        "tolerance_height_mm": tolerance and tolerance.height_mm,
        "clear_facing_mm": clear and clear.facing_mm,
        "clear_behind_mm": clear and clear.behind_mm,
    }


def _quoted(source: SourceRef) -> dict[str, str | None]:
    return msgspec.structs.asdict(source)
