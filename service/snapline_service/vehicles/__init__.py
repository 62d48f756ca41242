"""Vehicles: which car it is, and what its VIN says."""
