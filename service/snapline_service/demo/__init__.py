"""The demo: the invented scenario in a temporary database, and the main job run on it."""
