"""One term for one thing: wordings that were given up stay away, and the glossary's are used."""

import ast
import re

import pytest

from tests.docs.formats import ROOT

PACKAGE = ROOT / "converter_match"
GLOSSARY = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")

RETIRED = {
    # a wording that is no term of the trade: the term to use
    "must-criterion": "required criterion",
    "must-criteria": "required criteria",
    "criterion fails": "criterion not met",
    "weight: must": "requirement: mandatory",
    "only with reservations": "conditional",
    "of what is driven": "driven-equipment overspeed",
    "effort kept": "tractive effort retained",
    "cycle time kept": "cycle time no worse than present",
    "steepest start": "startability",
    "push in gear": "creep effort in gear at low idle",
    "driven engine takes up": "engine braking (motoring) power",
    "taken up at 80 %": "absorbed in the working range",
    "to hold back": "retarding power required",
    "work of the engine": "engine work",
    "to a stand": "stops",
    "the ground lets": "traction-limited",
    "ground gives way": "the wheels spin before converter stall",
    "ground does not take": "traction-limited",
    "the oil stands": "within continuous cooling capacity",
    "for ever": "continuous",
    "carried away": "heat rejected",
    "widened by": "contributions",
    "of it by air": "shift due to air",
    "does not come up from idle": "cannot accelerate from idle (lugs down)",
    "does not leave idle": "cannot accelerate from idle (lugs down)",
    "for want of": "no ...",
    "brakes gave way": "the brakes slipped",
    "brakes let go": "the brakes did not hold",
    "of such machines": "best-fitting machines",
    "to mend": "to correct",
    "mend and prove": "repair and test",
    "prove brakes": "test the brakes",
    "a word with the maker": "consult the engine maker",
    "may be chance": "not significant",
    "ask what it rests on": "ask the dealer for the basis",
    "no size of this family": "diameter outside the similarity range",
    "drawn on to zero": "extrapolated to zero",
    "drawn to zero": "extrapolated to zero",
    "governed run-out": "governor droop line",
    "asked for: at": "required",
    "asked for is never reached": "target speed",
    "the range asked for": "the range tried",
    "stator lets go": "the stator freewheels",
    "clutch lets go": "the clutch releases, the one-way clutch overruns",
    "comes down to 1": "falls to 1",
    "come down to 1": "fall to 1",
    "is down to 1": "has fallen to 1",
    "engine and converter agree": "engine and converter match",
    "a stretch": "uncertain",
    "is no such size": "no size meets the requirement",
    "is no such converter": "no converter meets the requirement",
    "unbeaten:": "Pareto-optimal",
    "does not arrive": "does not complete the route",
    "start: too weak": "insufficient tractive effort",
    "hottest oil": "maximum oil temperature",
    "oil settles at": "steady oil temperature",
    "push limited by": "crowding limited by",
    "within grip": "traction-limited",
    "gear in force": "gear engaged",
    "grade held": "gradeability",
    "pulls as hard": "equal tractive effort",
    "flatters": "comes out too high",
    "breathes": "aspiration; runs in its reference air",
    "with the oil cool": "continuous grade",
    "as it stands, ": "the present machine",
    "the machine as it stands": "the present machine",
    "worked out": "calculated",
    "the doubt about": "the uncertainty of",
    "how sure": "uncertainty, confidence",
    "likeliest": "most likely",
    "stator looked at": "stator examined",
    "without, and said so": "if not given, listed as assumed",
    "says nothing of": "says nothing about",
}
"""Wording -> term. A wording may be part of a sentence; letters and line breaks do not matter."""

CONTRACT = {"only with reservations"}
"""Strings that scripts rely on (`decision.kind` of the JSON); no text shows them."""

EXPLAINED = {
    "rimpull": "the other name of tractive effort, which some sheets use",
    "gear ratio": "stands as `ratio` under a gear",
    "torque at a reference speed": "the form `torque_at_speed`",
    "power at a reference speed": "the form `power_at_speed`",
    "speed at a reference torque": "the form `speed_at_torque`",
    "cooler conductance": "stands as `conductance` under a cooler",
}
"""Words of the glossary that are explained for other people's sheets, and are no label here."""


def package_strings():
    """Yield (place, text) of every string of the package that is no docstring."""
    for path in sorted(PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        said = {
            id(node.body[0].value)
            for node in ast.walk(tree)
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
            and node.body
            and isinstance(node.body[0], ast.Expr)
        }
        said |= {  # words below a constant say what it is: no reader of an answer sees them
            id(node.value)
            for node in tree.body
            if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        }
        inside = set()
        for node in ast.walk(tree):
            place = f"{path.relative_to(ROOT).as_posix()}:{getattr(node, 'lineno', 0)}"
            if isinstance(node, ast.JoinedStr):
                inside |= {id(part) for part in node.values}
                parts = (
                    part.value if isinstance(part, ast.Constant) else "{}" for part in node.values
                )
                yield place, "".join(parts)
            elif (
                isinstance(node, ast.Constant)
                and isinstance(node.value, str)
                and id(node) not in said | inside
            ):
                yield place, node.value


def pages():
    """Yield (name, text) of every page that a user reads."""
    for path in (ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))):
        yield path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")


STRINGS = tuple(package_strings())
PAGES = dict(pages())


def retired_in(text):
    """Return the retired wordings in a text, in whatever lines and capitals."""
    plain = " ".join(text.lower().split())
    return [
        wording
        for wording in RETIRED
        if wording in plain and re.search(rf"(?<![\w-]){re.escape(wording)}(?![\w-])", plain)
    ]


def test_retired_wordings_occur_in_no_string_of_the_package():
    offences = [
        f"{place}: '{wording}': write '{RETIRED[wording]}'"
        for place, text in STRINGS
        if text not in CONTRACT
        for wording in retired_in(text)
    ]
    assert offences == []


@pytest.mark.parametrize("name", PAGES)
def test_retired_wordings_occur_on_no_page(name):
    assert [f"'{each}': write '{RETIRED[each]}'" for each in retired_in(PAGES[name])] == []


@pytest.mark.parametrize(
    ("text", "wording"),
    [("The oil would take it\n   For ever.", "for ever"), ("Hottest  oil 85 °C", "hottest oil"),
     ("a one-way clutch lets go: 1", "clutch lets go")],
)  # fmt: skip
def test_a_retired_wording_is_seen_over_lines_and_in_capitals(text, wording):
    assert retired_in(text) == [wording]


def test_a_term_of_today_is_not_taken_for_a_retired_one():
    assert retired_in("the engine cannot hold it; whenever; the lowest grade held-points") == []


def test_contract_strings_are_still_there():
    assert {text for _, text in STRINGS} >= CONTRACT


def glossary_words():
    rows = re.findall(
        r"^\| ([^|]+) \| [^|]+ \| [^|]+ \| [^|]+ \| [^|]+ \|$", GLOSSARY, re.MULTILINE
    )
    return [word.strip() for row in rows if row not in ("word", "---") for word in row.split(",")]


def schema_keys():
    for path in (PACKAGE / "library" / "schema").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
                yield node.target.id


def test_every_word_of_the_glossary_is_a_label_or_a_key_of_today():
    words = glossary_words()
    assert len(words) > 80
    used = " | ".join([*(text for _, text in STRINGS), *schema_keys()]).lower().replace("_", " ")
    unused = {word for word in words if word.lower() not in used}
    assert unused == set(EXPLAINED)


def test_the_glossary_explains_no_retired_wording():
    assert [word for word in glossary_words() if retired_in(word)] == []
