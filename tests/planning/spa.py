"""Drive windows by another road: pvlib's Solar Position Algorithm (Reda & Andreas 2004) swept over a day."""

import numpy as np
import pandas as pd  # type: ignore[import-untyped]
from numpy.typing import NDArray
from pvlib import solarposition  # type: ignore[import-untyped]

Array = NDArray[np.float64]
STEP_S = 10


def instants(zone: str, day: str) -> pd.DatetimeIndex:
    """Return a local day's instants, its two midnights included."""
    ends = (pd.Timestamp(day), pd.Timestamp(day) + pd.Timedelta(days=1))
    start, end = (t.tz_localize(zone, nonexistent="shift_forward", ambiguous=True) for t in ends)
    return pd.date_range(start, end, freq=f"{STEP_S}s")


def sun(times: pd.DatetimeIndex, latitude_deg: float, longitude_deg: float) -> tuple[Array, Array]:
    """Return elevation without refraction and azimuth from north, in degrees."""
    found = solarposition.spa_python(times, latitude_deg, longitude_deg, delta_t=69.0)
    return found["elevation"].to_numpy(), found["azimuth"].to_numpy()


def windows(
    latitude_deg: float,
    longitude_deg: float,
    zone: str,
    day: str,
    *,
    min_elevation_deg: float,
    dazzle: tuple[float, float, float] | None = None,
) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Return the windows; ``dazzle`` is road heading, cone and greatest elevation.

    The angle between sun and road comes from the scalar product of their directions east, north and up.
    """
    times = instants(zone, day)
    elevation, azimuth = sun(times, latitude_deg, longitude_deg)
    good = elevation - min_elevation_deg
    if dazzle is not None:
        heading, cone, greatest = dazzle
        up, round_ = np.radians(elevation), np.radians(azimuth)
        east, north = np.cos(up) * np.sin(round_), np.cos(up) * np.cos(round_)
        ahead = east * np.sin(np.radians(heading)) + north * np.cos(np.radians(heading))
        apart = np.degrees(np.arctan2(np.sqrt(np.maximum(1 - ahead**2, 0.0)), ahead))
        good = np.minimum(good, np.maximum(apart - cone, elevation - greatest))
    return _stretches(good, times)


def _stretches(good: Array, times: pd.DatetimeIndex) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    bounds = [times[0]] if good[0] >= 0 else []
    for i in np.flatnonzero((good[:-1] >= 0) != (good[1:] >= 0)):
        share = good[i] / (good[i] - good[i + 1])
        bounds.append(times[i] + pd.Timedelta(seconds=STEP_S * share))
    bounds += [times[-1]] if good[-1] >= 0 else []
    return list(zip(bounds[::2], bounds[1::2], strict=True))
