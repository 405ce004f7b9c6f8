"""Relations between answers hold for random machines of all kinds; `relations.py` lists them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.depth import depth
from tests.properties.random_machines import parts_of
from tests.properties.relations import GROUPS, MATCH, ROUTE, STUDY, TRIED, WHEELS

SEEDS = st.integers(0, 2**32 - 1)


@pytest.mark.slow
@pytest.mark.parametrize("name", MATCH)
@depth(*TRIED["the pair"])
@given(seed=SEEDS)
def test_relation_of_the_pair(name, seed):
    MATCH[name](parts_of(seed))


@pytest.mark.slow
@pytest.mark.parametrize("name", WHEELS)
@depth(*TRIED["at the wheels and in a hold"])
@given(seed=SEEDS)
def test_relation_at_the_wheels(name, seed):
    WHEELS[name](parts_of(seed))


@pytest.mark.slow
@pytest.mark.parametrize("name", ROUTE)
@depth(*TRIED["on a route"])
@given(seed=SEEDS)
def test_relation_on_a_route(name, seed):
    ROUTE[name](parts_of(seed))


@pytest.mark.slow
@pytest.mark.parametrize("name", STUDY)
@depth(*TRIED["in a study"])
@given(seed=SEEDS)
def test_relation_in_a_study(name, seed):
    STUDY[name](parts_of(seed))


def test_there_are_at_least_sixty_relations_and_each_says_what_it_is():
    relations = [relation for group in GROUPS.values() for relation in group.values()]
    assert len(relations) >= 60
    assert set(TRIED) == set(GROUPS)
    sentences = [str(relation.__doc__) for relation in relations]
    assert len(set(sentences)) == len(relations)
    assert all(sentence.endswith(".") for sentence in sentences)


@pytest.mark.slow
def test_machines_are_of_all_kinds():
    made = [parts_of(seed) for seed in range(60)]
    assert {p.converter.stator for p in made} == {"one-way", "fixed", "none"}
    assert {p.engine.governing for p in made} == {"speed", "torque"}
    assert {type(p.machine.running_gear).__name__ for p in made} == {"Tyre", "Tracks"}
    assert {len(p.engine.accessories) for p in made} == {0, 1, 2}
    assert {len(p.driveline.forward) for p in made} == {2, 3, 4, 5}
