"""What readings teach about parts, and which reading to take next."""
