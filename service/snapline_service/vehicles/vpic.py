"""A hint at make, model and year from the vPIC extract in the optional package ``vin`` (extra ``vpic``).

The extract is offline and covers vehicles sold in the United States. It only ever hints: the catalogue
decides which vehicle it is.
"""

import warnings
from dataclasses import dataclass

from snapline_service.vehicles.vin import DecodedVin


@dataclass(frozen=True, slots=True)
class VpicHint:
    """Make, model and model year as vPIC words them; of some vehicles it knows no model."""

    make: str
    model: str | None
    model_year: int


def hint(vin: DecodedVin) -> VpicHint | None:
    """Ask vPIC about a North American VIN; None for any other, without the extra, or if it cannot say."""
    if vin.region != "north_america":
        return None
    with warnings.catch_warnings(action="ignore"):
        try:
            from vin import VIN  # type: ignore[import-untyped]  # noqa: PLC0415 - optional, and opens a database

            found = VIN(vin.vin)
            said = VpicHint(found.make, found.model or None, found.model_year)
        except Exception:  # of any kind: a hint never stands in the way of an answer
            return None
    return said if said.make else None
