"""Print quantities as TOML, rounded as a data sheet would print them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

SOURCE = "invented demo data, generated from the equations in data/generator"


def number(value: float, decimals: int) -> str:
    """Print one value as a sheet would, without a negative zero."""
    rounded = round(float(value), decimals)
    return f"{rounded if rounded else 0.0:.{decimals}f}"


def row(values: Iterable[float], decimals: int) -> str:
    """Print a TOML array."""
    return "[" + ", ".join(number(v, decimals) for v in values) + "]"


LBF_FT = 4.4482216152605 * 0.3048  # N.m in one lbf.ft
_HP = 550.0 * LBF_FT / 1000.0  # kW in one hp: 550 lbf.ft/s
# Unit of a torque, a power, a capacity or the air of a site -> what a sheet prints in brackets
# behind it, and how many of that make one.
IN_BRACKETS: dict[str, tuple[str, float]] = {
    "N*m": ("lbf*ft", 1.0 / LBF_FT),
    "kN*m": ("lbf*ft", 1000.0 / LBF_FT),
    "lbf*ft": ("N*m", LBF_FT),
    "kW": ("hp", 1.0 / _HP),
    "hp": ("kW", _HP),
    "rpm/(N*m)**0.5": ("rpm/(lbf*ft)**0.5", LBF_FT**0.5),
    "rpm/(lbf*ft)**0.5": ("rpm/(N*m)**0.5", LBF_FT**-0.5),
    "m": ("ft", 1.0 / 0.3048),
    "degC": ("degF", 1.8),
}


def one(value: float, unit: str, decimals: int = 0, *, twice: bool = True) -> str:
    """Print a single quantity with its unit, and in brackets' unit as well unless not `twice`."""
    first = number(value, decimals)
    return f'{{ unit = "{unit}", value = {first}{_also((first,), unit, twice, column=False)} }}'


def many(values: Iterable[float], unit: str, decimals: int = 0, *, twice: bool = True) -> str:
    """Print a column of quantities with their unit, likewise."""
    first = [number(value, decimals) for value in values]
    inside = ", ".join(first)
    return f'{{ unit = "{unit}", values = [{inside}]{also_column(first, unit, twice)} }}'


def also_column(first: Sequence[str], unit: str, twice: bool = True) -> str:
    """Print the second figures of a column whose first ones are printed already."""
    return _also(first, unit, twice, column=True)


def _also(first: Sequence[str], unit: str, twice: bool, *, column: bool) -> str:
    if unit not in IN_BRACKETS or not twice:
        return ""
    other, factor = IN_BRACKETS[unit]
    if other == "degF":
        second = [number(float(text) * factor + 32.0, 0) for text in first]
    else:
        second = [_to_three_digits(float(text) * factor) for text in first]
    written = f"values = [{', '.join(second)}]" if column else f"value = {second[0]}"
    return f', also = {{ unit = "{other}", {written} }}'


def _to_three_digits(value: float) -> str:
    """Print whole numbers from 100 on, and below as many decimals as make three digits."""
    size = abs(float(f"{value:.3g}"))
    if not size:
        return "0"
    return number(value, next(d for d, least in enumerate((100, 10, 1, 0)) if size >= least))


def text(value: str) -> str:
    """Print a TOML string (ours hold neither quotes nor backslashes)."""
    return f'"{value}"'
