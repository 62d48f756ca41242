"""Drawings and documents a person works from.

``scene`` says what stands where, ``plan_view`` turns it into a ``drawing`` in paper millimetres, and ``svg``
writes that down. A further writer needs only ``drawing``; a further sheet needs only ``drawing`` and
``lettering``.
"""
