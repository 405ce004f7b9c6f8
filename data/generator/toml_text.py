"""Print quantities as TOML, rounded as a data sheet would print them."""

from __future__ import annotations

from collections.abc import Iterable

SOURCE = "invented demo data, generated from the equations in data/generator"


def number(value: float, decimals: int) -> str:
    """Print one value as a sheet would, without a negative zero."""
    rounded = round(float(value), decimals)
    return f"{rounded if rounded else 0.0:.{decimals}f}"


def row(values: Iterable[float], decimals: int) -> str:
    """Print a TOML array."""
    return "[" + ", ".join(number(v, decimals) for v in values) + "]"


def one(value: float, unit: str, decimals: int = 0) -> str:
    """Print a single quantity with its unit."""
    return f'{{ unit = "{unit}", value = {number(value, decimals)} }}'


def many(values: Iterable[float], unit: str, decimals: int = 0) -> str:
    """Print a column of quantities with their unit."""
    return f'{{ unit = "{unit}", values = {row(values, decimals)} }}'


def text(value: str) -> str:
    """Print a TOML string (ours hold neither quotes nor backslashes)."""
    return f'"{value}"'
