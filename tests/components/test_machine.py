import pickle

import numpy as np
import pytest

from converter_match.components.machine import Balance, Cooler, Oil, Slip, Tracks
from converter_match.components.surface import Surface
from converter_match.components.tyre import Tyre, tyre_size
from converter_match.errors import InputError
from converter_match.notes import assumption
from tests.machines import machine


def codes(component):
    return {note.code for note in component.notes}


def test_mass_and_radius():
    loader = machine()
    assert (loader.mass("empty"), loader.mass("laden")) == (15_000.0, 20_000.0)
    assert loader.rolling_radius == 0.75
    assert machine(running_gear=Tracks(sprocket_radius=0.48)).rolling_radius == 0.48


def test_value_equality_survives_pickling():
    assert pickle.loads(pickle.dumps(machine())) == machine()
    assert machine() != machine(payload=5_001.0)
    assert machine() != machine(cooler=Cooler.from_conductance(900.0))


def test_what_is_missing_is_listed():
    assert codes(machine()) == {"oil-typical"}
    bare = machine(slip=Slip(), frontal_area=None, drag_coefficient=None, oil=Oil())
    assert codes(bare) == {"slip-not-given", "air-drag-not-given"}


def test_tyre_from_its_size_says_that_it_is_an_estimate():
    tyre = Tyre.from_size("23.5R25")
    assert [note.code for note in tyre.given_notes] == ["tyre-radius-estimated"]
    assert Tyre.from_size("23.5R25", tyre.rolling_radius).given_notes == ()


def test_radius_that_contradicts_the_size_is_used_and_named():
    tyre = Tyre.from_size("23.5R25", 0.60)
    assert tyre.rolling_radius == 0.60
    assert [note.code for note in tyre.given_notes] == ["tyre-radius-odd"]


@pytest.mark.parametrize(
    ("designation", "construction"),
    [
        ("23.5R25", "radial"),
        ("23.5-25", "cross-ply"),
        (" 650/65 R 25 ", "radial"),
        ("12,00-20", "cross-ply"),
    ],
)
def test_ways_of_writing_a_size(designation, construction):
    assert tyre_size(designation).construction == construction


@pytest.mark.parametrize("designation", ["", "big", "25", "23.5X", "0.1R25", "650/65R2500"])
def test_size_that_cannot_be_read(designation):
    with pytest.raises(InputError, match=r"tyre.size: (not a tyre size|the size makes no tyre)"):
        tyre_size(designation)


def test_slip_grows_with_use_and_stays_at_full_use_beyond():
    slip = machine().slip
    use = np.array([0.0, 0.5, 0.7, 1.0, 3.0])
    values = slip.at(use)
    assert values[0] == 0.0
    assert values[1] == pytest.approx(0.03)
    assert np.all(np.diff(values) >= 0)
    assert values[-1] == values[-2] == pytest.approx(0.25)
    assert Slip(constant=0.02).at(use) == pytest.approx(np.full(5, 0.02))


def test_cooler_rating_conductance_and_curve_agree():
    rated = Cooler.from_rating(70e3, 383.15, 313.15)
    np.testing.assert_allclose(rated.heat_at([-10.0, 0.0, 35.0, 140.0]), [0, 0, 35e3, 140e3])
    assert Cooler.from_conductance(1000.0).heat_at(35.0) == pytest.approx(35e3)
    curve = Cooler(difference=[0.0, 50.0, 100.0], heat=[0.0, 50e3, 90e3])
    assert float(curve.heat_at(50.0)) == 50e3
    assert float(curve.heat_at(120.0)) == 90e3  # held: the safe side
    assert curve.covers(100.0)
    assert not curve.covers(101.0)


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: machine(mass_empty=15.0), "no such machine; found '15 kg'"),
        (lambda: machine(payload=-1.0), "payload: out of range"),
        (lambda: machine(drag_coefficient=None), "drag_coefficient: air drag needs both"),
        (lambda: machine().mass("full"), "load: not a known choice; found 'full'"),
        (lambda: Tyre(rolling_radius=1617.0), "no such wheel"),
        (lambda: Tracks(sprocket_radius=5.0), "no such sprocket"),
        (lambda: Slip(constant=1.0), "slip.constant: out of range"),
        (lambda: Slip(use=[0.0, 0.8], slip=[0.0, 0.1]), "from no use of the traction to full"),
        (lambda: Slip(use=[0.0, 1.0], slip=[0.2, 0.1]), "never fall"),
        (lambda: Slip(use=[0.0, 1.0]), "both use and slip"),
        (lambda: Balance(driven_axle="rear", driven_share_empty=45.0), "write 0.45"),
        (lambda: Balance(driven_share_empty=0.5), "they carry all the weight"),
        (lambda: Cooler(difference=[5.0, 50.0], heat=[0.0, 1e3]), "must begin with no heat"),
        (lambda: Cooler(difference=[0.0, 50.0, 60.0], heat=[0.0, 1e3, 1e3]), r"heat \(row 3\)"),
        (lambda: Cooler.from_rating(1e3, 300.0, 310.0), "oil must be warmer"),
        (lambda: Oil(temperature_limit=120.0), "not a temperature of transmission oil"),
        (lambda: Oil(temperature_limit=390.0, working_temperature=395.0), "not below the limit"),
        (lambda: Surface(name="x", rolling_resistance=4.0), "not a rolling resistance"),
        (lambda: Surface(name="x", rolling_resistance=0.04, traction=60.0), "not a traction"),
    ],
)
def test_bad_machine_is_refused(build, message):
    with pytest.raises(InputError, match=message):
        build()


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


def table(use, slip):
    return Slip(use=use, slip=slip)


@pytest.mark.parametrize(
    ("build", "field"),
    [
        (lambda: Slip(use=[0.0, 1.0]), "slip"),
        (lambda: Slip(slip=[0.0, 0.1]), "slip"),
        (lambda: table([0.1, 1.0], [0.0, 0.1]), "slip.use"),
        (lambda: table([0.0, 0.9], [0.0, 0.1]), "slip.use"),
        (lambda: table([0.0, 1.1], [0.0, 0.1]), "slip.use"),
        (lambda: table([0.0, 1.0], [-0.1, 0.1]), "slip.slip"),
        (lambda: table([0.0, 1.0], [0.0, 1.0]), "slip.slip"),
        (lambda: table([0.0, 0.5, 1.0], [0.0, 0.2, 0.1]), "slip.slip"),
        (lambda: table([0.0, 1.0, 0.5], [0.0, 0.2, 0.3]), "use"),
        (lambda: table([0.0, 1.0], [0.0, np.nan]), "slip"),
        (lambda: Balance(driven_axle="both"), "balance.driven_axle"),
        (lambda: Balance(driven_share_laden=0.9), "balance.driven_share_laden"),
        (lambda: Balance(driven_share_empty=0.9), "balance.driven_share_empty"),
        (lambda: machine(frontal_area=None), "frontal_area"),
        (lambda: machine(drag_coefficient=None), "drag_coefficient"),
        (lambda: machine().mass("half"), "load"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(build, field):
    assert refusal(build).field == field


def test_slip_may_be_flat_and_almost_whole():
    flat = table([0.0, 0.5, 1.0], [0.1, 0.1, 0.999])
    np.testing.assert_array_equal(
        flat.at([0.0, 0.5, -0.5, 1.0, -7.0]), [0.1, 0.1, 0.1, 0.999, 0.999]
    )
    assert not flat.use.flags.writeable
    assert not flat.slip.flags.writeable
    constant = Slip(constant=0.25)
    assert constant.at(0.3).shape == ()
    np.testing.assert_array_equal(constant.at([[0.0, 3.0]]), [[0.25, 0.25]])
    assert (Slip().constant, Slip().use, Slip().slip) == (0.0, None, None)


def test_weight_is_shared_and_moved_by_load_state():
    for axle in ("front", "rear"):
        balance = Balance(
            driven_axle=axle,
            driven_share_empty=0.4,
            driven_share_laden=0.65,
            wheelbase=3.2,
            gravity_height_empty=0.8,
            gravity_height_laden=1.6,
        )
        assert (balance.driven_share("empty"), balance.driven_share("laden")) == (0.4, 0.65)
        assert (balance.transfer("empty"), balance.transfer("laden")) == (0.25, 0.5)
    half = Balance(wheelbase=3.2, gravity_height_empty=0.8)
    assert (half.transfer("empty"), half.transfer("laden")) == (0.25, None)
    no_base = Balance(gravity_height_empty=0.8, gravity_height_laden=0.9)
    assert (no_base.transfer("empty"), no_base.transfer("laden")) == (None, None)
    assert Balance().driven_axle == "all"
    assert (Balance().driven_share("empty"), Balance().driven_share("laden")) == (1.0, 1.0)


def test_air_drag_is_area_times_coefficient():
    assert machine().drag_area == pytest.approx(7.0 * 0.9)
    assert machine(frontal_area=None, drag_coefficient=None).drag_area == 0.0


def test_machine_shows_what_it_stands_on_and_weighs():
    assert repr(machine()) == (
        "Machine('test-machine', 15000 kg + 5000 kg, wheels, radius 0.750 m)"
    )
    dozer = machine(payload=0.0, running_gear=Tracks(sprocket_radius=0.48))
    assert repr(dozer) == "Machine('test-machine', 15000 kg, tracks, radius 0.480 m)"
    assert dozer.on_tracks
    assert not machine().on_tracks
    assert dozer.mass("laden") == dozer.mass("empty") == 15_000.0


def with_height(height, **changes):
    balance = Balance(
        driven_axle="rear",
        driven_share_empty=0.5,
        driven_share_laden=0.6,
        wheelbase=2.0,
        gravity_height_empty=1.0 if height is None else 2.0 * height,
        gravity_height_laden=None if height is None else 2.0 * height,
    )
    return machine(balance=balance, **changes)


@pytest.mark.parametrize(
    ("height", "odd"), [(0.099, 1), (0.1, 0), (0.5, 0), (1.0, 0), (1.001, 1), (None, 0)]
)
def test_odd_height_of_the_centre_of_gravity_is_noted(height, odd):
    found = [note for note in with_height(height).notes if note.code == "gravity-height-odd"]
    assert len(found) == odd
    for note in found:
        assert note.kind == "warning"
        assert f"is {height:.2f} wheelbases" in note.message


def test_height_is_judged_laden_if_there_is_a_load():
    tall = Balance(wheelbase=2.0, gravity_height_empty=1.0, gravity_height_laden=4.0)
    assert "gravity-height-odd" in codes(machine(balance=tall))
    assert "gravity-height-odd" not in codes(machine(balance=tall, payload=0.0))


def test_weight_transfer_that_is_not_known_is_noted_where_it_matters():
    some = {"driven_axle": "front", "driven_share_empty": 0.5, "driven_share_laden": 0.5}
    assert "weight-transfer-not-given" in codes(machine(balance=Balance(**some)))
    assert "weight-transfer-not-given" not in codes(with_height(0.4))
    assert "weight-transfer-not-given" not in codes(machine(balance=Balance(wheelbase=2.0)))


@pytest.mark.parametrize(("payload", "odd"), [(45_000.0, False), (45_000.1, True)])
def test_payload_above_three_empty_masses_is_noted(payload, odd):
    assert ("payload-odd" in codes(machine(payload=payload))) is odd


def test_notes_given_come_first_and_those_of_the_tyre_are_kept():
    told = assumption("told", "Told.")
    tyre = Tyre.from_size("23.5R25")
    made = machine(given_notes=(told,), running_gear=tyre)
    assert [note.code for note in made.notes] == ["told", "tyre-radius-estimated", "oil-typical"]
    some_slip = machine(slip=Slip(constant=0.02))
    assert "slip-not-given" not in codes(some_slip)
