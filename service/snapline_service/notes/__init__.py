"""Local notes of a group on vehicles and procedures."""
