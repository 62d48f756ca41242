"""Drawings that a person works from.

``scene`` says what stands where, ``plan_view`` turns that into a ``drawing`` in paper millimetres, ``svg``
writes it down. Between them: ``features`` draws the things, ``measures`` their distances, ``labels`` and
``words`` letter them, ``space`` knows what room is free, ``title_block`` fills the foot of the sheet. Another
writer needs ``drawing`` alone.
"""
