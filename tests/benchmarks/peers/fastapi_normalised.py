"""FastAPI and SQLModel over normalised tables, loaded eagerly, with a response model."""

import os
from collections.abc import Iterator
from typing import Annotated

import sqlalchemy as sa
from fastapi import Depends, FastAPI, HTTPException, Request
from sqlmodel import Session

from benchmarks.peers.key import is_known
from benchmarks.peers.normalised_tables import VehicleOut, VehicleRow

_ENGINE = sa.create_engine(f"sqlite:///{os.environ['BENCHMARK_NORMALISED_FILE']}")


def _check(request: Request) -> None:
    if not is_known(request.headers.get("authorization")):
        raise HTTPException(401)


def _session() -> Iterator[Session]:
    with Session(_ENGINE) as session:
        yield session


def _vehicle(vehicle_id: str, session: Annotated[Session, Depends(_session)]) -> VehicleRow:
    found = session.get(VehicleRow, vehicle_id)
    assert found
    return found


app = FastAPI(openapi_url=None)
app.add_api_route(
    "/v1/vehicles/{vehicle_id}", _vehicle, response_model=VehicleOut, dependencies=[Depends(_check)]
)
