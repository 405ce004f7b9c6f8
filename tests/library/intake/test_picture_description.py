"""The description of a chart: what it holds, and the one field that is wrong in it."""

import copy

import pytest

from converter_match.errors import InputError
from converter_match.library.intake.picture_file import picture_spec

GOOD = {
    "image": "charts/page.png",
    "page": 2,
    "kind": "converter",
    "pick_error": 0.5,
    "at": [0.8, 0.0, 0.5, 0.5],
    "corners": [[0, 0], [100, 0], [100, 80], [0, 80]],
    "x": {
        "quantity": "speed ratio",
        "points": [{"pixel": [10, 90], "value": 0}, {"pixel": [90, 90], "value": 1}],
    },
    "curve": [
        {
            "quantity": "torque ratio",
            "points": [{"pixel": [10, 90], "value": 0}, {"pixel": [10, 10], "value": 2.5}],
            "picked": [[10, 20.5], [50, 40]],
        },
        {
            "quantity": "input torque",
            "unit": "N.m",
            "scale": "log",
            "at_speed": {"value": 1500, "unit": "rpm"},
            "points": [{"pixel": [90, 90], "value": 10}, {"pixel": [90, 10], "value": 1000}],
            "trace": {"from": [10, 30], "to": [80, 50], "colour": "#c84a27", "tolerance": 40},
        },
    ],
}


def changed(place, value):
    """Return the description with one value changed, or taken away."""
    data = copy.deepcopy(GOOD)
    inner = data
    for key in place[:-1]:
        inner = inner[key]
    if value is KeyError:
        del inner[place[-1]]
    else:
        inner[place[-1]] = value
    return data


def test_everything_in_it_has_its_place():
    spec = picture_spec(GOOD, "chart.toml")
    assert (spec.source, spec.image, spec.page, spec.kind) == (
        "chart.toml", "charts/page.png", 2, "converter"
    )  # fmt: skip
    assert spec.pick_error == 0.5
    assert spec.at == (0.0, 0.5, 0.8)
    assert spec.corners == ((0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0))
    assert (spec.x.role, spec.x.scale, spec.x.unit) == ("speed_ratio", "linear", "")
    assert [(point.pixel, point.value) for point in spec.x.points] == [
        ((10.0, 90.0), 0.0), ((90.0, 90.0), 1.0)
    ]  # fmt: skip
    picked, traced = spec.curves
    assert (picked.axis.role, picked.picked, picked.trace, picked.reference) == (
        "torque_ratio", ((10.0, 20.5), (50.0, 40.0)), None, None
    )  # fmt: skip
    assert (traced.axis.scale, traced.axis.unit, traced.picked) == ("log", "N.m", ())
    assert traced.reference == (1500.0, "rpm")
    follow = traced.trace
    assert follow is not None
    assert (follow.start, follow.stop, follow.colour, follow.tolerance) == (
        (10.0, 30.0), (80.0, 50.0), (0xC8, 0x4A, 0x27), 40.0
    )  # fmt: skip


def test_what_is_left_out_is_as_usual():
    data = {key: GOOD[key] for key in ("image", "x")} | {"curve": GOOD["curve"][0]}
    spec = picture_spec(data, "chart.toml")
    assert (spec.page, spec.kind, spec.pick_error, spec.at, spec.corners) == (
        1, "converter", 1.0, (), ()
    )  # fmt: skip
    assert len(spec.curves) == 1
    plain = changed(("curve", 1, "trace"), {"from": [10, 30], "to": [80, 50]})
    assert picture_spec(plain, "chart.toml").curves[1].trace.colour is None


FIRST, SECOND = ("curve", 0), ("curve", 1)
WRONG = [
    (("schema",), "converter-match/converter/1", "schema", "component file already"),
    (("paeg",), 2, "paeg", "unknown key.*page"),
    (("kind",), "motor", "kind", "not a known choice"),
    (("curve",), [], "curve", "no curves"),
    (("curve",), 3, "curve", "no curves"),
    (("curve",), [GOOD["curve"][0]] * 9, "curve", "no curves"),
    (FIRST, 3, "curve[0]", "a table is due here"),
    (("page",), 0, "page", "not a page number"),
    (("page",), True, "page", "not a page number"),
    (("page",), 1.5, "page", "not a page number"),
    (("pick_error",), 0, "pick_error", "must be above zero"),
    (("pick_error",), "1", "pick_error", "a number is due here"),
    (("at",), 0.5, "at", "a list of numbers"),
    (("at",), ["a"], "at[0]", "a number is due here"),
    (("corners",), [[0, 0]] * 3, "corners", "needs four corners"),
    (("corners",), "all", "corners", "needs four corners"),
    (("corners", 2), [1], "corners[2]", "a pixel is due here"),
    (("image",), KeyError, "image", "missing"),
    (("image",), " ", "image", "missing"),
    (("image",), "../page.png", "image", "leads out of the folder"),
    (("image",), "/page.png", "image", "leads out of the folder"),
    (("image",), "C:page.png", "image", "leads out of the folder"),
    (("image",), "\\page.png", "image", "leads out of the folder"),
    (("image",), "below\\..\\page.png", "image", "leads out of the folder"),
    (("x",), KeyError, "x", "missing"),
    (("x",), 1, "x", "missing"),
    (("x", "quantity"), KeyError, "x.quantity", "missing"),
    (("x", "quantity"), "speed ration", "x.quantity", "nothing that is known.*speed ratio"),
    (("x", "unit"), "rpm", "x.unit", ""),
    (("x", "scale"), "cubic", "x.scale", "not a known choice"),
    (("x", "points"), GOOD["x"]["points"][:1], "x.points", "two calibration points"),
    (("x", "points"), KeyError, "x.points", "two calibration points"),
    (("x", "points", 1), 7, "x.points[1]", "a table is due here"),
    (("x", "points", 1, "pixle"), [1, 2], "x.points[1].pixle", "unknown key"),
    (("x", "points", 1, "pixel"), KeyError, "x.points[1].pixel", "a pixel is due here"),
    (("x", "points", 1, "pixel"), [1, 2, 3], "x.points[1].pixel", "a pixel is due here"),
    (("x", "points", 1, "value"), True, "x.points[1]", "a number is due here"),
    (("x", "points", 1, "value"), float("nan"), "x.points[1]", "a number is due here"),
    (("x", "points", 1, "value"), 1.1e12, "x.points[1]", "too large"),
    (("x", "trace"), {}, "x.trace", "unknown key"),
    ((*FIRST, "quantity"), "capacity", "curve[0].quantity", "nothing that is known"),
    ((*FIRST, "picked"), 5, "curve[0].picked", "a list of pixels"),
    ((*FIRST, "picked"), KeyError, "curve[0].picked", "give picked or trace"),
    ((*FIRST, "picked", 1), "a", "curve[0].picked[1]", "a pixel is due here"),
    ((*SECOND, "picked"), [[1, 2]], "curve[1].picked", "not both"),
    ((*SECOND, "at_speed"), 1500, "curve[1].at_speed", "a quantity is due here"),
    ((*SECOND, "at_speed", "unit"), "kg", "curve[1].at_speed.unit", ""),
    ((*SECOND, "at_speed", "value"), "1500", "curve[1].at_speed.value", "a number is due here"),
    ((*SECOND, "trace"), "from here", "curve[1].trace", "a table is due here"),
    ((*SECOND, "trace", "form"), [1, 2], "curve[1].trace.form", "unknown key.*from"),
    ((*SECOND, "trace", "to"), KeyError, "curve[1].trace.to", "a pixel is due here"),
    ((*SECOND, "trace", "colour"), "#c84a2", "curve[1].trace.colour", "not a colour"),
    ((*SECOND, "trace", "colour"), "#c84a2x", "curve[1].trace.colour", "not a colour"),
    ((*SECOND, "trace", "tolerance"), None, "curve[1].trace.tolerance", "a number is due here"),
]


@pytest.mark.parametrize(("place", "value", "field", "said"), WRONG)
def test_one_wrong_value_is_named_by_its_field(place, value, field, said):
    with pytest.raises(InputError, match=f"(?s){said}") as caught:
        picture_spec(changed(place, value), "chart.toml")
    assert (caught.value.source, caught.value.field) == ("chart.toml", field)


def test_the_largest_number_and_page_and_most_curves_are_taken():
    assert picture_spec(changed(("x", "points", 1, "value"), 1e12), "").x.points[1].value == 1e12
    eight = changed(("curve",), [GOOD["curve"][0]] * 8)
    assert len(picture_spec(eight, "chart.toml").curves) == 8
