"""Routes and short cycles."""
