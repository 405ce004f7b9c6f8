"""Results written as bytes and read back: the same to the last bit, and no code among them."""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.site import Air, Site
from converter_match.judgement.identify.fleet import LeftOut
from converter_match.judgement.verdict.measure import Verdict
from converter_match.notes import Note
from converter_match.physics.match.match_set import MatchSet
from converter_match.tasks.plain import NotPlain, Unreadable, digest, from_bytes, to_bytes
from tests.study_examples import combination

_LEAVES = (
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8)
)


def again(value):
    return from_bytes(to_bytes(value))


@given(
    st.recursive(
        _LEAVES,
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.lists(inner, max_size=4).map(tuple)
            | st.dictionaries(st.text(max_size=4) | st.tuples(st.integers()), inner, max_size=4)
        ),
        max_leaves=20,
    )
)
def test_plain_data_come_back_as_they_were(value):
    back = again(value)
    assert back == value
    assert repr(back) == repr(value)  # a tuple stays one, and so does -0.0


@pytest.mark.parametrize(
    "array",
    [
        np.array([1.0, np.nan, np.inf, -0.0, 5e-324]),
        np.array([[1, 2, 3], [4, 5, 6]], dtype=np.int32),
        np.asfortranarray(np.arange(12.0).reshape(3, 4)),
        np.arange(12.0).reshape(3, 4)[:, ::2],
        np.array([True, False]),
        np.array(["converter", "lock-up"]),
        np.array(2.5),
        np.empty((0, 3)),
    ],
    ids=lambda array: f"{array.dtype}{array.shape}",
)
def test_an_array_comes_back_bit_by_bit_in_the_same_order(array):
    back = again(array)
    assert (back.dtype, back.shape) == (array.dtype, array.shape)
    assert back.tobytes() == array.tobytes()
    if array.flags.c_contiguous or array.flags.f_contiguous:
        assert back.flags.c_contiguous == array.flags.c_contiguous


def test_an_array_that_may_not_be_written_to_stays_so():
    fixed = np.arange(3.0)
    fixed.setflags(write=False)
    free = again([fixed, np.arange(3.0)])
    assert [item.flags.writeable for item in free] == [False, True]


def test_an_empty_array_does_not_stand_for_the_one_behind_it():
    first, second = again([np.empty(0), np.arange(3.0)])
    assert (first.size, second.size) == (0, 3)


def test_numbers_of_numpy_stay_what_they_are():
    back = again([np.float64(1.5), np.bool_(True), np.int64(3), 1.5, True])
    assert [type(item) for item in back] == [np.float64, np.bool_, np.int64, float, bool]


def test_parts_records_and_choices_come_back():
    site = Site(id="a", name="A", source="made", altitude=500.0)
    value = {
        "site": site, "verdict": Verdict.MARGINAL, "note": Note("a", "b", values=(("c", 1.5),)),
        "left": LeftOut("a", "b", "c"),
    }  # fmt: skip
    back = again(value)
    assert back == value
    assert [type(item) for item in back.values()] == [type(item) for item in value.values()]
    item = combination("tight")
    assert again(item) == item
    with pytest.raises(ValueError, match="read-only"):
        again(item).converter.capacity[0] = 1.0


def test_what_stands_in_two_places_is_one_object_again_and_counts_once():
    air = Air(pressure=9e4, temperature=290.0)
    first, second = again([air, (air,)])
    assert second[0] is first
    many = np.arange(1000.0)
    assert len(to_bytes([many, many])) < 1.1 * len(to_bytes([many]))


def test_of_a_part_only_the_fields_are_kept():
    site = Site(id="a", name="A", source="made", altitude=500.0)
    before = to_bytes(site)
    assert site.fingerprint()  # worked out once, and known to the site from then on
    assert to_bytes(site) == before


@pytest.mark.parametrize(
    "changed",
    [
        {"altitude": 501.0},
        {"name": "B"},
        {"air_temperature": 290.0},
    ],
)
def test_a_digest_tells_everything_that_a_value_holds(changed):
    site = Site(id="a", name="A", source="made", altitude=500.0)
    assert digest(site, 1) == digest(site.replace(), 1)
    assert digest(site.replace(**changed), 1) != digest(site, 1)
    assert digest(site, 2) != digest(site, 1)
    assert digest([1.0]) != digest([1]) != digest((1,))


def test_a_digest_does_not_hang_on_what_is_the_same_object():
    one, other = (Air(pressure=9e4, temperature=290.0) for _ in range(2))
    assert digest(one, one) == digest(one, other)


@dataclass
class Elsewhere:
    value: float = 1.0


@pytest.mark.parametrize(
    "value",
    [len, object(), {1, 2}, np.array([object()]), 1j, Elsewhere(), b"bytes"],
    ids=lambda value: type(value).__name__,
)
def test_what_cannot_be_written_is_said(value):
    with pytest.raises(NotPlain, match="cannot be kept"):
        to_bytes([value])


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"[]\n",
        b"not json",
        b'[[["os:system",["true"]]],{"record":0}]\n',
        b'[[["subprocess:Popen",["true"]]],{"record":0}]\n',
        b'[[["converter_match.cli:main",[[]]]],{"record":0}]\n',
        b'[[["converter_match.cli:os.system",["true"]]],{"record":0}]\n',
        b'[[["converter_match.errors:InputError",["said"]]],{"record":0}]\n',
        b'[[["converter_match.__main__:main",[]]],{"record":0}]\n',
        b'[[["converter_match.no_such_module:A",[]]],{"record":0}]\n',
        b'[[["converter_match.notes:Note",["too few"]]],{"record":0}]\n',
        b'[[],{"array":["O",[1],"C",true,0]}]\n12345678',
        b'[[],{"array":["<f8",[4],"C",true,0]}]\n12345678',
        b'[[],{"record":3}]\n',
        b'[[],{"one of":["converter_match.judgement.verdict.measure:Verdict","NONE"]}]\n',
        b'[[],{"call":["print"]}]\n',
        to_bytes([np.arange(50.0)])[:-20],
    ],
)
def test_bytes_that_were_not_written_here_are_refused_and_nothing_is_called(raw):
    with pytest.raises(Unreadable, match="not a result that was kept"):
        from_bytes(raw)


def test_classes_are_made_without_what_they_do_when_they_are_made(monkeypatch):
    site = Site(id="a", name="A", source="made", altitude=500.0)
    raw = to_bytes(site)
    monkeypatch.setattr(Site, "__post_init__", lambda self: 1 / 0)
    monkeypatch.setattr(MatchSet, "__init__", lambda self: 1 / 0)
    assert from_bytes(raw).altitude == 500.0
