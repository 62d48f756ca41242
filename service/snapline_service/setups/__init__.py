"""Where every fixture of a procedure stands on a vehicle."""
