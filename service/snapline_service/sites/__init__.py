"""Sites with their bays and physical fixtures."""
