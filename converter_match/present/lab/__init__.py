"""Bringing in data and working in the notebooks."""
