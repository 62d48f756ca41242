"""The form of a test vector: what is sent, what must come back, and how far a number may be off."""

from dataclasses import asdict, dataclass, field
from typing import Any

Json = dict[str, Any]


@dataclass(frozen=True)
class Case:
    """One request with the part of its answer that is fixed, from a source outside the service."""

    name: str
    source: str
    request: Json
    expect: Json
    tolerance: Json = field(default_factory=dict)


def answered(**body: Any) -> Json:
    """Expect an answer with these fields."""
    return {"status": 200, "body": body}


def refused(code: str, pointer: str, fault: str | None = None) -> Json:
    """Expect a problem: its code, where it points to, and the code of the fault there if it differs."""
    return {"status": 422, "code": code, "errors": [{"pointer": pointer, "code": fault or code}]}


def file_of(operation: str, description: str, source: str, cases: list[Case]) -> Json:
    """Return a file of vectors."""
    how = (
        " Fields of an answer that a case does not expect are not compared. A number may differ by the "
        "tolerance for the unit at the end of its field's name; angles are equal modulo 360 degrees."
    )
    return {
        "format": 1,
        "operation": operation,
        "description": description + how,
        "source": source,
        "cases": [asdict(case) for case in cases],
    }


def rounded(value: float, digits: int) -> float:
    """Round so that another processor's last bits make no difference; never a negative zero."""
    return round(float(value), digits) + 0.0
