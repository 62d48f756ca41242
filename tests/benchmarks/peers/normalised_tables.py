"""A vehicle's document in normalised tables, as an ordinary service would keep it.

What few queries would ever look into (dimensions, sensors, options, preparation, drive conditions) stays JSON
in a column, and sources are not joined in: both favour this peer. The classes with ``Out`` are its answer.
"""

from typing import Any

import sqlalchemy as sa
from sqlmodel import Field, Relationship, SQLModel


def _parts() -> Any:
    """Return a relationship that is loaded with its parent, one query for all parents (``selectinload``)."""
    return Relationship(sa_relationship_kwargs={"lazy": "selectin"})


class Quoted(SQLModel):
    """Where a statement is written."""

    source: str
    locator: str
    checked_by: str | None
    checked_on: str | None


class PlacementColumns(SQLModel):
    """A placement: where a fixture stands, how exactly, and what must be kept clear."""

    name: str
    capability: str
    named: str
    aim_line: str
    along_datum: str
    along_mm: float
    lateral_datum: str
    lateral_mm: float
    height_mm: float
    yaw_deg: float
    tolerance_along_mm: float | None
    tolerance_lateral_mm: float | None
    tolerance_height_mm: float | None
    clear_facing_mm: float | None
    clear_behind_mm: float | None


class StageColumns(SQLModel):
    """A stage."""

    name: str
    title: str


class ProcedureColumns(Quoted):
    """A procedure."""

    name: str
    title: str
    method: str
    duration_min: float
    people: int
    preparation: list[Any] = Field(sa_type=sa.JSON)
    drive: dict[str, Any] | None = Field(sa_type=sa.JSON)
    tool_function: str | None


class AlternativeColumns(SQLModel):
    """An alternative."""

    name: str
    title: str
    procedures: str


class RequirementColumns(Quoted):
    """A requirement."""

    name: str


class DisturbanceColumns(Quoted):
    """A disturbance."""

    operation: str
    effect: str
    reason: str
    question: str | None


class SystemColumns(SQLModel):
    """A system."""

    name: str
    kind: str
    title: str
    fitted_when: dict[str, Any] | None = Field(sa_type=sa.JSON)


class VehicleColumns(SQLModel):
    """A vehicle."""

    make: str
    model: str
    body: str
    market: str
    drive_side: str
    model_year_first: int
    model_year_last: int | None
    dimensions: dict[str, Any] = Field(sa_type=sa.JSON)
    sensors: dict[str, Any] = Field(sa_type=sa.JSON)
    options: list[Any] = Field(sa_type=sa.JSON)


class PlacementRow(PlacementColumns, table=True):
    id: int = Field(primary_key=True)
    stage_id: int = Field(foreign_key="stagerow.id", index=True)


class StageRow(StageColumns, table=True):
    id: int = Field(primary_key=True)
    procedure_id: int = Field(foreign_key="procedurerow.id", index=True)
    placements: list[PlacementRow] = _parts()


class ProcedureRow(ProcedureColumns, table=True):
    id: int = Field(primary_key=True)
    vehicle_id: str = Field(foreign_key="vehiclerow.id", index=True)
    stages: list[StageRow] = _parts()


class AlternativeRow(AlternativeColumns, table=True):
    id: int = Field(primary_key=True)
    requirement_id: int = Field(foreign_key="requirementrow.id", index=True)


class RequirementRow(RequirementColumns, table=True):
    id: int = Field(primary_key=True)
    system_id: int = Field(foreign_key="systemrow.id", index=True)
    alternatives: list[AlternativeRow] = _parts()


class DisturbanceRow(DisturbanceColumns, table=True):
    id: int = Field(primary_key=True)
    system_id: int = Field(foreign_key="systemrow.id", index=True)


class SystemRow(SystemColumns, table=True):
    id: int = Field(primary_key=True)
    vehicle_id: str = Field(foreign_key="vehiclerow.id", index=True)
    disturbances: list[DisturbanceRow] = _parts()
    requirements: list[RequirementRow] = _parts()


class VehicleRow(VehicleColumns, table=True):
    id: str = Field(primary_key=True)
    systems: list[SystemRow] = _parts()
    procedures: list[ProcedureRow] = _parts()


class StageOut(StageColumns):
    placements: list[PlacementColumns]


class ProcedureOut(ProcedureColumns):
    stages: list[StageOut]


class RequirementOut(RequirementColumns):
    alternatives: list[AlternativeColumns]


class SystemOut(SystemColumns):
    disturbances: list[DisturbanceColumns]
    requirements: list[RequirementOut]


class VehicleOut(VehicleColumns):
    id: str
    systems: list[SystemOut]
    procedures: list[ProcedureOut]
