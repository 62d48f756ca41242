"""The one definition of what travels between a Snapline service and its callers.

Every type is a frozen msgspec Struct and holds data only. Readers tolerate fields they do not know, so an
old plug-in survives a newer service; the service itself refuses unknown fields in what it is sent. Lists
of words that may grow (kinds of system, of fixture, …) are plain strings with the words known today in
``x-extensible-enum`` of the schema.
"""
