"""Figures, one file each."""
