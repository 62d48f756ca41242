"""Wire and catalogue values as the geometry's own."""

from collections.abc import Mapping

from snapline.wire import geometry as wire
from snapline.wire.catalogue import VehicleDocument
from snapline.wire.common import BayPose as WireBayPose
from snapline_service.geometry import BayPose, Offset, Placement, Sensor, VehicleGeometry


def vehicle_geometry(vehicle: VehicleDocument) -> VehicleGeometry:
    """Return a catalogue vehicle's geometry; dimensions may be unknown."""
    dimensions = vehicle.dimensions
    return VehicleGeometry(
        wheelbase_mm=dimensions.wheelbase_mm,
        front_track_mm=dimensions.front_track_mm,
        rear_track_mm=dimensions.rear_track_mm,
        front_overhang_mm=dimensions.front_overhang_mm,
        rear_overhang_mm=dimensions.rear_overhang_mm,
        width_mm=dimensions.width_mm,
        sensors=sensors_of(vehicle.sensors),
    )


def geometry_of(vehicle: wire.VehicleGeometry | wire.KnownGeometry) -> VehicleGeometry:
    """Return the geometry of a calculator's request, or that of a setup's answer."""
    return VehicleGeometry(
        wheelbase_mm=vehicle.wheelbase_mm,
        front_track_mm=vehicle.front_track_mm,
        rear_track_mm=vehicle.rear_track_mm,
        front_overhang_mm=vehicle.front_overhang_mm,
        rear_overhang_mm=vehicle.rear_overhang_mm,
        width_mm=vehicle.width_mm,
        thrust_yaw_deg=vehicle.thrust_yaw_deg,
        sensors=sensors_of(vehicle.sensors),
    )


def sensors_of(sensors: Mapping[str, wire.Sensor]) -> dict[str, Sensor]:
    """Return sensors by name."""
    return {name: sensor_of(sensor) for name, sensor in sensors.items()}


def sensor_of(sensor: wire.Sensor) -> Sensor:
    """Return one sensor."""
    return Sensor(sensor.x_mm, sensor.y_mm, sensor.z_mm, sensor.yaw_deg, sensor.pitch_deg)


def placement_of(placement: wire.Placement) -> Placement:
    """Return a placement sentence."""
    return Placement(
        aim_line=placement.aim_line,
        along=Offset(placement.along.datum, placement.along.distance_mm),
        lateral=Offset(placement.lateral.datum, placement.lateral.distance_mm),
        height=Offset(placement.height.datum, placement.height.distance_mm),
        yaw_deg=placement.yaw_deg,
        pitch_deg=placement.pitch_deg,
        roll_deg=placement.roll_deg,
    )


def bay_pose_of(pose: WireBayPose | None) -> BayPose | None:
    """Return a bay pose."""
    return None if pose is None else BayPose(pose.x_mm, pose.y_mm, pose.heading_deg)
