"""Signed events, sent to whoever wants to know at once."""
