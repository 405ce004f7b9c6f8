"""A lesson on how a converter works, with its exercises."""
