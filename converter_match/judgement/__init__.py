"""From numbers to a decision."""
