"""Tables of results in a notebook: some columns of one, some figures of several."""

from dataclasses import dataclass, field

import pytest

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.errors import InputError
from converter_match.present.notebook.table import beside, table

GEARS = Block(
    "gears",
    columns=(
        Heading("gear", "gear"),
        Heading("top_speed", "top speed", "velocity"),
        Heading("fuel", "", "mass", ".2f"),
        Heading("cooled", "oil cooled"),
    ),
    rows=(("1", 100 / 3.6, 1.0, True), ("<R1>", None, float("nan"), NoValue("no data"))),
)
TIME, KEPT = Heading("time", "cycle time", "minutes"), Heading("kept", "heat kept")


@dataclass(frozen=True)
class Run(Answer):
    facts: tuple = ()
    parts: tuple = (GEARS, Block("none", columns=GEARS.columns))
    notes: tuple = field(default=())

    def blocks(self):
        return (*self.parts, Block("cycle", facts=self.facts))


def test_a_table_says_itself_what_its_columns_are():
    made = table(Run(), "gears", ["gear", "fuel", "top_speed", "cooled"])
    assert made.head == ("gear", "fuel", "top speed", "oil cooled")
    assert made.units == ("", "kg", "km/h", "")
    assert made.rows == (("1", "1.00", "100.0", "yes"), ("<R1>", "–", "–", "no data"))
    # 1 mi = 1609.344 m, 1 lb = 0.453 592 37 kg
    in_us = table(Run(), "gears", ["fuel", "top_speed"], system="us")
    assert (in_us.units, in_us.rows[0]) == (("lb", "mph"), ("2.20", "62.1"))


def test_page_and_text_say_the_same_and_names_are_escaped():
    made = table(Run(), "gears", ["gear", "top_speed"])
    page = made._repr_html_()
    assert "&lt;R1&gt;" in page
    assert page.count("<tr>") == 4
    for cell in ("top speed", "km/h", "100.0", "–"):
        assert cell in page
        assert cell in repr(made)


def test_all_that_stands_in_text_is_shown_where_no_column_is_named():
    assert table(Run(), "gears").head == ("gear", "top speed", "oil cooled")


def test_figures_of_several_results_stand_side_by_side():
    one, two = Run(((TIME, 90.0), (KEPT, True))), Run(((TIME, NoValue("no end")), (KEPT, False)))
    made = beside({"A": one, "B": two}, "cycle", ["time", "kept"])
    assert made.head == ("", "A", "B", "")
    assert made.rows == (("cycle time", "1.5", "no end", "min"), ("heat kept", "yes", "no", ""))


def test_what_stands_for_scripts_is_seen_in_the_words_behind_it():
    code, words = Heading("limited_by", ""), Heading("", "set by")
    run = Run(((code, "grip"), (words, "traction")),
              (Block("gears", columns=(code, words), rows=(("grip", "traction"),)),))  # fmt: skip
    made = table(run, "gears", ["limited_by"])
    assert (made.head, made.rows) == (("set by",), (("traction",),))
    assert beside({"A": run}, "cycle", ["limited_by"]).rows == (("set by", "traction", ""),)


def test_figures_of_one_key_are_told_apart_by_their_unit():
    mass, flow = Heading("fuel", "fuel", "mass", ".2f"), Heading("fuel", "fuel", "fuel_rate", ".0f")
    run = Run(((mass, 2.0), (flow, 0.01)))
    made = beside({"A": run}, "cycle", ["fuel_kg_per_h", "fuel_kg"])
    assert made.rows == (("fuel", "36", "kg/h"), ("fuel", "2.00", "kg"))  # 3600 s to the hour
    with pytest.raises(InputError, match="no such figure; found 'fuel'"):
        beside({"A": run}, "cycle", ["fuel"])


@pytest.mark.parametrize(
    ("attempt", "says"),
    [
        (lambda run: table(run, "gaers"), "did you mean 'gears'"),
        (lambda run: table(run, "gears", ["top_sped"]), "did you mean 'top_speed'"),
        (lambda run: table(run, "none"), "the table is empty; found 'none'"),
        (lambda run: table({"gear": 1}, "gears"), "not a result; found 'dict'"),
        (lambda run: table(run, "gears", system="imperial"), "si or us"),
        (lambda run: beside({"A": run}, "cycle", ["tine"]), "did you mean 'time'"),
        (lambda run: beside({"A": run}, "cycel", ["time"]), "did you mean 'cycle'"),
        (lambda run: beside({"A": run, "B": 3}, "cycle", ["time"]), "not a result; found 'int'"),
        (lambda run: beside({}, "cycle", ["time"]), "needs cases"),
        (lambda run: beside({"A": run}, "cycle", ["time"], system="imperial"), "si or us"),
    ],
)
def test_what_there_is_not_is_named_with_the_nearest(attempt, says):
    with pytest.raises(InputError, match=says):
        attempt(Run(((TIME, 90.0),)))
