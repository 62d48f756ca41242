"""What a person sets out with: instrument, marks and care. Trials of other means are made from it."""

from dataclasses import dataclass
from math import inf

from snapline.wire.setting_out import Tape as WireTape
from snapline.wire.setups import SetupRequest
from snapline_service.geometry.tapes import Tape, instrument
from snapline_service.sheets.lengths import Units

DEFAULT_TAPE = WireTape(class_="II", length_mm=10_000.0)


@dataclass(frozen=True, slots=True)
class Means:
    """Instrument, which marks may be used and how surely they are made and known.

    ``greatest_u_mm`` caps the uncertainty of every dimension, as if it had been measured that well.
    """

    tape: Tape
    auxiliary_marks: bool
    two_stages: bool
    u_marking_mm: float
    units: Units
    greatest_u_mm: float = inf


def means_of(request: SetupRequest) -> Means:
    """Return the means that a request names. Raises InvalidValue for an instrument that cannot be."""
    wanted = request.tape or DEFAULT_TAPE
    tape = instrument(wanted.class_, wanted.mpe_mm, wanted.length_mm)
    return Means(
        tape.printed_in(request.units),
        request.auxiliary_marks,
        request.two_stages,
        request.u_marking_mm,
        request.units,
    )


def tape_text(request: SetupRequest) -> str:
    """Name the instrument."""
    wanted = request.tape or DEFAULT_TAPE
    if wanted.class_:
        return f"Tape of class {wanted.class_}, {wanted.length_mm / 1000:g} m"
    return f"Laser distance meter, {wanted.mpe_mm:g} mm at most in error, {wanted.length_mm / 1000:g} m"
