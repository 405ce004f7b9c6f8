"""A catalogue search against brute force: every combination by a full study of it alone."""

import numpy as np
import pytest

from converter_match.components.converter import ConverterLimits
from converter_match.errors import InputError
from converter_match.judgement.catalogue.bounds import BOUNDS, excluded_by_bounds
from converter_match.judgement.catalogue.field import Field
from converter_match.judgement.catalogue.result import Listed, compared
from converter_match.judgement.catalogue.shortlist import shortlist
from converter_match.judgement.uncertainty.uncertainty import uncertainty
from converter_match.judgement.verdict.assessment import assess
from converter_match.judgement.verdict.measure import Verdict
from converter_match.judgement.verdict.outcome import outcome
from converter_match.library.catalogue_file import read_catalogue
from converter_match.library.kept import KeptResults as Store
from converter_match.library.shipped import read_all, shipped
from converter_match.library.study_file import read_study
from converter_match.study.catalogue import Member, PartsCatalogue
from converter_match.study.criteria import CATALOGUE
from converter_match.study.study import PRESENT, Limits
from converter_match.tasks.workers import processes
from tests.examples import RPM
from tests.study_examples import flat_engine, loose, study

ON_MATCH = list(BOUNDS)


@pytest.fixture(scope="module")
def quarry():
    """The shipped study on the plateau, without its route, which takes long."""
    asked = read_study("quarry-loader-repower")
    return asked.replace(
        claims=(), sites=asked.sites[:1], duty=asked.duty.replace(routes=(), grades=(0.0, 0.08))
    )


def with_musts(asked, names, limits=None):
    """Return a study that requires these criteria, and prefers no others."""
    choices = tuple(
        item.choice("must") if item.name in names else item.choice("off")
        for item in CATALOGUE.values()
    )
    return asked.replace(criteria=choices, limits=limits or asked.limits)


def parts_of(asked, **parts):
    given = {
        "engines": (asked.present.engine,),
        "converters": (asked.present.converter,),
        "drivelines": (asked.present.driveline,),
    }
    return PartsCatalogue(id="made", name="Made for a test", source="tests", study=asked,
                     **(given | parts))  # fmt: skip


def brute_force(catalogue, outcomes):
    """Return the required criteria that each combination fails, by a study of it alone."""
    fallen = {}
    for member in catalogue.members():
        asked = catalogue.study_of(member)
        present = outcomes(catalogue, asked.present, asked)
        own = outcomes(catalogue, asked.candidates[0], asked)
        found = assess(asked, own, present)
        fallen[member] = {item.choice.name for item in found.failed_musts}
        assert bool(fallen[member]) is (found.verdict is Verdict.FAIL)
    return fallen


class Outcomes:
    """Outcomes that are worked out once, for studies that differ in criteria and limits alone."""

    def __init__(self):
        self.known = {}

    def __call__(self, catalogue, item, asked):
        key = (item.id, asked.duty.fingerprint(), tuple(c.ids for c in asked.conditions))
        if key not in self.known:
            self.known[key] = tuple(outcome(item, c, asked.duty) for c in asked.conditions)
        return self.known[key]


@pytest.fixture(scope="module")
def outcomes():
    return Outcomes()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_a_bound_excludes_only_what_a_study_finds_to_fail_the_same_criterion(
    quarry, outcomes, seed
):
    random = np.random.default_rng(seed)
    # Limits in the midst of what the shipped pairs reach, so that some fail and some do not.
    limits = Limits(
        input_torque=random.uniform(300, 1100),
        input_power=random.uniform(50e3, 160e3),
        input_speed=random.uniform(2200, 2600) * RPM,
        turbine_torque=random.uniform(700, 2200),
        engine_speed=random.uniform(2200, 2600) * RPM,
        stall_speed_least=random.uniform(1200, 1700) * RPM,
    )
    bare = quarry.replace(duty=quarry.duty.replace(surface=None))
    asked = with_musts(bare, ON_MATCH, limits)
    ground = parts_of(
        asked,
        engines=tuple(read_all("engines")),
        converters=tuple(read_all("converters"))[2::4],
        diameters=(0.345,),
    )
    field = Field.of(ground)
    found = np.stack([excluded_by_bounds(field, k) for k in range(len(ground.engines))], axis=1)
    told = 0
    for member, fallen in brute_force(ground, outcomes).items():
        bits = {name for k, name in enumerate(BOUNDS) if found[member] >> k & 1}
        assert bits <= fallen, ground.combination(member).id
        told += bool(bits)
    assert told > 0.5 * sum(map(bool, brute_force(ground, outcomes).values()))


@pytest.mark.slow
@pytest.mark.parametrize(
    "names",
    [
        ["single-stable-match", "turbine-stall-torque", "tractive-effort-kept", "continuous-heat"],
        ["stall-speed-window", "converter-input-power", "top-speed-kept", "idle-creep"],
    ],
)
def test_nothing_is_excluded_that_a_full_study_keeps_and_nothing_else_is_kept(
    quarry, outcomes, names
):
    engines = {item.id: item for item in read_all("engines")}
    converters = {item.id: item for item in read_all("converters")}
    lines = {item.id: item for item in read_all("drivelines")}
    ground = parts_of(
        with_musts(quarry, names),
        engines=tuple(engines[f"six-cylinder-{one}"] for one in ("7l-185kw", "9l-240kw")),
        converters=tuple(converters[f"single-stage-{one}"] for one in ("345mm-tight", "420mm")),
        drivelines=(lines["four-speed-loader"], lines["three-speed-dozer"]),
    )
    found = shortlist(ground, draws=0)
    fallen = brute_force(ground, outcomes)
    assert {item.member for item in found.kept} == {m for m, names in fallen.items() if not names}
    for member, (_, told) in found.fallen.items():
        assert set(told) <= fallen[member]
    assert 0 < len(found.kept) < ground.count
    assert sum(item.count for item in found.excluded) == ground.count - len(found.kept)


@pytest.fixture(scope="module")
def small():
    """Four combinations of round numbers, with tolerances: one does not hold its converter."""
    from converter_match.study.study import Tolerance

    asked = study().replace(
        tolerances=(Tolerance(quantity="engine-torque", half_width=0.05),),
        criteria=tuple(
            item.choice("must" if item.name in (ON_MATCH[0], ON_MATCH[5]) else None)
            for item in CATALOGUE.values()
        ),
        limits=Limits(turbine_torque=1900.0),
    )
    return parts_of(
        asked,
        engines=(flat_engine(id="strong"), flat_engine(200.0, id="weak")),
        converters=(loose(60.0, id="tight"), loose(90.0, id="loose")),
    )


@pytest.mark.slow
def test_the_probability_is_that_of_a_study_of_the_combination_alone(small):
    found = shortlist(small, draws=64)
    assert found.kept
    for item in found.kept:
        alone = uncertainty(small.study_of(item.member), draws=64, sensitivities=False)
        assert item.probability == alone.combinations[-1].all_musts


@pytest.mark.slow
def test_workers_and_what_is_kept_change_nothing_to_the_last_bit(small, tmp_path):
    store = Store(tmp_path / "kept")
    alone = shortlist(small, draws=64).to_dict()
    with processes(2, patience=0.0) as two:
        assert shortlist(small, draws=64, workers=two, store=store).to_dict() == alone
    held = store.held()
    told = []
    again = shortlist(small, draws=64, store=store, progress=lambda *said: told.append(said))
    assert again.to_dict() == alone
    assert store.held() == held
    # Nothing but bounds, which are not kept, is begun.
    assert {what for done, total, what in told if done < total} == {"bounds at stall"}


@pytest.mark.slow
def test_a_part_that_joins_leaves_what_was_worked_out(small, tmp_path):
    store = Store(tmp_path / "kept")
    before = shortlist(small, draws=0, store=store)
    entries = store.held().entries
    # First in the list, so that every other has another place.
    more = small.replace(engines=(flat_engine(800.0, id="new"), *small.engines))
    after = shortlist(more, draws=0, store=store)
    new = [item for item in after.kept if item.engine == "new"]
    assert new
    figures = {(k.engine, k.converter): k.route_time or k.stall_speed for k in before.kept}
    assert {(k.engine, k.converter): k.route_time or k.stall_speed
            for k in after.kept if k.engine != "new"} == figures  # fmt: skip
    stages = 2 + bool(Field.of(small).on_wheels[0].criteria)
    assert store.held().entries - entries <= stages * len(small.sizes)


def test_each_site_can_be_a_question_of_its_own(quarry):
    asked = read_study("quarry-loader-repower")
    both = parts_of(asked.replace(claims=()))
    apart = both.replace(each_site=True)
    assert (both.count, apart.count) == (1, 2)
    assert [[site.id for site in item.sites] for item in apart.studies] == [
        [site.id] for site in asked.sites
    ]


def test_sizes_are_those_that_similarity_carries_to(quarry):
    own = quarry.present.converter.profile_diameter
    ground = parts_of(quarry, diameters=(own, 1.05 * own, 1.099 * own, 1.2 * own))
    assert [size.ratio for size in ground.sizes] == pytest.approx([1.0, 1.05, 1.099])
    assert ground.too_far == 1
    assert ground.sized(ground.sizes[1]).capacity == pytest.approx(
        quarry.present.converter.capacity * 1.05**5
    )


def test_limits_of_the_maker_do_not_go_with_another_size(quarry):
    limited = quarry.present.converter.replace(limits=ConverterLimits(input_torque=1.0))
    own = limited.profile_diameter
    ground = parts_of(
        with_musts(quarry, ["converter-input-torque"]), converters=(limited,),
        diameters=(1.05 * own,),
    )  # fmt: skip
    assert excluded_by_bounds(Field(ground, (None,)), 0).ravel().tolist() == [4, 0]


def test_what_does_not_go_together_is_out_and_says_why():
    late = loose(60.0, id="late")
    no_stall = late.replace(
        speed_ratio=late.speed_ratio[2:], torque_ratio=late.torque_ratio[2:],
        capacity=late.capacity[2:], id="no-stall",
    )  # fmt: skip
    found = shortlist(parts_of(study(), converters=(no_stall,)), draws=0)
    assert found.fails
    (reason,) = [pair for item in found.excluded for pair in item.reasons]
    assert reason == ("refused", 1)
    assert "stall" in found.fallen[Member(0, 0, 0, 0)][1][1]


def kept(**figures):
    return Listed(member=Member(0, 0, 0, 0), engine="e", converter="c", driveline="d", site="",
                diameter=None, verdict="pass", **figures)  # fmt: skip


def test_the_front_is_what_two_loops_find_that_compare_each_with_each():
    random = np.random.default_rng(3)
    rows = [
        kept(route_time=float(t), fuel=float(f), heat_margin=float(h), probability=float(p))
        for t, f, h, p in random.integers(0, 9, size=(1500, 4))
    ]

    def beats(one, other):
        pairs = [
            (other.route_time, one.route_time), (other.fuel, one.fuel),
            (one.heat_margin, other.heat_margin), (one.probability, other.probability),
        ]  # fmt: skip
        return all(a >= b for a, b in pairs) and any(a > b for a, b in pairs)

    distinct = {(r.route_time, r.fuel, r.heat_margin, r.probability): r for r in rows}.values()
    best = {
        (r.route_time, r.fuel, r.heat_margin, r.probability)
        for r in distinct
        if not any(beats(other, r) for other in distinct)
    }
    marked, aims = compared(rows)
    assert [aim.key for aim in aims] == ["route_time", "fuel", "heat_margin", "probability"]
    assert {(r.route_time, r.fuel, r.heat_margin, r.probability) for r in marked if r.best} == best
    assert [r.best for r in marked] == sorted((r.best for r in marked), reverse=True)


def test_what_cannot_be_compared_is_neither_beaten_nor_not():
    rows = [kept(route_time=1.0, fuel=None), kept(route_time=2.0, fuel=1.0)]
    marked, _ = compared(rows)
    assert {item.route_time: item.best for item in marked} == {1.0: None, 2.0: True}


def test_where_no_fuel_is_known_the_work_of_the_engine_is_compared():
    marked, aims = compared([kept(route_time=1.0, energy=2.0), kept(route_time=1.0, energy=1.0)])
    assert [aim.key for aim in aims] == ["route_time", "energy"]
    assert [item.energy for item in marked if item.best] == [1.0]


@pytest.mark.parametrize(("key", "value"), [("draws", 1), ("draws", -1)])
def test_a_number_of_draws_that_says_nothing_is_refused(small, key, value):
    with pytest.raises(InputError, match="2 and more"):
        shortlist(small, **{key: value})


def test_every_combination_stands_in_the_whole_table_with_what_excludes_it(small):
    found = shortlist(small, draws=0)
    rows = list(found.every().records())
    assert len(rows) == small.count == 4
    stages = {row["stage"] for row in rows}
    assert stages <= {"kept", "bounds", "match", "wheels", "study"}
    assert len([row for row in rows if row["stage"] == "kept"]) == len(found.kept)
    assert all(row["not_met"] for row in rows if row["stage"] != "kept")


def test_what_rests_on_doubtful_data_is_marked_and_nothing_else(tmp_path):
    text = shipped("engines")["six-cylinder-7l-185kw"].read_text(encoding="utf-8")
    (tmp_path / "thirsty.toml").write_text(
        text.replace('id = "six-cylinder-7l-185kw"', 'id = "thirsty"').replace(
            '"kg*m**2", value = 1.45', '"kg*m**2", value = 1450'
        ),
        encoding="utf-8",
    )
    # An odd candidate of the study itself is none of the catalogue's business.
    asked = shipped("studies")["quarry-loader-repower"].read_text(encoding="utf-8")
    assert 'engine = "six-cylinder-8l-205kw-late-boost"' in asked
    (tmp_path / "study.toml").write_text(
        asked.replace('engine = "six-cylinder-8l-205kw-late-boost"', 'engine = "thirsty.toml"'),
        encoding="utf-8",
    )
    path = tmp_path / "parts.toml"
    path.write_text(
        'schema = "converter-match/catalogue/1"\nid = "parts"\nname = "Parts"\n'
        'source = "invented demo data"\nstudy = "study.toml"\n'
        'engines = ["six-cylinder-7l-185kw", "thirsty.toml"]\n'
        'converters = ["single-stage-345mm-tight"]\n',
        encoding="utf-8",
    )
    catalogue = read_catalogue(path)
    catalogue = catalogue.replace(
        study=catalogue.study.replace(
            duty=catalogue.study.duty.replace(routes=(), grades=(0.0, 0.08))
        )
    )
    found = shortlist(catalogue, draws=0)
    doubts = {item.engine: item.doubts for item in found.kept}
    assert doubts == {"six-cylinder-7l-185kw": (), "thirsty": ("engine 'thirsty'",)}
    [said] = [note for note in found.notes if note.code == "in-doubt"]
    assert dict(said.values) == {"count": 1.0, "whose": "engine 'thirsty'"}
    data = found.to_dict()
    assert {row["part"] for row in data["odd"]} == {"engine 'thirsty'"}
    assert [row["in_doubt"] for row in data["kept"]] == [
        list(doubts[row["engine"]]) for row in data["kept"]
    ]
    alone = read_catalogue(path).replace(odd=(), doubts=())
    clean = shortlist(alone.replace(study=catalogue.study), draws=0)
    assert all(not item.doubts for item in clean.kept)
    assert "in-doubt" not in {note.code for note in clean.notes}


def test_what_is_judged_by_doubtful_numbers_is_in_doubt_as_a_whole(tmp_path):
    asked = shipped("studies")["quarry-loader-repower"].read_text(encoding="utf-8")
    study_path = tmp_path / "study.toml"
    changed = asked.replace("continuous_grade = { unit = \"percent\", value = 4 }",
                            "continuous_grade = { unit = \"percent\", value = 0.08 }")  # fmt: skip
    assert changed != asked
    study_path.write_text(changed, encoding="utf-8")
    text = shipped("catalogues")["quarry-loader-parts"].read_text(encoding="utf-8")
    path = tmp_path / "parts.toml"
    path.write_text(
        text.replace('study = "quarry-loader-repower"', 'study = "study.toml"'), "utf-8"
    )
    catalogue = read_catalogue(path)
    everything = {PRESENT, *(f"engine {item.id!r}" for item in catalogue.engines),
                  *(f"converter {item.id!r}" for item in catalogue.converters),
                  *(f"driveline {item.id!r}" for item in catalogue.drivelines)}  # fmt: skip
    assert {part for part, whose, _ in catalogue.doubts if whose.startswith("study")} == everything


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("values = [315]", "values = [3.15]", None),  # no converter is so small
        ("values = [315]", "values = [1100]", "number-unusual"),
    ],
)
def test_numbers_of_a_catalogue_are_held_against_what_is_usual(tmp_path, old, new, code):
    text = shipped("catalogues")["quarry-loader-parts"].read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "parts.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    if code is None:
        with pytest.raises(InputError, match=r"diameters.*no such value.*3.15 mm") as refused:
            read_catalogue(path)
        assert "100 times as much would be usual" in str(refused.value)
        return
    assert [(whose, note.code) for whose, note in read_catalogue(path).odd] == [
        ("partscatalogue 'quarry-loader-parts'", code)
    ]
