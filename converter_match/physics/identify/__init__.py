"""A characteristic from a machine's log."""
