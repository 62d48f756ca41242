"""A car goes from its VIN to the floor through the SDK and the real service."""

from snapline import Snapline


def test_a_car_goes_from_vin_to_floor(client: Snapline) -> None:
    found = client.vehicles.identify(vin="S7MCE2D41P1402286")
    vehicle = client.vehicles.get(found.candidates[0].vehicle.id)
    setup = client.setups.compute(vehicle_id=vehicle.id, procedure_id="radar-reflector")
    assert setup.stages[0].placements[0].in_vehicle.x_mm > 3000
