"""Where engine and converter run together: the one solver, and what it is read by."""
