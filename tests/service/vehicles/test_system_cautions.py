"""What can hurt somebody is said where the work is looked up."""

from snapline import Snapline


def test_a_system_that_takes_a_heated_grid_says_that_it_burns(client: Snapline) -> None:
    vehicle = client.vehicles.get("brennhavik-skarra-2024-eu")
    (night_vision,) = (s for s in vehicle.systems if s.kind == "night_vision_camera")
    answer = client.vehicles.get_system(vehicle.id, night_vision.id)
    assert "HEATED_GRID" in {caution.code for caution in answer.cautions}
    assert "HEATED_GRID" in {caution.code for caution in vehicle.cautions}
