"""Two engines, two converters or two pairs of both that drive one shaft together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from converter_match.components.base import Component, require_choice, require_positive
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.errors import InputError

Couples = Literal["pairs", "engines", "converters"]
COUPLES: tuple[Couples, ...] = ("pairs", "engines", "converters")


@dataclass(frozen=True, kw_only=True, eq=False)
class Parallel(Component):
    """What is there twice: speeds on the common shaft are equal, torques add up.

    Parameters
    ----------
    couples : {"pairs", "engines", "converters"}
        ``pairs``: each engine drives its own converter, and both turbines one shaft. ``engines``:
        two engines on the impeller of one converter. ``converters``: one engine drives two
        converters, whose turbines turn one shaft.
    engine, converter : Engine, Converter, optional
        The second one; like the first if not given.
    engine_name, converter_name : str
        What the file calls them; empty where they are like the first.
    ratio : (float, float)
        Speed of each turbine / shaft, of ``engines`` speed of each engine / impeller.
    efficiency : (float, float)
        Of each such gear, above 0 and at most 1.

    Raises
    ------
    InputError
        If a second part is given that there is only one of, two converters are geared unalike, or
        a number is out of range.
    """

    couples: Couples
    engine: Engine | None = None
    converter: Converter | None = None
    engine_name: str = ""
    converter_name: str = ""
    ratio: tuple[float, float] = (1.0, 1.0)
    efficiency: tuple[float, float] = (1.0, 1.0)

    def __post_init__(self) -> None:
        require_choice(self.couples, "parallel.couples", COUPLES)
        for name, only_one_of in (("engine", "converters"), ("converter", "engines")):
            if getattr(self, name) is not None and self.couples == only_one_of:
                raise InputError(
                    f"with couples = {only_one_of!r} there is one {name} only",
                    field=f"parallel.{name}",
                    found=getattr(self, f"{name}_name") or getattr(self, name).id,
                    expected='no value, or couples = "pairs"',
                )
        for name in ("ratio", "efficiency"):
            values = tuple(float(value) for value in getattr(self, name))
            if len(values) != 2:
                raise InputError(
                    "one number for each of the two is needed",
                    field=f"parallel.{name}",
                    found=list(values),
                    expected="two numbers",
                )
            for row, value in enumerate(values):
                require_positive(value, f"parallel.{name}[{row}]")
                if name == "efficiency" and value > 1.0:
                    raise InputError(
                        "out of range",
                        field=f"parallel.efficiency[{row}]",
                        found=value,
                        expected="a share above 0 and at most 1",
                    )
            object.__setattr__(self, name, values)
        if self.couples == "converters" and self.ratio[0] != self.ratio[1]:
            raise InputError(
                "two converters on one engine are looked at with equal gears behind them",
                field="parallel.ratio",
                found=list(self.ratio),
                expected="two equal numbers",
            )
