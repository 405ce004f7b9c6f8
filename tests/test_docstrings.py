"""Docstrings are contracts (numpydoc): of the public names, of physics and of components."""

import dataclasses
import importlib
import inspect
import pkgutil
import re
import textwrap

import pytest

import converter_match

SECTION = re.compile(r"^(\w+(?: \w+)?)\n-{3,}\n", re.MULTILINE)


def public():
    """Return {place: function or class}; methods that are public included."""
    found = {}
    for name in converter_match.__all__:
        thing = getattr(converter_match, name)
        if callable(thing):
            found[f"{thing.__module__}.{name}"] = thing
    for room in ("physics", "components"):
        package = importlib.import_module(f"converter_match.{room}")
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            home = importlib.import_module(module.name)
            for name, thing in vars(home).items():
                own = getattr(thing, "__module__", None) == module.name
                if own and not name.startswith("_") and callable(thing):
                    found[f"{module.name}.{name}"] = thing
    for place, thing in list(found.items()):
        if inspect.isclass(thing):
            for name, method in vars(thing).items():
                plain = getattr(method, "__func__", method)
                if inspect.isfunction(plain) and not name.startswith("_"):
                    found[f"{place}.{name}"] = plain
    return found


PUBLIC = public()
FUNCTIONS = {place: thing for place, thing in PUBLIC.items() if inspect.isfunction(thing)}
DATA = {place: thing for place, thing in PUBLIC.items() if dataclasses.is_dataclass(thing)}


def sections(thing):
    """Return {title: text} of a docstring; the text before the first section under ``""``."""
    pieces = SECTION.split(inspect.getdoc(thing) or "")
    return {"": pieces[0]} | dict(zip(pieces[1::2], pieces[2::2], strict=True))


def described(text):
    """Return the names that a section describes."""
    heads = re.findall(r"^(\*{0,2}\w+(?:, \*{0,2}\w+)*)(?: : .*)?$", text, re.MULTILINE)
    return {name.strip("* ") for head in heads for name in head.split(",")}


def arguments(function):
    return [name for name in inspect.signature(function).parameters if name not in ("self", "cls")]


@pytest.mark.parametrize("place", FUNCTIONS)
def test_every_parameter_of_a_function_is_described(place):
    said = sections(FUNCTIONS[place])
    assert said[""].strip()
    names = arguments(FUNCTIONS[place])
    if "Parameters" in said:
        assert described(said["Parameters"]) == set(names)
    elif "." in place and inspect.isclass(PUBLIC.get(place.rpartition(".")[0])):
        pass  # a short method says it in its sentence, or as the one it stands in for
    else:
        assert len(names) < 2


@pytest.mark.parametrize("place", DATA)
def test_every_field_of_a_component_or_result_is_described(place):
    said = sections(DATA[place])
    told = described(said.get("Parameters", "")) | described(said.get("Attributes", ""))
    fields = {item.name for item in dataclasses.fields(DATA[place]) if item.init}
    assert {name for name in fields if not name.startswith("_")} - told == set()


@pytest.mark.parametrize("place", FUNCTIONS)
def test_function_that_refuses_says_when(place):
    source = textwrap.dedent(inspect.getsource(FUNCTIONS[place]))
    if "raise InputError" in source:
        assert "Raises" in sections(FUNCTIONS[place])


def test_search_finds_what_it_is_to_look_at():
    assert len(FUNCTIONS) > 250
    assert {
        "converter_match.physics.match.solver.match",
        "converter_match.components.engine.Engine",
    } <= (set(PUBLIC))


def test_section_with_a_name_missing_is_found():
    def spoilt(a, b):
        """Do it.

        Parameters
        ----------
        a : float
            [m].
        """

    assert described(sections(spoilt)["Parameters"]) == {"a"} != set(arguments(spoilt))
