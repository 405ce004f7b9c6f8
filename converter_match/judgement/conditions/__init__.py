"""Air, ground and oil that an answer holds for."""
