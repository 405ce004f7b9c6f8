"""Candidates side by side, and which of them can be ordered."""
