"""A converter's characteristic from a machine's own log."""
