"""Visits: what a repair calls for, whether a site can do it, where, with what, in which order."""
