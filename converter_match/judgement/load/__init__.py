"""A load on the turbine shaft that is not a vehicle: where it runs, whether it starts and holds."""
