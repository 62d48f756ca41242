"""A catalogue as small as can be, as JSON values that a test may spoil before it writes them to files."""

import json
from pathlib import Path
from typing import Any

Document = dict[str, Any]


def quoted(locator: str) -> Document:
    return {"source": "manual", "locator": locator, "checked_by": "desk", "checked_on": "2025-05-12"}


def source(name: str = "manual") -> Document:
    title = f"Workshop volume {name} (invented)"
    return {
        "kind": "source", "format": 1, "invented": True, "id": name, "title": title, "edition": "issue 1",
        "published_on": "2024-09-09",
    }  # fmt: skip


def operation(name: str = "windscreen") -> Document:
    return {
        "kind": "operation", "format": 1, "invented": True, "id": name, "name": name.capitalize(),
        "extents": ["removed_and_refitted", "replaced"], "synonyms": ["front glass"],
    }  # fmt: skip


def fixture(name: str = "board") -> Document:
    return {
        "kind": "fixture", "format": 1, "invented": True, "id": name, "name": name.capitalize(),
        "fixture_kind": "board", "reference_point": "pattern centre",
        "feet": [{"name": "left", "x_mm": 0, "y_mm": 500}, {"name": "right", "x_mm": 0, "y_mm": -500}],
        "capabilities": [{"capability": "camera_pattern", "source": quoted("sheet 1")}],
    }  # fmt: skip


def vehicle(name: str = "ambrel-2020", distance_mm: float = 2400) -> Document:
    """Return a car with a camera, one board ahead of it, and a drive after that."""
    board = {
        "id": "board",
        "need": {"capability": "camera_pattern", "named": ["board"]},
        "placement": {
            "aim_line": "centreline",
            "along": {"datum": "front_bumper", "distance_mm": distance_mm},
            "lateral": {"datum": "aim_line", "distance_mm": 0},
            "height": {"datum": "floor", "distance_mm": 1300},
            "yaw_deg": 180,
        },
        "range": {"min_mm": 1500, "max_mm": 3500},
    }
    return {
        "kind": "vehicle", "format": 1, "invented": True, "id": name, "make": "Sennic", "model": "Ambrel",
        "body": "hatchback", "markets": ["EU"], "drive_side": "left", "model_year_first": 2020,
        "model_year_last": 2024,
        "dimensions": {"wheelbase_mm": 2600, "front_overhang_mm": 900, "rear_overhang_mm": 800},
        "standard_uncertainty": {"vehicle.wheelbase_mm": 2},
        "vin_patterns": [{"pattern": "S7A??????????????", "fitted": ["camera"]}],
        "build_codes": [{"code": "K1", "fitted": ["camera"]}],
        "options": [{"id": "camera", "name": "Front camera", "how_to_see": "Look behind the mirror."}],
        "sensors": {"front_camera": {"x_mm": 1900, "y_mm": 0, "z_mm": 1250}},
        "systems": [
            {
                "id": "camera", "kind": "forward_camera", "name": "Front camera", "sensors": ["front_camera"],
                "fitted_when": {"all_of": ["camera"]},
                "disturbances": [
                    {"operation": "windscreen", "extent": "replaced", "effect": "called_for",
                     "requirement": "aim", "reason": "New glass.", "source": quoted("row 1")},
                    {"operation": "windscreen", "effect": "conditional", "question": "Was the bracket moved?",
                     "reason": "It may have moved.", "source": quoted("row 2")},
                ],
                "requirements": [
                    {"id": "aim", "source": quoted("section 3"), "when": {"any_of": ["camera"]},
                     "alternatives": [{"id": "board", "name": "Board", "procedures": ["board", "drive"]}]},
                ],
            },
        ],
        "procedures": [
            {"id": "board", "name": "Aim at the board", "method": "static", "duration_min": 30,
             "source": quoted("section 3.1"),
             "aim_allowance": {"sensor": "front_camera", "yaw_deg": 0.2},
             "preparation": [
                 {"type": "limit", "item": "tyre_pressure", "text": "Set all tyres.", "maximum": 0.1,
                  "unit": "bar", "source": quoted("section 2")},
                 {"type": "reading", "item": "rear_toe", "text": "Read both.", "unit": "deg",
                  "feeds": "vehicle.thrust_yaw_deg", "source": quoted("section 2")},
             ],
             "stages": [{"id": "one", "name": "Board ahead", "placements": [board]}]},
            {"id": "drive", "name": "Drive", "method": "dynamic", "duration_min": 20, "people": 2,
             "source": quoted("section 3.2"), "after_procedures": ["board"],
             "drive": {"speed_min_kmh": 60, "speed_max_kmh": 100, "road_classes": ["motorway"],
                       "interruption": "resumes", "finished_sign": "A tone.",
                       "if_not_finished": "Repeat."}},
        ],
        "changed_car": [{"change": "tyre_size", "answer": "refer_to_maker", "text": "Ask.",
                         "source": quoted("section 9"), "systems": ["camera"]}],
    }  # fmt: skip


def catalogue() -> list[Document]:
    """Return a sound catalogue of five documents, new at each call."""
    return [source(), operation(), fixture(), vehicle(), vehicle("brenn-2021")]


def write(folder: Path, documents: list[Document]) -> Path:
    """Write each document to a file of its own, a field to a line."""
    folder.mkdir(parents=True, exist_ok=True)
    for document in documents:
        (folder / f"{document['id']}.json").write_text(json.dumps(document, indent=1))
    return folder


def write_lines(path: Path, documents: list[Document]) -> Path:
    path.write_text("".join(json.dumps(document) + "\n" for document in documents))
    return path
