"""What is tried: each alternative planted and found, each by hand, and none that cannot be."""

import math
from dataclasses import replace

import pint
import pytest

from converter_match.components.tyre import Tyre
from converter_match.judgement.audit.alternatives import Others, alternatives, same_displacement
from converter_match.judgement.audit.chance import CHANCE
from converter_match.judgement.audit.figures import figure
from converter_match.library.misread import misreadings
from converter_match.library.shipped import find
from converter_match.units import note_text
from tests.audit_examples import (
    CASE,
    FLAT,
    OTHERS,
    claim,
    one,
    planted,
    stall_under,
)
from tests.examples import RPM, converter, engine
from tests.library.sheets import printed_once
from tests.machines import machine
from tests.study_examples import flat_engine

STALL = 60.0 * math.sqrt(400.0)  # rpm, of FLAT
# What each alternative shows in: a claim that it changes and by which it can be told.
SHOWS = {
    "gross-torque": "stall-input-torque",
    "pumps-left-out": "stall-input-torque",
    "accessories-left-out": "stall-input-torque",
    "no-site-correction": "stall-input-torque",
    "ps-for-hp": "stall-input-torque",
    "other-rating-derated": "stall-input-torque",
    "reference-speed-2000": "stall-k-factor",
    "cold-oil": "stall-k-factor",
    "crept-at-0.05": "stall-torque-ratio",
    "crept-at-0.10": "stall-torque-ratio",
    "mechanical-efficiency-left-out": "tractive-effort",
    "stage-missing-transfer": "tractive-effort",
    "stage-missing-axle": "tractive-effort",
    "free-tyre-radius": "tractive-effort",
    "empty-machine": "speed-on-grade",
    "short-ton-for-t": "speed-on-grade",
    "grip-left-out": "steepest-grade",
    "sister-sibling": "stall-torque-ratio",
    "claim-km-h-for-mph": "speed-on-grade",
}
# Fast enough that the ground does not limit the effort.
STATED = {"speed-on-grade": {"grade": 0.08}, "tractive-effort": {"speed": 3.0}}


def asked_for(quantity, value=1.0):
    given = f"{value * 3.6:.9f} km/h" if quantity == "speed-on-grade" else f"{value:.9f}"
    return claim(quantity, value, given=given, **STATED.get(quantity, {}))


def test_every_alternative_is_planted():
    names = {item.name for quantity in set(SHOWS.values())
             for item in alternatives(CASE, asked_for(quantity), OTHERS)}  # fmt: skip
    assert names == set(SHOWS)


@pytest.mark.slow
@pytest.mark.parametrize("name", list(SHOWS))
def test_a_planted_alternative_is_found_and_told_as_the_story(name):
    quantity = SHOWS[name]
    value = figure(planted(name, CASE, asked_for(quantity)).case, asked_for(quantity))
    found = one(quantity, value, given=asked_for(quantity, value).given, **STATED.get(quantity, {}))
    assert found.verdict == "disagrees"
    assert found.story.alternatives == (name,)
    assert found.story.value == pytest.approx(value, rel=1e-9)
    assert found.story.chance <= CHANCE
    assert "reproduced" in [note.code for note in found.remarks]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("quantity", "pair"),
    [
        ("stall-input-torque", ("gross-torque", "no-site-correction")),
        ("stall-speed", ("crept-at-0.10", "no-site-correction")),
        ("stall-turbine-torque", ("gross-torque", "sister-sibling")),
        ("tractive-effort", ("free-tyre-radius", "mechanical-efficiency-left-out")),
        ("tractive-effort", ("mechanical-efficiency-left-out", "stage-missing-transfer")),
        ("stall-turbine-torque", ("other-rating-derated", "sister-sibling")),
    ],
)
def test_a_planted_pair_is_found(quantity, pair):
    wanted = asked_for(quantity)
    first, second = (planted(name, CASE, wanted) for name in pair)
    value = figure(second.on(first, wanted, OTHERS), wanted)
    found = one(quantity, value, **STATED.get(quantity, {}))
    best = found.explanations[0]
    assert set(best.alternatives) == set(pair)
    assert best.value == pytest.approx(value, rel=1e-12)
    assert best.convincing  # to the last digit: hardly chance


def test_two_that_exclude_each_other_are_no_pair():
    wanted = claim("stall-speed", 1.0)
    by_name = {item.name: item for item in alternatives(CASE, wanted, OTHERS)}
    assert by_name["crept-at-0.05"].on(by_name["crept-at-0.10"], wanted, OTHERS) is None
    assert by_name["gross-torque"].on(by_name["accessories-left-out"], wanted, OTHERS) is None


# --- only what the sheets allow ------------------------------------------------------------------


def names(case, wanted, others=None):
    return {item.name for item in alternatives(case, wanted, others)}


def test_nothing_is_tried_that_nobody_named():
    bare = replace(CASE, misreadings=())
    tried = names(bare, claim("stall-speed", 1.0))
    assert not any(name.startswith(("sister", "other-rating", "reference")) for name in tried)
    assert not any("-for-" in name for name in tried)


def test_no_unit_is_mixed_up_that_the_claim_does_not_print():
    # Torque has no two units of one name; K states its unit, and the dealer has the sheet.
    for quantity, given in (("stall-input-torque", "800 N.m"),
                            ("stall-k-factor", "60 rpm/sqrt(N.m)"), ("stall-heat", "150 kW"),
                            ("top-speed", "11 m/s")):  # fmt: skip
        wanted = claim(quantity, 11.0, given=given)
        assert not any(name.startswith("claim") for name in names(CASE, wanted)), given


@pytest.mark.parametrize(
    ("shipped", "swaps"),
    [
        ("single-stage-345mm-tight", []),  # K in a stated unit
        ("single-stage-360mm", ["1000 rpm", "2000 rpm"]),  # torque at 1700 rpm
    ],
)
def test_a_reference_speed_is_mixed_up_only_where_the_sheet_has_one(shipped, swaps):
    found = misreadings("converter", find("converters", shipped))
    assert [item.read for item in found] == swaps


def test_an_engine_in_kilowatt_has_no_horsepower_to_mix_up(tmp_path):
    path = find("engines", "six-cylinder-10l5-138kw")
    assert misreadings("engine", path) == ()
    text = printed_once(path.read_text(encoding="utf-8"))
    row = next(line for line in text.splitlines() if line.startswith("power") and "values" in line)
    sheet = tmp_path / "in-hp.toml"
    sheet.write_text(text.replace(row, row.replace('"kW"', '"hp"')), encoding="utf-8")
    [found] = misreadings("engine", sheet)
    assert (found.given, found.read) == ("hp", "PS")
    # 75 kgf.m/s over 550 ft.lbf/s
    from converter_match.library.read import read_engine

    share = found.component.torque / read_engine(sheet).torque
    assert share == pytest.approx(75 * 9.80665 / (550 * 0.3048 * 4.4482216152605), rel=1e-9)


def test_engines_of_one_displacement_are_power_settings_of_one():
    own, big = engine(displacement=7e-3), engine(id="big", displacement=9e-3)
    same = engine(id="same", displacement=7.01e-3)
    assert same_displacement(own, [big, same]) == (same,)
    assert same_displacement(engine(), [same]) == ()


# --- by hand -------------------------------------------------------------------------------------


def test_units_of_one_name_are_those_of_a_reference_library():
    pairs = {
        "top-speed": (("km/h", "mph", "kilometer/hour", "mile/hour"),
                      ("mph", "km/h", "mile/hour", "kilometer/hour")),
        "stall-heat": (("hp", "PS", "horsepower", "metric_horsepower"),
                       ("PS", "hp", "metric_horsepower", "horsepower")),
    }  # fmt: skip
    ureg = pint.UnitRegistry()
    for quantity, rows in pairs.items():
        for given, read, its, other in rows:
            si = ureg.Quantity(7.0, its).to_base_units().magnitude
            wanted = claim(quantity, si, given=f"7 {given}")
            name = f"claim-{given}-for-{read}".replace("/", "-").casefold()
            factor = ureg.Quantity(1.0, its).to(other).magnitude
            assert planted(name, CASE, wanted).case.printed == pytest.approx(factor, rel=1e-9)


def test_tons_are_those_of_a_reference_library():
    ureg = pint.UnitRegistry()
    own = find("machines", "wheel-loader-17t")
    found = {item.read: item.component.mass_empty for item in misreadings("machine", own)}
    assert found == {
        "short ton": pytest.approx(ureg.Quantity(17.0, "short_ton").to("kg").magnitude),
        "long ton": pytest.approx(ureg.Quantity(17.0, "long_ton").to("kg").magnitude),
    }


@pytest.mark.slow
def test_a_claim_in_the_other_unit_is_our_number_in_it():
    # Our speed is v; the letter has v in mph and calls it km/h.
    ours = figure(CASE, claim("top-speed", 1.0))
    letter = round(ours / 1609.344 * 3600, 2)  # the number in mph
    found = one("top-speed", letter / 3.6, given=f"{letter:.2f} km/h")
    assert found.story.alternatives == ("claim-km-h-for-mph",)


def test_the_road_speed_of_a_claim_in_the_other_unit():
    at = claim("tractive-effort", 1.0, gear="1", speed=5 / 3.6, speed_given="5 km/h")
    other = planted("speed-km-h-for-mph", CASE, at)
    five_mph = claim("tractive-effort", 1.0, gear="1", speed=5 * 0.44704)
    assert figure(other.case, at) == pytest.approx(figure(CASE, five_mph), rel=1e-9)


def test_reading_at_a_speed_ratio_above_stall_by_hand():
    # nu = 0.1 lies between rows of the sheet; the row itself is exact at 0.2.
    wanted = claim("stall-speed", 1.0)
    at_row = replace(FLAT, creep=0.2)
    assert figure(at_row, wanted) / RPM == pytest.approx(61 * math.sqrt(400.0), rel=1e-6)
    assert STALL < stall_under("crept-at-0.10") < 61 * math.sqrt(400.0)
    ratio = claim("stall-torque-ratio", 1.0)
    assert figure(at_row, ratio) == pytest.approx(1.95)
    # The heat is what is lost: T omega (1 - nu mu)
    heat = claim("stall-heat", 1.0)
    power = 400.0 * figure(at_row, wanted)
    assert figure(at_row, heat) == pytest.approx(power * (1 - 0.2 * 1.95), rel=1e-6)


def test_cold_oil_by_hand():
    # 70 K colder with 6.75e-4 / K: denser by 1 / (1 - 0.04725); n goes with the root of 1 / rho
    assert stall_under("cold-oil") == pytest.approx(STALL * math.sqrt(1 - 70 * 6.75e-4), rel=1e-6)


def test_the_implement_at_work_by_hand():
    working = replace(FLAT, working_torque=100.0)
    assert stall_under("hydraulics-working", working) == pytest.approx(60 * math.sqrt(300.0))


def test_another_power_setting_is_the_engine_that_is_named():
    rating = flat_engine(361.0, id="lower")
    others = Others(ratings=(rating,))
    assert stall_under("other-rating-lower", FLAT, others) == pytest.approx(60 * 19.0)


def test_a_sibling_s_sheet_is_its_whole_sheet():
    k = converter().replace(id="looser", capacity=converter().capacity / 1.21)
    others = Others(siblings=(k,))
    assert stall_under("sister-looser", FLAT, others) == pytest.approx(1.1 * STALL)
    assert "sister-test-converter" not in names(FLAT, claim("stall-speed", 1.0), others)


def test_another_reference_speed_by_hand():
    # Primary torque goes with the square of speed: T printed for 1700 rpm and read for 2000 is a
    # capacity of (1700 / 2000)^2, and the stall speed goes with its root.
    case = replace(FLAT, misreadings=CASE.misreadings)
    assert stall_under("reference-speed-2000", case) == pytest.approx(STALL * 2000 / 1700)


def test_typical_gross_torque_by_hand():
    net = replace(FLAT, engine=flat_engine(400.0, rating_basis="net"))
    # 6 percent more torque: common practice, no source
    assert stall_under("gross-torque", net) == pytest.approx(60.0 * math.sqrt(424.0), rel=1e-6)
    gross = planted("gross-torque", net, claim("stall-speed", 1.0))
    assert "common practice" in note_text(gross.words, "si")


FAN = CASE.engine.accessories[:1]


@pytest.mark.parametrize(
    ("basis", "accessories", "pumps", "said"),
    [
        # A gross rating: what is deducted may have been forgotten, if anything is.
        ("gross", FAN, 0.0, "gross-torque-given"),
        ("gross", (), 40.0, "gross-torque-given"),
        ("gross", (), 0.0, None),
        # A net one has the fan in it already: only a typical share of it can be given back.
        ("net", FAN, 0.0, "gross-torque-typical"),
        ("net", FAN, 40.0, "gross-torque-typical"),
        ("net", (), 0.0, "gross-torque-typical"),
    ],
)
def test_gross_torque_is_tried_by_what_the_rating_says(basis, accessories, pumps, said):
    own = flat_engine(400.0, rating_basis=basis, accessories=accessories)
    case = replace(FLAT, engine=own, hydraulic_torque=pumps)
    tried = tuple(alternatives(case, claim("stall-speed", 1.0), Others()))
    assert [item.words.code for item in tried if item.name == "gross-torque"] == (
        [] if said is None else [said]
    )
    # Accessories alone are another story only where more than they is deducted, or no gross is.
    alone = bool(accessories) and (pumps > 0.0 or basis == "net")
    assert ("accessories-left-out" in {item.name for item in tried}) is alone


def test_free_radius_by_hand():
    # Rolling circumference over free diameter, ETRTO (second-hand): 3.05 for radial tyres. The
    # effort goes with 1 / radius.
    tyre = Tyre(rolling_radius=0.8, construction="radial")
    case = replace(CASE, machine=machine(running_gear=tyre), surface=None)
    wanted = claim("tractive-effort", 1.0, gear="1")
    free = planted("free-tyre-radius", case, wanted)
    assert figure(case, wanted) / figure(free.case, wanted) == pytest.approx(
        math.pi / 3.05, rel=1e-9
    )


def test_reduction_that_is_forgotten_by_hand():
    # transfer 1.3 with 98 percent: without it 1 / (1.3 * 0.98) of the effort
    wanted = claim("tractive-effort", 1.0, gear="1")
    rimpull = replace(CASE, surface=None)
    without = planted("stage-missing-transfer", rimpull, wanted)
    assert figure(rimpull, wanted) / figure(without.case, wanted) == pytest.approx(1.3 * 0.98)
