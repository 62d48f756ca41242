"""What a road vehicle's dimensions can be: a figure outside is a slip of the pen or of units.

Common practice, no source: from the smallest city cars to long vans and light trucks.
"""

RANGES_MM = {
    "wheelbase_mm": (1500.0, 8000.0),
    "front_track_mm": (1000.0, 2800.0),
    "rear_track_mm": (1000.0, 2800.0),
    "front_overhang_mm": (200.0, 3500.0),
    "rear_overhang_mm": (200.0, 4500.0),
    "width_mm": (1200.0, 3000.0),
    "height_mm": (1000.0, 4500.0),
    "tyre_width_mm": (100.0, 500.0),
}
# A measurement that differs more than this from the catalogue's figure is of another car, or not in mm.
_AGREES_WITHIN_MM = 100.0
_AGREES_WITHIN_SHARE = 0.1


def is_dimension(dimension: str, value_mm: float) -> bool:
    """Whether a dimension can have this value."""
    least, greatest = RANGES_MM.get(dimension, (float("-inf"), float("inf")))
    return least <= value_mm <= greatest


def agrees(measured_mm: float, catalogue_mm: float) -> bool:
    """Whether a measurement can be of the vehicle that the catalogue describes."""
    allowed_mm = max(_AGREES_WITHIN_MM, _AGREES_WITHIN_SHARE * abs(catalogue_mm))
    return abs(measured_mm - catalogue_mm) <= allowed_mm
