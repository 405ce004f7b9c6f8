"""A session in Python: what a person types is taken, and what is wrong is said with the way out."""

import re

import pytest

import converter_match as cm

ENGINE, CONVERTER, LINE, TRUCK = (
    "six-cylinder-9l-240kw",
    "single-stage-390mm-full-range",
    "six-speed-hauler",
    "articulated-hauler-25t",
)


@pytest.fixture(scope="module")
def parts():
    return cm.read(ENGINE, CONVERTER, LINE, TRUCK)


@pytest.fixture(scope="module")
def match(parts):
    return cm.solve(*parts[:2])


@pytest.mark.slow
def test_a_whole_session_in_six_lines(capsys):
    e, c, line, truck = cm.read(
        "six-cylinder-9l-240kw",
        "single-stage-390mm-full-range",
        "six-speed-hauler",
        "articulated-hauler-25t",
    )
    m = cm.solve(e, c, site=cm.Site.at("2000 m", "35 degC"))
    w = cm.tractive(m, line, truck, "firm smooth earth")
    r = cm.haul(m, line, truck, "quarry-to-crusher")
    d = cm.stall_test(m, line, truck).diagnose("speed=1700 gear=1 brakes=held")
    figure = cm.figures.overlay(m)
    print(m, w, r, d)
    assert len(figure.axes) == 4
    said = capsys.readouterr().out
    # Each of the four has said what it is about, and in trade units.
    for words in ("rpm", "km/h", "kN", "brakes held", e.name, c.name):
        assert words in said
    assert m.site.air.temperature == pytest.approx(308.15)
    assert d.judged[0].place == "inside"


# --- quantities ---------------------------------------------------------------------------------


def test_a_text_with_its_unit_is_the_number_in_si(parts):
    engine, converter, *_ = parts
    # 130 lbf.ft = 130 * 1.3558179483 N.m (NIST SP 811)
    written = cm.solve(engine, converter, hydraulic_torque="130 lbf.ft")
    given = cm.solve(engine, converter, hydraulic_torque=130 * 1.3558179483314004)
    assert written.stall.engine_speed == pytest.approx(given.stall.engine_speed, rel=1e-12)
    assert written.stall.engine_speed < cm.solve(engine, converter).stall.engine_speed


def test_a_site_by_its_altitude_and_air():
    site = cm.Site.at("6500 ft", "86 degF", "40 %")
    assert site.altitude == pytest.approx(1981.2)  # 0.3048 m to the foot, exactly
    assert site.air_temperature == pytest.approx(303.15)
    assert site.relative_humidity == pytest.approx(0.4)
    assert cm.Site.at(1981.2, 303.15) == cm.Site.at(1981.2, "303.15 K").replace(
        name=cm.Site.at(1981.2, 303.15).name
    )


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("2000", "no unit given; expected a length unit"),
        ("2,000 m", "not a number with its unit; found '2,000 m'; expected a text such as "
                    "'120 mm'; write 2000 or 2.000, not 2,000"),
        ("2000 s", "'s' is a time unit; expected a length unit"),
        (True, "not a quantity; found True; expected a text such as '120 m"),
        (["2000 m"], "not a quantity"),
        ("1e999 m", "too large a number"),
    ],
)  # fmt: skip
def test_what_is_no_altitude_is_refused(given, says):
    with pytest.raises(cm.InputError, match=rf"^altitude: {re.escape(says)}"):
        cm.Site.at(given)
    assert cm.Site.at("2000 m").altitude == 2000.0


@pytest.mark.slow
def test_grades_and_speeds_may_be_written(parts, match):
    _, _, line, truck = parts
    written = cm.tractive(match, line, truck, "firm smooth earth", grades=["4 %", "8 %"])
    given = cm.tractive(match, line, truck, "firm smooth earth", grades=[0.04, 0.08])
    assert [row.grade for row in written.grades] == [0.04, 0.08]
    assert [row.speed for row in written.grades] == [row.speed for row in given.grades]
    run = cm.accelerate(match, line, truck, "firm smooth earth", to_speed="30 km/h")
    assert run.to_speed == pytest.approx(30 / 3.6)


# --- mistakes -----------------------------------------------------------------------------------


def test_a_name_in_the_place_of_a_part_is_refused_with_the_way_to_read_it(parts):
    with pytest.raises(cm.InputError) as caught:
        cm.solve(ENGINE, parts[1])
    assert str(caught.value) == (
        f"engine: not an engine; found '{ENGINE}'; expected an Engine, from cm.read(...); "
        f'read it first: cm.read("{ENGINE}")'
    )


def test_a_name_that_is_none_names_the_nearest_as_well(parts):
    with pytest.raises(cm.InputError, match=r"read it first: .*; did you mean .six-cyl"):
        cm.solve("six-cylinder-9l-24kw", parts[1])


def test_parts_that_changed_places_are_named(parts):
    with pytest.raises(cm.InputError, match=f"^engine: .*found 'Converter {CONVERTER}"):
        cm.solve(parts[1], parts[0])


def test_a_pair_in_the_place_of_a_match_is_told_to_be_matched(parts):
    engine, _, line, truck = parts
    with pytest.raises(cm.InputError, match=r"match the two first: cm\.solve\(engine, converter\)"):
        cm.tractive(engine, line, truck, "sand, truck")


@pytest.mark.parametrize(
    ("attempt", "says"),
    [
        (lambda p, m: cm.solve(*p[:2], site="harbour"), r"^site: .*cm\.Site\.at\(\"2000 m\""),
        (lambda p, m: cm.tractive(m, p[2], p[3], "firm smoth earth"), "did you mean 'firm smooth"),
        (lambda p, m: cm.tractive(m, p[2], p[3], 0.03), r'^surface: not a surface; .*a name such'),
        (lambda p, m: cm.haul(m, p[2], p[3], "quarry-to-crushr"), "did you mean 'quarry-to-crus"),
        (lambda p, m: cm.haul(m, p[2], p[3], m), "^route: not a route; found 'MatchResult'"),
        (lambda p, m: cm.work_cycle(m, p[2], p[3], 3), "^cycle: not a cycle; found 'int'"),
        (lambda p, m: cm.over_duty(m, 3), "^duty: not a duty; found 'int'"),
        (lambda p, m: cm.over_duty(p[0], "loader-loading-shift"), "^match: not a match"),
        (lambda p, m: cm.over_load(m, 3), "^load: not a load; found 'int'"),
        (lambda p, m: cm.over_load(m, "yarder-wench"), "did you mean 'yarder-winch"),
        (lambda p, m: cm.at_setting(p[1], 3), "the converter is not adjustable"),
        (lambda p, m: cm.at_setting(p[1], "1 kW"), "^setting: "),
        (lambda p, m: cm.over_settings(m), "the converter is not adjustable"),
        (lambda p, m: cm.governed_lower(m, ["2200"]), "^high_idle: "),
        (lambda p, m: cm.full_throttle(p[0], p[1], mass="1500 kg", first_gear=(0, 1)),
         "^run: not a "),
        (lambda p, m: cm.published("surfaces"), "there is no such published table"),
        (lambda p, m: cm.stall_test(m, tolerances={"capcity": 0.1}), "did you mean 'capacity'"),
        (lambda p, m: cm.try_on_route(p[0], p[1:2], p[2], p[3], "quarry-to-crusher",
                                      limits={"heat": 1}), "^limits: there is none of that name"),
        (lambda p, m: cm.run_study("quarry-loader-repower"), r"^study: not a study; .*cm\.read"),
        (lambda p, m: cm.figures.overlay(p[0]), r"^figures\.overlay: not a match; found 'Engine"),
        (lambda p, m: cm.check("six-cylinder-9l"), "did you mean 'six-cylinder-9l-240kw'"),
        (lambda p, m: cm.size(*p[:2], "1800"), "^engine_speed: no unit given"),
        (lambda p, m: cm.bench(ENGINE, p[1]), "^engine: not an engine"),
        (lambda p, m: cm.notes_of(3), "has no notes; found 'int'"),
        (lambda p, m: cm.show("match"), "not a result; found 'str'"),
        (lambda p, m: cm.intake(), "^what is to be read"),
        (lambda p, m: cm.intake("a.csv", text="b"), "^what is to be read"),
        (lambda p, m: cm.audit(cm.read("quarry-loader-repower"), "stal speed=1 rpm"),
         "^claim: unknown quantity"),
        (lambda p, m: cm.close_lock_up(m, cm.read("dozer-torque-divider"), p[2], p[3], gear="4"),
         "^dozer-torque-divider: lock_up: there is no lock-up clutch"),
    ],
)  # fmt: skip
def test_each_mistake_is_said_with_what_is_expected(parts, match, attempt, says):
    with pytest.raises(cm.InputError, match=says):
        attempt(parts, match)


# --- answers that need nothing handed in --------------------------------------------------------


def test_the_stall_test_of_a_match_is_that_of_its_parts_and_its_day(parts):
    from converter_match.judgement.stall.expectation import expect
    from converter_match.judgement.stall.setup import StallSetup

    engine, converter, line, truck = parts
    site = cm.Site.at("2000 m", "35 degC")
    match = cm.solve(engine, converter, site=site, hydraulic_torque="40 N.m")
    test = cm.stall_test(match, line, truck, oil_temperature="85 degC")
    setup = StallSetup(
        engine=engine, converter=converter, site=site, hydraulic_torque=40.0, driveline=line,
        machine=truck, oil_temperature=358.15,
    )  # fmt: skip
    assert test.expected.band.ends == expect(setup).band.ends


def test_written_claims_are_about_the_combination_that_is_named():
    study = cm.read("quarry-loader-repower")
    written = cm.audit(study, "stall torque ratio=2.2", about=study.candidates[-1].id, by="me")
    [claim] = written.claims
    assert claim.claim.combination == study.candidates[-1].id
    assert claim.claim.source == "me"


def test_a_size_is_wanted_at_a_speed_ratio_or_at_an_efficiency(parts):
    with pytest.raises(cm.InputError, match="one or the other"):
        cm.size(*parts[:2], "1800 rpm", speed_ratio=0.5, efficiency="80 %")
    sized = cm.size(*parts[:2], "1750 rpm", efficiency="80 %")
    low = sized.result.working_range(0.8)[0].lower
    assert cm.from_si(low.engine_speed, "rpm", "angular_speed") == pytest.approx(1750, rel=1e-3)


def test_a_closing_clutch_takes_the_energy_of_its_speed_step(parts, match):
    # Two inertias that come to one speed lose E = J1 J2 / (J1 + J2) * step^2 / 2; the machine's is
    # so much greater that it hardly counts. The engine goes on pulling: in time it is more.
    engine, converter, line, truck = parts
    closing = cm.close_lock_up(match, cm.read("ore-hauler-lock-up"), line, truck, gear="4")
    ideal = closing.estimate
    turning = engine.inertia + converter.impeller_inertia
    assert ideal.energy == pytest.approx(0.5 * turning * ideal.speed_step**2, rel=1e-9)
    assert ideal.energy < closing.in_time.dissipated < ideal.energy_with_torque


# --- figures ------------------------------------------------------------------------------------


def test_each_figure_has_its_function_and_its_line_in_the_list():
    for name in cm.figures.__all__:
        assert callable(getattr(cm.figures, name))
        assert f"``{name}``" in cm.figures.__doc__
    assert set(cm.figures.__all__) == set(cm.figures._DRAWN)
    with pytest.raises(AttributeError, match="no_such_figure"):
        _ = cm.figures.no_such_figure
