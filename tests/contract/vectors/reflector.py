"""Test vectors of radar reflectors."""

from math import log10, pi
from typing import Any

from scipy.constants import speed_of_light

from contract.vectors.cases import Case, Json, answered, file_of, refused, rounded

FORMULA = (
    "Peak cross-section in the far field: trihedral 4 pi a^4 / 3 L^2 and 12 pi a^4 / L^2, dihedral "
    "8 pi w^2 h^2 / L^2, plate 4 pi w^2 h^2 / L^2 (ESA STEP forum, topic 14333; Skolnik, Radar Handbook)."
)
STEP = "ESA STEP forum, topic 14333: reflectors of a satellite calibration site, printed to 0.01 dB."
PERSEO = "Public test of Aresys perseo_quality: leg 0.7 m at a wavelength of 0.055 m peaks at 332.4722407 m2."
TRIANGULAR, SQUARE = "trihedral_triangular", "trihedral_square"


def by_formula(shape: str, frequency_ghz: float, **sizes: float) -> Case:
    """Return a case with the closed form's answer."""
    wavelength_m = speed_of_light / (frequency_ghz * 1e9)
    metres = [size / 1000.0 for size in sizes.values()]
    area_squared = metres[0] ** 4 if "leg_mm" in sizes else (metres[0] * metres[1]) ** 2
    factor = {TRIANGULAR: 4 * pi / 3, SQUARE: 12 * pi, "dihedral": 8 * pi, "plate": 4 * pi}[shape]
    rcs_m2 = factor * area_squared / wavelength_m**2
    body = {
        "rcs_m2": float(f"{rcs_m2:.12g}"),
        "rcs_dbsm": rounded(10 * log10(rcs_m2), 9),
        "wavelength_mm": rounded(wavelength_m * 1000, 9),
    }
    tolerance = {"m2": float(f"{1e-9 * rcs_m2:.1g}"), "dbsm": 1e-6, "mm": 1e-6}
    name = f"{shape} {' by '.join(f'{size:g} mm' for size in sizes.values())} at {frequency_ghz:g} GHz"
    return Case(name, FORMULA, sent(shape, frequency_ghz, **sizes), answered(**body), tolerance)


def sent(shape: str, frequency_ghz: float, **sizes: Any) -> Json:
    return {"shape": shape, "frequency_ghz": frequency_ghz, **sizes}


def file() -> Json:
    """Return the file of vectors."""
    published = [
        Case(
            "published: dihedral 1.5 m square",
            STEP,
            sent("dihedral", 5.405, width_mm=1500.0, height_mm=1500.0),
            answered(rcs_dbsm=46.17),
            {"dbsm": 0.005},
        ),
        Case(
            "published: triangular trihedral, leg 2.5 m",
            STEP,
            sent(TRIANGULAR, 5.405, leg_mm=2500.0),
            answered(rcs_dbsm=47.26),
            {"dbsm": 0.005},
        ),
        Case(
            "published: triangular trihedral, leg 0.7 m",
            PERSEO,
            sent(TRIANGULAR, speed_of_light / 0.055e9, leg_mm=700.0),
            answered(rcs_m2=332.4722407, wavelength_mm=55.0),
            {"m2": 1e-7, "mm": 1e-9},
        ),
    ]
    computed = [
        *(
            by_formula(TRIANGULAR, f, leg_mm=leg)
            for f in (24.125, 76.5, 77.0, 79.0)
            for leg in (100.0, 150.0)
        ),
        *(by_formula(SQUARE, f, leg_mm=80.0) for f in (76.5, 79.0)),
        by_formula("dihedral", 76.5, width_mm=250.0, height_mm=120.0),
        by_formula("plate", 77.0, width_mm=100.0, height_mm=100.0),
        by_formula("plate", 24.125, width_mm=400.0, height_mm=25.0),
    ]
    bad = "INVALID_VALUE"
    refusals: dict[str, tuple[Json, Json]] = {
        "a trihedral without its leg": (sent(TRIANGULAR, 77.0), refused(bad, "/leg_mm")),
        "a trihedral with a width": (
            sent(SQUARE, 77.0, leg_mm=100.0, width_mm=100.0),
            refused(bad, "/width_mm"),
        ),
        "a plate without its height": (sent("plate", 77.0, width_mm=100.0), refused(bad, "/height_mm")),
        "a dihedral with a leg": (
            sent("dihedral", 77.0, width_mm=1.0, height_mm=1.0, leg_mm=1.0),
            refused(bad, "/leg_mm"),
        ),
        "a shape that nobody knows": (sent("sphere", 77.0, leg_mm=100.0), refused("UNKNOWN_NAME", "/shape")),
        "no frequency": (sent(TRIANGULAR, 0.0, leg_mm=100.0), refused(bad, "/frequency_ghz")),
        "a leg of nothing": (sent(TRIANGULAR, 77.0, leg_mm=0.0), refused(bad, "/leg_mm")),
    }
    cases = published + computed
    cases += [Case(name, "The API's contract.", s, expect) for name, (s, expect) in refusals.items()]
    return file_of("POST /v1/geometry/reflector", "A radar reflector's peak cross-section.", FORMULA, cases)
