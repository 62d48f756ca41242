"""Drawings and sheets that a person works from.

``scene`` says what stands where; ``field`` draws that as a plan into a field of paper, in paper millimetres
(``drawing``): ``features`` the things, ``measures`` their distances, ``labels`` and ``words`` the lettering,
for which ``space`` finds room. ``plan_view`` puts one plan on a sheet of its own with its ``title_block``.
``document`` says all that a whole sheet holds; ``pages`` sets it on paper with ``layout`` and ``foot``.
``svg`` and ``pdf`` write drawings, ``page_html`` a document.
"""
