"""Figures, tables, reports and the bench."""
