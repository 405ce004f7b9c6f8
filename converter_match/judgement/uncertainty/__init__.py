"""How sure a verdict is: draws within the tolerances."""

DRAWS = 10_000
"""How many, where nothing else is said."""
