"""A study as an input: what is compared, where, and by which criteria."""
