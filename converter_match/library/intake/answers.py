"""What a person says about a sheet: everything that the sheet itself does not tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, BeforeValidator, Field, TypeAdapter, ValidationError

from converter_match.errors import InputError, did_you_mean
from converter_match.library.intake.numerals import Decimal
from converter_match.units import dimensions_of, si_unit

Kind = Literal["converter", "engine", "motor"]


def _numbered(name: Any) -> Any:
    """Take the number of a column for its name."""
    return str(name) if isinstance(name, int) and not isinstance(name, bool) else name


def _not_zero(number: float) -> float:
    if number == 0.0:
        raise ValueError("zero")
    return number


_Named = Annotated[str, BeforeValidator(_numbered)]
_Count = Annotated[int, Field(ge=1)]
_Factor = Annotated[float, Field(allow_inf_nan=False), AfterValidator(_not_zero)]
# What may be said -> its form, and how that is written.
_FORMS: Mapping[str, tuple[Any, str]] = {
    "kind": (Kind, "converter | engine | motor"),
    "columns": (dict[_Named, str], "{'3': 'k_factor'}"),
    "units": (dict[_Named, str], "{'3': 'rpm/sqrt(N.m)'}"),
    "ignore": (list[_Named], "headings or numbers of columns"),
    "leave_out": (list[_Count], "numbers of rows"),
    "confirm": (list[str], "keys of questions"),
    "decimal": (Literal[".", ","], "'.' | ','"),
    "encoding": (str, "such as 'cp1250'"),
    "sheet": (str, "the name of a sheet"),
    "rating": (str, "the name of a rating"),
    "factors": (dict[_Named, _Factor], "{'3': 0.1}"),
    "cells": (dict[str, str], "{'R4C2': '0.85'}"),
    "page": (_Count, "a number from 1"),
    "table": (_Count, "a number from 1"),
    "smooth": (bool, "True | False"),
    "facts": (dict[str, Any], "{'profile_diameter': '345 mm'}"),
    "words": (dict[str, str], "{'Drehzahlverhältnis': 'speed_ratio'}"),
    "unit_words": (dict[str, str], "{'Nm': 'N.m'}"),
    "saved": (str, "the name of a file"),
}
_T = TypeVar("_T")

# Fact -> its dimension; None for words.
CONVERTER_FACTS: Mapping[str, str | None] = {
    "id": None,
    "name": None,
    "source": None,
    "stator": None,
    "profile_diameter": "length",
    "oil_density": "density",
    "coupling_speed_ratio": "ratio",
    "reference_speed": "angular_speed",
    "reference_torque": "torque",
    "stall_speed": "angular_speed",
    "stall_torque": "torque",
    "stall_torque_ratio": "ratio",
    "stall_torque_ratio_least": "ratio",
    "stall_torque_ratio_most": "ratio",
}
ENGINE_FACTS: Mapping[str, str | None] = {
    "id": None,
    "name": None,
    "source": None,
    "rating_basis": None,
    "rating_standard": None,
    "aspiration": None,
    "governing": None,
    "displacement": "volume",
    "torque_band": "ratio",
    "low_idle": "angular_speed",
    "rated_speed": "angular_speed",
    "high_idle": "angular_speed",
    "rated_power": "power",
    "peak_torque": "torque",
    "peak_torque_speed": "angular_speed",
}
MOTOR_FACTS: Mapping[str, str | None] = {
    "id": None,
    "name": None,
    "source": None,
    "speed_limit": "angular_speed",
    "peak_time": "time",
    "peak_from": None,
    "nominal_voltage": "voltage",
    "thermal_class": None,
}
FACTS: Mapping[str, str | None] = {**CONVERTER_FACTS, **ENGINE_FACTS, **MOTOR_FACTS}
"""Every fact with its dimension."""
CHOICES: Mapping[str, tuple[str, ...]] = {
    "stator": ("one-way", "fixed", "none"),
    "rating_basis": ("gross", "net"),
    "governing": ("speed", "torque"),
    "peak_from": ("cold", "warm"),
    "thermal_class": ("105", "120", "130", "155", "180"),
    "aspiration": ("naturally-aspirated", "turbocharged", "turbocharged-aftercooled"),
}


@dataclass(frozen=True, kw_only=True)
class Answers:
    """What the user has said so far.

    Parameters
    ----------
    kind : {"converter", "engine", "motor"}, optional
    columns : mapping
        Heading or number of a column -> role.
    units : mapping
        Heading or number of a column -> unit.
    ignore : tuple of str
        Columns, by heading or number, that are not to be used.
    leave_out : tuple of int
        Rows, by their number in the sheet, that are not to be used.
    confirm : tuple of str
        Keys of questions whose proposal is agreed to.
    decimal : {".", ","}, optional
    encoding : str, optional
        Of a text file, such as ``cp1250``; guessed, and the guess said, where it is not UTF-8.
    sheet : str, optional
        Of a workbook.
    rating : str, optional
        Which of several rating columns.
    factors : mapping
        Heading or number of a column -> what its numbers are multiplied by.
    cells : mapping
        Cells of a table that was read off a picture, corrected: ``{"R4C2": "0.85"}``.
    page : int, optional
        Of a PDF with such a table, from 1.
    table : int, optional
        Which of several tables on one sheet, from 1.
    smooth : bool
    facts : mapping
        What stands in no column, as text with unit: ``{"profile_diameter": "345 mm"}``.
    words : mapping
        Headings and facts in other languages -> role or fact, from a mapping file.
    unit_words : mapping
        Units in other languages -> unit.
    saved : str
        The file beside the sheet that some of it comes from; with ! before it, one that was not
        used, because the sheet has changed since.
    """

    kind: Kind | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    ignore: tuple[str, ...] = ()
    leave_out: tuple[int, ...] = ()
    confirm: tuple[str, ...] = ()
    decimal: Decimal | None = None
    encoding: str | None = None
    sheet: str | None = None
    rating: str | None = None
    factors: Mapping[str, float] = field(default_factory=dict)
    cells: Mapping[str, str] = field(default_factory=dict)
    page: int | None = None
    table: int | None = None
    smooth: bool = False
    facts: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    unit_words: Mapping[str, str] = field(default_factory=dict)
    saved: str = ""

    def plus(self, **more: Any) -> Answers:
        """Return the answers with more of them; what can be listed is added to the list.

        Parameters
        ----------
        **more
            The parameters of the class, or facts by name: a text with its unit, or a number in SI.

        Raises
        ------
        InputError
            For a name that is neither, or a value that cannot be taken.
        """
        changes: dict[str, Any] = {}
        facts = dict(self.facts)
        own = {each.name for each in fields(self)}
        for name, value in more.items():
            if value is None:
                continue
            if name == "facts":
                facts.update({key: fact_text(key, each) for key, each in _fit(name, value).items()})
            elif name in own:
                changes[name] = _joined(getattr(self, name), _fit(name, value))
            else:
                facts[name] = fact_text(name, value)
        return replace(self, facts=facts, **changes)

    def agreed(self, key: str) -> bool:
        """Return whether the proposal of a question was agreed to."""
        return key in self.confirm


def names_column(key: str, number: int, heading: str) -> bool:
    """Return whether a key is the number (from 1) or the heading of a column (number from 0)."""
    plain = " ".join(key.split()).casefold()
    whole = " ".join(heading.split()).casefold()
    bare = whole.split("(")[0].split("[")[0].strip()
    return plain == str(number + 1) or plain in (whole, bare)


def chosen_for(entries: Mapping[str, _T], number: int, heading: str) -> _T | None:
    """Return what was said about a column, by its number or by its heading."""
    for key, value in entries.items():
        if names_column(key, number, heading):
            return value
    return None


def _fit(name: str, value: Any) -> Any:
    """Return what is said, in the form that it has; one of a list may stand by itself."""
    form, expected = _FORMS[name]
    given = value
    listed = form in (list[_Named], list[_Count], list[str])
    if listed and isinstance(value, str | int):
        value = [value]
    elif listed and isinstance(value, tuple | set | frozenset):
        value = list(value)
    elif isinstance(value, Mapping):
        value = dict(value)
    try:
        return TypeAdapter(form).validate_python(value, strict=True)
    except ValidationError:
        raise InputError(
            "not what is due here", field=name, found=given, expected=expected
        ) from None


def _joined(old: Any, new: Any) -> Any:
    if isinstance(old, Mapping):
        return {**old, **new}
    if isinstance(old, tuple):
        return tuple(dict.fromkeys([*old, *new]))
    return new


def fact_text(name: str, value: object) -> str:
    """Return a fact as text with its unit; a bare number is in SI.

    Raises
    ------
    InputError
        For an unknown fact, or a word that is none of its choices.
    """
    known = FACTS
    if name not in known:
        options = [*known, *(each.name for each in fields(Answers))]
        raise InputError(
            "nothing that can be said about a sheet",
            field=name,
            found=value,
            expected=", ".join(known),
            hint=did_you_mean(name, options),
        )
    dimension = known[name]
    if isinstance(value, int | float) and not isinstance(value, bool) and dimension:
        unit = si_unit(dimension)
        return f"{float(value)!r} {unit if dimension != 'ratio' else ''}".strip()
    if not isinstance(value, str) or not value.strip():
        raise InputError("a text is due here", field=name, found=value)
    text = value.strip()
    if name in CHOICES and text not in CHOICES[name]:
        raise InputError(
            "not a known choice",
            field=name,
            found=text,
            expected=" | ".join(CHOICES[name]),
            hint=did_you_mean(text, CHOICES[name]),
        )
    return text


def unit_in_our_words(unit: str, answers: Answers) -> str:
    """Return a unit as our vocabulary spells it, where the mapping file says how."""
    folded = {key.casefold(): value for key, value in answers.unit_words.items()}
    return unit if dimensions_of(unit) else folded.get(" ".join(unit.split()).casefold(), unit)
