"""What happened in a group, once and for all: the change feed and the audit."""
