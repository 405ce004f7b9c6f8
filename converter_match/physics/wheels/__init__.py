"""From the turbine to the ground."""
