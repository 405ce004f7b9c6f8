"""Clutches, dividers, overrun: what stands beside the converter."""
