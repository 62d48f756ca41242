"""Write the test vectors for other languages: ``PYTHONPATH=tests python -m contract.vectors.write``."""

import json
from pathlib import Path

from contract.vectors import (
    aim_tolerance,
    as_set,
    bay_fit,
    drive_window,
    floor,
    placement,
    reflector,
    setting_out,
)

FOLDER = Path(__file__).parents[3] / "openapi" / "vectors"


def files() -> dict[str, str]:
    """Return the files by name, made from sources outside the service."""
    made = {
        "placement": placement,
        "reflector": reflector,
        "setting-out": setting_out,
        "aim-tolerance": aim_tolerance,
        "as-set": as_set,
        "bay-fit": bay_fit,
        "drive-window": drive_window,
        "floor": floor,
    }
    return {f"{name}.json": json.dumps(module.file(), indent=2) + "\n" for name, module in made.items()}


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, text in files().items():
        (FOLDER / name).write_text(text)
