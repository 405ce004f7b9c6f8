"""Whatever is handed in at the door arrives below: as the same part, in SI, under the same name."""

from importlib import import_module

import pytest

import converter_match as cm
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.study.study import Study

ROOM = "converter_match"
PARTS = ("six-cylinder-9l-240kw", "single-stage-390mm-full-range", "six-speed-hauler",
         "articulated-hauler-25t")  # fmt: skip
SITE = cm.Site.at("2000 m", "35 degC")
RPM = 0.10471975511965977  # pi / 30
FEW = cm.read("single-stage-345mm-tight", "single-stage-360mm")


@pytest.fixture(scope="module")
def parts():
    return cm.read(*PARTS)


@pytest.fixture(scope="module")
def match(parts):
    return cm.solve(*parts[:2])


def no_progress(*said):
    pass


def ground():
    return find_surface("firm smooth earth", read_surfaces())


def pair_and_place():
    return {"site": SITE, "hydraulic_torque": "40 N.m"}, {"site": SITE, "hydraulic_torque": 40.0}


GIVEN_PLACE, SI_PLACE = pair_and_place()
# What is called, with what (parts by letter), what is called below, and what arrives there.
CASES = {
    "solve": ("judgement.match.solve.solve", "ec", GIVEN_PLACE, (), SI_PLACE),
    "size": (
        "judgement.sizing.size.size_for_speed", "ec", {"engine_speed": "1800 rpm",
        "speed_ratio": 0.3, **GIVEN_PLACE}, (1800 * RPM,), {"speed_ratio": 0.3, **SI_PLACE},
    ),
    "engine_wanted": (
        "judgement.sizing.engine_wanted.torque_wanted", "ec", {"stall_speed": "1800 rpm",
        **GIVEN_PLACE}, (1800 * RPM,), SI_PLACE,
    ),
    "tractive": (
        "judgement.wheels.reached.tractive_from_rest", "mlt", {"surface": "firm smooth earth",
        "load": "empty", "grades": ["4 %", 0.08]}, (ground(),),
        {"load": "empty", "grades": (0.04, 0.08)},
    ),
    "accelerate": (
        "judgement.wheels.acceleration.acceleration", "mlt", {"surface": ground(),
        "to_speed": "36 km/h", "load": "empty", "grade": "2 %", "gear": "3", "method": "dynamic"},
        (ground(),), {"to_speed": 10.0, "load": "empty", "grade": 0.02, "gear": "3",
        "method": "dynamic"},
    ),
    "over_duty": (
        "judgement.match.duty.over_duty", "m", {"duty": "loader-loading-shift"},
        (cm.read("loader-loading-shift"),), {},
    ),
    "over_load": (
        "judgement.load.load.over_load", "m", {"load": "yarder-winch"},
        (cm.read("yarder-winch"),), {},
    ),
    "over_settings": (
        "judgement.load.family.over_settings", "m", {"load": "yarder-winch"},
        (cm.read("yarder-winch"),), {},
    ),
    "at_setting": (
        "components.converter_family.at_setting", "c", {"setting": "15"}, (15.0,), {},
    ),
    "governed_lower": (
        "judgement.match.governed.governed_lower", "m", {"high_idle": ["2200 rpm", 200.0]},
        ((pytest.approx(230.383461), 200.0),), {},
    ),
    "haul": (
        "judgement.haul.haul.haul", "mlt", {"route": "quarry-to-crusher", "braking": "1.2 m/s2",
        "oil_start": "60 degC"}, (cm.read("quarry-to-crusher"),), {"fuel_map": None,
        "braking": 1.2, "oil_start": 333.15},
    ),
    "work_cycle": (
        "judgement.haul.short_cycle.work_cycle", "mlt", {"cycle": "loader-truck-loading",
        "oil_start": "60 degC"}, (cm.read("loader-truck-loading"),), {"oil_start": 333.15},
    ),
    "uncertainty": (
        "judgement.uncertainty.uncertainty.uncertainty", "s", {"draws": 7, "seed": 3,
        "progress": no_progress}, (), {"draws": 7, "seed": 3, "progress": no_progress},
    ),
    "rank": (
        "judgement.verdict.ranking.rank_library", "s", {"converters": FEW, "candidate": "x",
        "progress": no_progress}, (list(FEW), "x"), {"progress": no_progress},
    ),
    "close_lock_up": (
        "judgement.arrangement.closing.close_lock_up", "malt", {"gear": "3", "load": "empty",
        "closing_time": "1.5 s", "duration": "4 s"}, (), {"gear": "3", "load": "empty",
        "closing_time": 1.5, "duration": 4.0},
    ),
    "run_up": (
        "judgement.arrangement.closing.run_up", "m", {"duration": "3 s"}, (), {"duration": 3.0},
    ),
    "try_on_route": (
        "judgement.sizing.trials.try_converters", "eflt", {"route": "quarry-to-crusher",
        "limits": {"oil_temperature": "120 degC"}, **GIVEN_PLACE}, None, SI_PLACE,
    ),
    "size_on_route": (
        "judgement.sizing.trials.best_size", "eclt", {"route": "quarry-to-crusher",
        "diameters": ("390 mm", "429 mm"), **GIVEN_PLACE}, None,
        {"diameters": (1.0, pytest.approx(1.1)), **SI_PLACE},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_what_is_handed_in_arrives(name, parts, match, monkeypatch):
    target, letters, given, rest, named = CASES[name]
    by_letter = dict(zip("eclt", parts, strict=True)) | {
        "m": match,
        "f": FEW,
        "a": cm.read("ore-hauler-lock-up"),
        "s": cm.read("quarry-loader-repower"),
    }
    module, _, function = target.rpartition(".")
    arrived = []
    monkeypatch.setattr(
        import_module(f"{ROOM}.{module}"),
        function,
        lambda *args, **kwargs: arrived.append((args, kwargs)),
    )
    getattr(cm, name)(*(by_letter[letter] for letter in letters), **given)
    [(args, kwargs)] = arrived
    if rest is not None:
        own = [by_letter[letter] for letter in letters]
        own = [thing.lock_up if letter == "a" else thing
               for letter, thing in zip(letters, own, strict=True)]  # fmt: skip
        assert list(args[: len(own)]) == own
        speeds = all(isinstance(value, float) for value in rest)
        assert args[len(own) :] == (pytest.approx(rest) if speeds and rest else rest)
    for key, value in named.items():
        assert kwargs[key] == value, key


def test_every_limit_of_a_trial_can_be_given(parts, monkeypatch):
    from converter_match.api.sizing import _LIMITS
    from converter_match.judgement.sizing import trials
    from converter_match.judgement.sizing.limits import TrialLimits

    arrived = []
    monkeypatch.setattr(trials, "try_converters", lambda *a, **k: arrived.append(k["limits"]))
    engine, converter, line, truck = parts
    given = {name: float(number) for number, name in enumerate(_LIMITS, start=360)}
    given["input_power"] = 90e3  # no limit is a few hundred watts
    cm.try_on_route(engine, [converter], line, truck, "quarry-to-crusher", limits=given)
    assert set(_LIMITS) == set(TrialLimits.__dataclass_fields__)
    assert arrived == [TrialLimits(**given)]


def test_every_tolerance_of_a_stall_test_can_be_given(match):
    from converter_match.api.stall import _TOLERANCES
    from converter_match.judgement.stall.setup import Tolerances

    assert set(_TOLERANCES) == set(Tolerances.__dataclass_fields__)
    test = cm.stall_test(
        match,
        tolerances={"reading": "10 rpm", "oil_temperature": "3 K", "air": "2 %"},
        coverage="90 %",
        published=("1500 rpm", "1800 rpm"),
        maker_hold="20 s",
        relief_torque="200 N.m",
        name="truck 1",
    )
    own = test.setup
    assert own.tolerances.reading == pytest.approx(10 * RPM)
    assert (own.tolerances.oil_temperature, own.tolerances.air) == pytest.approx((3.0, 0.02))
    assert own.coverage == pytest.approx(0.9)
    assert own.published == pytest.approx((1500 * RPM, 1800 * RPM))
    assert (own.maker_hold, own.relief_torque, test.name) == (20.0, 200.0, "truck 1")


def test_a_log_is_read_with_what_is_known_of_its_machine(parts, monkeypatch):
    from converter_match.judgement.identify import identify

    arrived = []
    monkeypatch.setattr(identify, "identify", lambda pieces, basis: arrived.append(basis))
    engine, converter, line, truck = parts
    cm.identify(
        "loader-shift", engine, converter, reference_torque="1004 N.m", hydraulic_torque="5 N.m",
        driveline=line, machine=truck, gear="4", load="empty", rolling_resistance="3 %",
        coverage="90 %",
    )  # fmt: skip
    [basis] = arrived
    assert (basis.engine, basis.converter, basis.driveline, basis.machine) == parts
    assert (basis.hydraulic_torque, basis.gear, basis.laden) == (5.0, "4", False)
    assert (basis.rolling_resistance, basis.coverage) == pytest.approx((0.03, 0.9))


@pytest.mark.slow
def test_a_study_is_run_with_its_probabilities_and_claims(monkeypatch):
    from converter_match.judgement.decision import extras

    kept = extras.with_extras
    arrived = []

    def noted(result, **given):
        arrived.append(given)
        return kept(result, **given)

    monkeypatch.setattr(extras, "with_extras", noted)
    study = cm.read("quarry-loader-repower")
    assert isinstance(study, Study)
    cm.run_study(study, draws=0, seed=5)
    assert (arrived[0]["draws"], arrived[0]["seed"]) == (0, 5)
