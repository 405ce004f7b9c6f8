"""The stall test: what to expect, how long to hold, what a reading says."""
