"""What a turbine shaft and a load on it come to."""
