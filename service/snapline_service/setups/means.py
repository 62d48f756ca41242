"""What a person sets out with: instrument, marks and care. Trials of other means are made from it."""

from dataclasses import dataclass
from math import inf

from snapline.wire.setting_out import Tape as WireTape
from snapline.wire.setups import SetupRequest
from snapline_service.errors import InvalidValue
from snapline_service.faults import pointer
from snapline_service.geometry.tapes import Tape, instrument
from snapline_service.sheets.lengths import Units

_MOST_CLEARANCE_MM = 2000.0
_MOST_U_MM = 100.0
DEFAULT_TAPE = WireTape(class_="II", length_mm=10_000.0)


@dataclass(frozen=True, slots=True)
class Means:
    """Instrument, which marks may be used and how surely they are made and known.

    ``greatest_u_mm`` and ``greatest_u_deg`` cap the uncertainty of what the car's figures say, as if it had
    been measured that well.
    """

    tape: Tape
    auxiliary_marks: bool
    two_stages: bool
    u_marking_mm: float
    units: Units
    greatest_u_mm: float = inf
    greatest_u_deg: float = inf


def means_of(request: SetupRequest) -> Means:
    """Return the means that a request names. Raises InvalidValue for instruments or marks that cannot be."""
    _require_marks(request)
    wanted = request.tape or DEFAULT_TAPE
    tape = instrument(wanted.class_, wanted.mpe_mm, wanted.length_mm)
    return Means(
        tape.printed_in(request.units),
        request.auxiliary_marks,
        request.two_stages,
        request.u_marking_mm,
        request.units,
    )


def _require_marks(request: SetupRequest) -> None:
    """Raise InvalidValue for marks that no workshop floor has."""
    clearance = "The clearance of wheel marks", request.wheel_mark_clearance_mm, _MOST_CLEARANCE_MM
    _require(*clearance, ["wheel_mark_clearance_mm"])
    _require("How surely marks are made", request.u_marking_mm, _MOST_U_MM, ["u_marking_mm"])
    for name, mark in request.marks.items():
        _require("How surely a mark is known", mark.u_mm, _MOST_U_MM, ["marks", name, "u_mm"])


def _require(what: str, value_mm: float, most_mm: float, at: list[str | int]) -> None:
    if value_mm > most_mm:
        detail = f"{what} cannot be {value_mm:,g} mm on a workshop's floor."
        mend = f"Give it in millimetres, {most_mm:,g} mm at most."
        raise InvalidValue(detail, pointer=pointer(at), mend=mend)


def tape_text(request: SetupRequest) -> str:
    """Name the instrument."""
    wanted = request.tape or DEFAULT_TAPE
    if wanted.class_:
        return f"Tape of class {wanted.class_}, {wanted.length_mm / 1000:g} m"
    return f"Laser distance meter, {wanted.mpe_mm:,g} mm at most in error, {wanted.length_mm / 1000:g} m"
