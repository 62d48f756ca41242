"""The open lists of words: known today, free to grow.

A catalogue that is imported may only use words listed here, so that a slip of the pen is found; a reader of
answers must be ready for words it does not know yet.
"""

from typing import Annotated

from msgspec import Meta

SYSTEM_KINDS = (
    "forward_camera",
    "forward_radar",
    "front_corner_radar",
    "rear_corner_radar",
    "laser_scanner",
    "night_vision_camera",
    "surround_view_cameras",
    "rear_view_camera",
    "mirror_camera",
    "driver_camera",
    "parking_sensors",
    "adaptive_headlamps",
    "head_up_display",
    "ride_height_sensors",
    "steering_angle_sensor",
    "yaw_rate_sensor",
    "occupant_weight_sensor",
)
BODIES = ("hatchback", "saloon", "estate", "coupe", "convertible", "suv", "mpv", "pickup", "van", "truck")
FIXTURE_KINDS = (
    "board",
    "mat",
    "corner_reflector",
    "doppler_simulator",
    "heated_grid",
    "reflector_panel",
    "stand",
    "laser",
    "headlamp_aimer",
    "weight",
)
METHODS = ("static", "dynamic", "scan_tool")
EFFECTS = ("called_for", "not_called_for", "conditional")
EXTENTS = (
    "removed_and_refitted",
    "replaced",
    "refinished",
    "repaired",
    "adjusted",
    "disconnected",
    "programmed",
    "deployed",
    "changed",
    "no_visible_damage",
)
PREPARATION_TYPES = ("limit", "act", "reading")
PREPARATION_ITEMS = (
    "tyre_pressure",
    "tyre_size",
    "tyre_tread",
    "fuel",
    "load",
    "ride_height",
    "suspension_mode",
    "thrust_angle",
    "rear_toe",
    "light",
    "background",
    "reflections",
    "floor_level",
    "wheels_straight",
    "chocks",
    "battery_support",
    "glass_clean",
    "cover_clean",
    "doors_shut",
    "load_removed",
    "trailer_removed",
    "camera_height",
    "odometer",
    "ventilation",
    "seat_empty",
)
CHANGES = (
    "ride_height",
    "tyre_size",
    "glass_not_original",
    "bracket_not_original",
    "cover_repaired",
    "cover_thickly_painted",
    "bumper_aftermarket",
    "mirror_aftermarket",
    "tow_bar",
)
CHANGE_ANSWERS = ("allowed", "refer_to_maker")
STEP_KINDS = ("pre_scan", "wheel_alignment", "adhesive_cure", "post_scan")
ROAD_CLASSES = ("motorway", "rural_road", "urban_road", "private_ground")
WEATHER = ("dry", "no_snow", "no_fog", "no_heavy_rain")
LIGHT = ("daylight", "any")
LANE_MARKINGS = ("both_sides", "one_side", "not_needed")
TRAFFIC = ("vehicles_ahead", "flowing", "not_needed")
INTERRUPTIONS = ("resumes", "restarts", "expires_at_ignition_off")
MATCHES = ("named", "equivalent", "by_property")


def _known(*words: str) -> dict[str, object]:
    return {"x-extensible-enum": list(words)}


_WORD = r"^[a-z][a-z0-9_]*$"
SystemKind = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*SYSTEM_KINDS))]
Body = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*BODIES))]
FixtureKind = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*FIXTURE_KINDS))]
Method = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*METHODS))]
Effect = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*EFFECTS))]
Extent = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*EXTENTS))]
PreparationType = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*PREPARATION_TYPES))]
PreparationItemName = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*PREPARATION_ITEMS))]
Change = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*CHANGES))]
ChangeAnswer = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*CHANGE_ANSWERS))]
StepKind = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*STEP_KINDS))]
RoadClass = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*ROAD_CLASSES))]
WeatherLimit = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*WEATHER))]
LightLimit = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*LIGHT))]
LaneMarkings = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*LANE_MARKINGS))]
Traffic = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*TRAFFIC))]
Interruption = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_known(*INTERRUPTIONS))]
Match = Annotated[
    str,
    Meta(
        pattern=_WORD,
        description=(
            "named: the source names this fixture; equivalent: a source states that it serves; "
            "by_property: our arithmetic only, not named by the source."
        ),
        extra_json_schema=_known(*MATCHES),
    ),
]
