"""Which way a fixture faces, read back from the words alone."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapline.wire.common import Pose
from snapline.wire.geometry import Along, Height, Lateral, Placement
from snapline_service.setups.facing import direction, facing

# The car's own directions as ISO 8855 vectors, x forward and y left.
WAYS = {"forwards": (1, 0), "rearwards": (-1, 0), "to the left": (0, 1), "to the right": (0, -1)}
SIDES = {"the front": (1, 0), "the rear": (-1, 0), "the left": (0, 1), "the right": (0, -1)}


def read(words: str) -> tuple[float, float]:
    """Give the vector that a person turns a fixture to who has only these words."""
    found = re.fullmatch(r"(?:straight )?(.*?)(?:, ([\d.]+)° towards (.*))?", words)
    assert found, words
    (x, y), turn = WAYS[found[1]], math.radians(float(found[2] or 0))
    side_x, side_y = SIDES[found[3]] if found[3] else (0, 0)
    return x * math.cos(turn) + side_x * math.sin(turn), y * math.cos(turn) + side_y * math.sin(turn)


@given(st.floats(-360.0, 360.0))
def test_whoever_follows_the_words_faces_the_right_way(yaw_deg: float) -> None:
    x, y = read(direction(yaw_deg))
    off_deg = math.degrees(math.atan2(y, x)) - yaw_deg
    assert abs((off_deg + 180.0) % 360.0 - 180.0) <= 0.0051  # words give hundredths of a degree
    assert not re.search(r"[-−+]", direction(yaw_deg))


@pytest.mark.parametrize(
    ("yaw_deg", "words"),
    [
        (0.0, "straight forwards"),
        (180.0, "straight rearwards"),
        (-180.0, "straight rearwards"),
        (90.0, "to the left"),
        (180.3, "rearwards, 0.3° towards the right"),
        (-28.0, "forwards, 28° towards the right"),
        (150.0, "rearwards, 30° towards the left"),
    ],
)
def test_words_for_common_directions(yaw_deg: float, words: str) -> None:
    assert direction(yaw_deg) == words


@pytest.mark.parametrize(
    ("aim_line", "relative_deg", "begins"),
    [
        ("centreline", 180.0, "square to the centreline"),
        ("thrust_line", 0.0, "square to the thrust line"),
        ("sensor:rear_left_radar", 180.0, "square to the axis of the rear left radar"),
        ("centreline", -90.0, "along the centreline"),
        ("centreline", 30.0, "facing forwards"),
    ],
)
def test_it_is_said_how_a_fixture_stands_to_its_aim_line(
    aim_line: str, relative_deg: float, begins: str
) -> None:
    placement = Placement(
        aim_line=aim_line,
        along=Along(datum="front_bumper", distance_mm=1000.0),
        lateral=Lateral(datum="aim_line", distance_mm=0.0),
        height=Height(datum="floor", distance_mm=0.0),
        yaw_deg=relative_deg,
        pitch_deg=2.0,
        roll_deg=-1.0,
    )
    pose = Pose(x_mm=0.0, y_mm=0.0, z_mm=0.0, yaw_deg=relative_deg, pitch_deg=2.0, roll_deg=-1.0)
    words = facing(placement, pose)
    assert words.startswith(begins)
    # ISO 8855: pitch is positive nose down, roll positive left side up.
    assert words.endswith("tilted 2° down, its right side 1° up")
