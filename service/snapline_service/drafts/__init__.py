"""Changes prepared on top of a revision: edited, reviewed, rebased, published."""
