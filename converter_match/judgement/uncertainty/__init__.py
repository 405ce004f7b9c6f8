"""How sure a verdict is: draws within the tolerances."""
