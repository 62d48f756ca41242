"""Writes that may be sent again: the same Idempotency-Key gives the same answer and no second effect."""
