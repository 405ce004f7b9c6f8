"""The version of the package: below every room, so that a report can print it."""

__version__ = "0.1.0"
