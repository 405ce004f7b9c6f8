"""Courses in time."""
