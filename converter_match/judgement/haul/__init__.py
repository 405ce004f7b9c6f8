"""A machine along a haul route, and a loader in its short cycle."""
