import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.physics.converter.blading import characteristic_from_blading
from converter_match.present.drawing import style
from converter_match.present.drawing.ground import overlaps
from converter_match.present.figures.characteristic import characteristic
from tests.blading_examples import blading
from tests.examples import RPM, converter

# NIST SP 811, appendix B.8.
NM_PER_LBFT = 1.355818
# K of tests/examples.py, rpm/sqrt(N.m), row by row.
K_GIVEN = [60, 61, 62.5, 66, 75, 82, 130, 280]


def demo(name):
    return read_converter(shipped("converters")[name])


def artist(figure, gid):
    found = figure.findobj(lambda item: item.get_gid() == gid)
    assert found, f"nothing is called {gid!r}"
    return found[0]


def data(figure, gid):
    return tuple(np.asarray(values) for values in artist(figure, gid).get_data())


def gids(figure):
    return {str(item.get_gid()) for item in figure.findobj() if item.get_gid()}


def words(figure):
    axes = [text for ax in figure.axes for text in ax.texts]
    return " ".join(" ".join(text.get_text().split()) for text in [*figure.texts, *axes])


def test_given_rows_are_marked_in_every_panel():
    one = converter()
    figure = characteristic(one)
    nu, mu = data(figure, "torque-ratio-0-given")
    assert nu == pytest.approx(one.speed_ratio)
    assert mu == pytest.approx(one.torque_ratio)
    assert data(figure, "efficiency-0-given")[1] == pytest.approx(100 * nu * mu)
    assert data(figure, "capacity-0-given")[1] == pytest.approx(K_GIVEN)


@pytest.mark.slow
def test_rows_that_were_computed_and_not_typed_are_not_marked():
    estimated = characteristic_from_blading(blading())
    assert len(estimated.speed_ratio) > 30
    figure = characteristic([converter(), estimated])
    assert "torque-ratio-0-given" in gids(figure)
    assert "torque-ratio-1-given" not in gids(figure)
    assert "rows of the data sheet" in words(figure)
    assert "rows of the data sheet" not in words(characteristic(estimated))


def test_us_figure_shows_the_k_factor_in_us_units():
    figure = characteristic(converter(), system="us")
    assert figure.axes[2].get_ylabel() == "K-factor (rpm/√(lbf·ft))"
    # K = N / sqrt(T): the torque is a smaller number in lbf.ft, so K is larger.
    assert data(figure, "capacity-0-given")[1] == pytest.approx(
        np.array(K_GIVEN) * np.sqrt(NM_PER_LBFT), rel=1e-6
    )


@pytest.mark.parametrize(
    ("form", "system", "label", "first"),
    [
        ("k_factor", "si", "K-factor (rpm/√(N·m))", 60.0),
        ("torque_at_speed", "si", "torque absorbed at 2000 rpm (N·m)", (2000 / 60) ** 2),
        (
            "torque_at_speed", "us", "torque absorbed at 2000 rpm (lbf·ft)",
            (2000 / 60) ** 2 / NM_PER_LBFT,
        ),
        (
            "power_at_speed", "si", "power absorbed at 2000 rpm (kW)",
            (2000 / 60) ** 2 * 2000 * RPM / 1e3,
        ),
        ("capacity_coefficient", "si", "capacity coefficient (N·m/(rad/s)²)", 1 / (60 * RPM) ** 2),
        (
            "performance_coefficient", "si", "performance coefficient × 1000 (–)",
            1000 / (60 * RPM) ** 2 / (840 * 0.345**5),
        ),
    ],
)  # fmt: skip
def test_capacity_is_shown_in_the_form_asked_for(form, system, label, first):
    figure = characteristic(
        converter(), capacity_form=form, system=system, reference_speed=2000 * RPM
    )
    ax = figure.axes[2]
    assert ax.get_ylabel() == label
    # T = (N / K)^2 with K = 60 rpm/sqrt(N.m) at stall; P = T omega; lambda = C / (rho D^5).
    assert data(figure, "capacity-0-given")[1][0] == pytest.approx(first, rel=1e-6)
    assert ax.get_ylim()[0] <= first <= ax.get_ylim()[1]


def test_kink_is_drawn_as_a_corner_at_the_coupling_point():
    figure = characteristic(converter())
    nu, mu = data(figure, "torque-ratio-0")
    assert 0.86 in nu
    slope = np.diff(mu) / np.diff(nu)
    corner = int(np.flatnonzero(nu == 0.86)[0])
    assert slope[corner - 1] < -1.0
    assert slope[corner] == pytest.approx(0.0, abs=1e-9)
    assert data(figure, "torque-ratio-0-coupling-point") == ([0.86], [1.0])
    assert data(figure, "efficiency-0-coupling-point")[1] == pytest.approx([86.0])
    assert data(figure, "capacity-0-coupling-point")[1] == pytest.approx([82.0])
    assert artist(figure, "torque-ratio-0-coupling-label").get_text() == "coupling point\n0.86"


@pytest.mark.slow
def test_coupling_point_that_was_found_is_said_to_be_found():
    figure = characteristic(converter(coupling_speed_ratio=None))
    assert "(found)" in artist(figure, "torque-ratio-0-coupling-label").get_text()
    assert "coupling point found from the rows" in words(figure)
    assert "(found)" not in words(characteristic(converter()))


def test_fixed_stator_and_fluid_coupling_have_no_coupling_point_to_show():
    fixed = characteristic(demo("fixed-stator-400mm-high-ratio"))
    assert artist(fixed, "torque-ratio-0-coupling-label").get_text().startswith("torque ratio 1")
    assert "stator fixed" in words(fixed)
    fluid = characteristic(demo("fluid-coupling-360mm"))
    assert not [gid for gid in gids(fluid) if "coupling" in gid]
    assert "no stator" in words(fluid)


@pytest.mark.slow
def test_overrun_has_no_k_factor_and_a_negative_capacity():
    one = demo("single-stage-390mm-full-range")
    figure = characteristic(one)
    nu, k = data(figure, "capacity-0")
    assert np.isnan(k[nu >= 1.0]).all()
    assert np.isfinite(k[nu < 1.0]).all()
    assert "no K-factor where no torque" in words(figure)
    assert "driven backwards" in words(figure)
    assert "overrun" in words(figure)
    # No efficiency where the turbine is driven.
    nu, efficiency = data(figure, "efficiency-0")
    assert np.array_equal(np.isfinite(efficiency), (nu >= 0) & (nu <= 1))
    torque = characteristic(one, capacity_form="torque_at_speed", reference_speed=2000 * RPM)
    nu, absorbed = data(torque, "capacity-0")
    assert np.all(absorbed[nu > 1.0] < 0)
    assert torque.axes[2].get_ylim()[0] < absorbed.min()
    assert "no K-factor" not in words(torque)


@pytest.mark.slow
def test_several_converters_are_told_apart_by_letter_colour_and_mark():
    three = [
        demo(name)
        for name in ("single-stage-345mm-tight", "single-stage-345mm-loose", "fluid-coupling-360mm")
    ]
    figure = characteristic(three)
    for number, one in enumerate(three):
        assert f"{'ABC'[number]}: {one.name}" in words(figure)
        for panel in ("torque-ratio", "efficiency", "capacity"):
            assert artist(figure, f"{panel}-{number}-label").get_text() == "ABC"[number]
    for panel, look in (("torque-ratio", "get_color"), ("efficiency", "get_marker")):
        rows = [artist(figure, f"{panel}-{number}-given") for number in range(3)]
        assert len({getattr(row, look)() for row in rows}) == 3
    assert artist(figure, "torque-ratio-1-coupling-label").get_text() == "B 0.82"


@pytest.mark.slow
@pytest.mark.parametrize("font_scale", [1.0, 1.3])
def test_no_words_stand_on_words(font_scale):
    for shown in (
        demo("single-stage-360mm"),
        demo("single-stage-390mm-full-range"),
        [demo("single-stage-345mm-tight"), demo("single-stage-345mm-loose")],
    ):
        figure = characteristic(shown, font_scale=font_scale)
        assert overlaps(figure.texts) == []
        for ax in figure.axes:
            assert overlaps(ax.texts) == []


@pytest.mark.slow
def test_axes_name_quantity_and_unit_and_the_page_names_the_source():
    figure = characteristic(converter())
    first, second, third = figure.axes
    assert first.get_ylabel() == "torque ratio (–)"
    assert second.get_ylabel() == "efficiency (%)"
    assert third.get_xlabel() == "speed ratio (–)"
    assert "round numbers for a test" in words(figure)
    assert style.render(figure, "svg") == style.render(characteristic(converter()), "svg")


def test_panels_draw_on_the_axes_that_are_given():
    figure = style.new_figure(9, 9)
    axes = [figure.add_axes((0.1, 0.1 + 0.3 * row, 0.8, 0.22)) for row in range(3)]
    assert characteristic(converter(), axes=axes) is figure
    assert figure.axes == axes
    assert all(ax.lines for ax in axes)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"converters": []}, "1 to 6 converters"),
        ({"converters": [converter()] * 7}, "1 to 6 converters"),
        ({"capacity_form": "k_facto"}, "did you mean 'k_factor'"),
        ({"capacity_form": "torque_at_speed"}, "reference_speed"),
        ({"system": "metric"}, "unit system"),
        ({"axes": []}, "three axes"),
        ({"font_scale": -1.0}, "font_scale"),
    ],
)
def test_impossible_options_are_refused(options, said):
    with pytest.raises(InputError, match=said):
        characteristic(**({"converters": converter()} | options))
