"""Closed forms and parameters from which the invented demo library is made."""
