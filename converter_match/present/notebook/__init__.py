"""Answers as a notebook shows them."""
