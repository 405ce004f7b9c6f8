"""A fleet by its logs: middle, scatter and months of machines whose levels were made up."""

import json

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.identify.basis import LogBasis
from converter_match.judgement.identify.fleet import LeftOut, LogFleet, OfLog, OfMachine, fleet_of
from converter_match.judgement.identify.months import Month, Trend, trend_of
from converter_match.judgement.identify.parts import Part, of_parts
from converter_match.judgement.identify.result import Estimate, Identification, Node
from converter_match.notes import Note
from converter_match.physics.identify.reservoir import Reservoir
from converter_match.physics.identify.trend import Slope
from tests.examples import RPM


def machine(name, level, **changes):
    told = OfLog(level=level, least=None, greatest=None, samples=90, nodes=7, doubts=())
    return OfMachine(name, told._replace(**changes.pop("told", {})), **changes)


def fleet(*levels):
    return LogFleet(tuple(machine(f"m{k}", level) for k, level in enumerate(levels, 1)))


def said(answer, code):
    return [dict(note.values) for note in answer.notes if note.code == code]


# --- which one stands apart ----------------------------------------------------------------------


def test_middle_is_the_median_of_five_machines_and_of_fewer_there_is_none():
    assert fleet(0.9, 1.0, 1.1, 1.02, 3.0).middle == 1.02
    few = fleet(0.9, 1.0, 1.1, 1.02)
    assert (few.middle, few.allowed, few.apart("m1"), few.standing_apart) == (None, None, None, ())


def test_machine_stands_apart_beyond_three_robust_deviations():
    # Median 1, median of the shares off it 0.02: 3 x 1.4826 x 0.02 = 0.0890.
    given = fleet(1.0, 0.98, 1.02, 0.97, 1.02, 0.912, 1.0885)
    assert given.middle == 1.0
    assert given.allowed == pytest.approx(3 * 1.4826 * 0.02)
    assert not any(map(given.apart, ("m1", "m2", "m3", "m4", "m5", "m6", "m7")))
    wide = fleet(1.0, 0.98, 1.02, 0.98, 1.02, 0.910, 1.0895)
    assert [name for name in wide.levels if wide.apart(name)] == ["m6", "m7"]
    assert wide.standing_apart == ("m6", "m7")  # the farthest first
    assert fleet(1.0, 0.98, 1.02, 0.98, 1.02, 0.905, 1.098).standing_apart == ("m7", "m6")


@pytest.mark.parametrize(("level", "odd"), [(1.039, False), (1.041, True), (0.961, False)])
def test_nothing_stands_apart_for_less_than_four_percent(level, odd):
    # Common practice, no source: of a fleet that hardly scatters.
    given = fleet(1.0, 1.0, 1.0, 1.0, 1.0, level)
    assert given.allowed == 0.04
    assert given.apart("m6") is odd
    assert given.apart("nobody") is None


@pytest.mark.parametrize(
    ("level", "code"), [(1.1, "takes-more-than-the-fleet"), (0.9, "takes-less-than-the-fleet")]
)
def test_machine_that_takes_more_or_less_than_the_fleet_is_named(level, code):
    answer = fleet_of([machine(f"m{k}", 1.0) for k in range(5)] + [machine("odd", level)])
    for each in ("takes-more-than-the-fleet", "takes-less-than-the-fleet"):
        found = said(answer, each)
        assert [values["machine"] for values in found] == (["odd"] if each == code else [])
        for values in found:
            assert values["off"] == pytest.approx(0.1)
    rows = answer.to_dict()["outliers"]
    assert [row["machine"] for row in rows] == ["odd"]
    assert rows[0]["why"] == f"takes {'more' if level > 1 else 'less'} than the fleet"
    assert rows[0]["off_percent"] == pytest.approx(100 * (level - 1.0))
    assert rows[0]["scatters"] == pytest.approx(3.0 * 0.1 / 0.04)


def test_table_of_the_fleet_says_of_each_machine_where_it_stands():
    machines = [machine(f"m{k}", 1.0) for k in range(5)]
    machines.append(machine("far", 1.2, told={"doubts": ("few-samples", "far-from-sheet")}))
    machines.append(machine("bare", None))
    machines.append(OfMachine("lost", None, "no column of time"))
    answer = fleet_of(machines)
    data = answer.to_dict()["fleet"]
    assert (data["machines"], data["read"], data["middle"]) == (8, 6, 1.0)
    assert data["allowed_percent"] == pytest.approx(4.0)
    rows = {row["machine"]: row for row in data["rows"]}
    assert rows["far"]["against_fleet_percent"] == pytest.approx(20.0)
    assert (rows["far"]["samples"], rows["far"]["nodes"]) == (90, 7)
    text = answer.text()
    assert rows["far"]["said"] == "far-from-sheet"  # the others of its warnings tell nothing here
    assert rows["lost"]["said"] == "no column of time"
    assert "not used, see below" in text
    told = {name: row["apart"] for name, row in rows.items()}
    assert (told["far"], told["m0"]) == ("apart", "with the others")
    assert told["bare"] == told["lost"] is None
    assert said(answer, "log-not-used") == [{"machine": "lost", "what": "no column of time"}]
    assert not answer.complete


def test_fleet_of_fewer_than_five_is_said_to_be_too_small():
    assert said(fleet_of([machine("a", 1.0)]), "fleet-too-small") == [{"count": 1, "fewest": 5}]
    assert said(fleet_of([machine(f"{k}", 1.0) for k in range(5)]), "fleet-too-small") == []


@pytest.mark.parametrize(
    ("machines", "field"),
    [
        ([], "fleet"),
        ([OfMachine("a", None, "damaged")], "fleet"),
        ([machine("a", None)], "converter"),
    ],
)
def test_fleet_of_which_nothing_can_be_told_is_refused(machines, field):
    with pytest.raises(InputError) as refused:
        fleet_of(machines)
    assert refused.value.field == field


@pytest.mark.parametrize(("lost", "code"), [(1, "part-not-used"), (2, "parts-not-used")])
def test_parts_that_could_not_be_read_are_counted_and_the_first_is_named(lost, code):
    left = tuple(LeftOut("a", f"2031-05-0{k}", "damaged") for k in range(1, lost + 1))
    answer = fleet_of([machine("a", 1.0, parts=9, left_out=left)])
    assert said(answer, code) == [
        {"machine": "a", "count": lost, "of": 9, "part": "2031-05-01", "what": "damaged"}
    ]
    rows = answer.to_dict()["left_out"]
    assert [row["part"] for row in rows] == [part.part for part in left]
    assert not answer.complete
    assert fleet_of([machine("a", 1.0)]).complete


# --- over the months -----------------------------------------------------------------------------


def months(*levels, start=1):
    return tuple(
        Month(f"2031-{k:02d}", level, 0.02, 40, 9) for k, level in enumerate(levels, start)
    )


def test_year_of_a_month_is_its_middle():
    assert Month("2031-01", 1.0, 0.0, 1, 1).year == pytest.approx(2031.0 + 0.5 / 12)
    assert Month("2030-12", 1.0, 0.0, 1, 1).year == pytest.approx(2031.0 - 0.5 / 12)


@pytest.mark.parametrize(
    ("slope", "moves"),
    [
        ((0.041, 0.001, 0.08), True),
        ((0.039, 0.001, 0.08), False),  # less than two percent in half a year
        ((0.041, -0.001, 0.08), False),  # which may be chance
        ((-0.041, -0.08, -0.001), True),
        ((-0.041, -0.08, 0.001), False),
        ((-0.039, -0.08, -0.001), False),
    ],
)
def test_machine_moves_where_that_is_sure_and_comes_to_two_percent(slope, moves):
    trend = Trend(months(*[1.0] * 7), Slope(*slope))  # half a year from first to last
    assert trend.change == pytest.approx(0.5 * slope[0])
    assert trend.k_slope == pytest.approx(-0.5 * slope[0])  # K ~ C^(-1/2)
    assert trend.moves is moves


def test_trend_without_a_slope_tells_nothing():
    trend = Trend(months(1.0, 1.1), None)
    assert (trend.change, trend.k_slope, trend.moves) == (None, None, None)
    answer = fleet_of([machine("a", 1.0, trend=trend)])
    assert said(answer, "months-too-few") == [{"fewest": 5}]
    assert answer.moving == ()
    [row] = answer.to_dict()["trends"]
    assert (row["months"], row["first"], row["last"]) == (2, "2031-01", "2031-02")
    assert row["moves"] is row["change_percent"] is None


def test_machines_that_move_are_listed_by_how_much_behind_those_that_stand_apart():
    def with_slope(name, value, level=1.0):
        low, high = sorted((0.9 * value, 1.1 * value))
        return machine(name, level, trend=Trend(months(*[1.0] * 7), Slope(value, low, high)))

    machines = [machine(f"m{k}", 1.0) for k in range(5)]
    machines += [with_slope("up", 0.06), with_slope("down", -0.1), with_slope("far", 0.01, 1.3)]
    answer = fleet_of(machines)
    assert answer.moving == ("down", "up")
    rows = [
        (row["rank"], row["machine"], row["why"], row["off_percent"])
        for row in answer.to_dict()["outliers"]
    ]
    assert [row[:3] for row in rows] == [
        (1, "far", "takes more than the fleet"),
        (2, "down", "takes less from month to month"),
        (3, "up", "takes more from month to month"),
    ]
    assert [row[3] for row in rows] == pytest.approx([30.0, -5.0, 3.0])
    assert said(answer, "trend-against-itself") == [{}]
    assert said(answer, "months-too-few") == []
    trends = {row["machine"]: row for row in answer.to_dict()["trends"]}
    assert trends["up"]["capacity_a_year_percent"] == pytest.approx(6.0)
    assert trends["up"]["k_a_year_percent"] == pytest.approx(-3.0)
    assert trends["up"]["change_percent"] == pytest.approx(3.0)
    assert trends["down"]["low_percent"] == pytest.approx(-11.0)
    assert (trends["up"]["moves"], trends["far"]["moves"]) == ("moves", "stays")


def test_month_is_told_against_the_sheet_by_the_machine_s_own_level():
    trend = Trend(months(0.9, 1.1), None)
    rows = fleet_of([machine("a", 1.2, trend=trend)]).to_dict()["months"]
    assert [row["level"] for row in rows] == pytest.approx([1.08, 1.32])
    assert [row["k_level"] for row in rows] == pytest.approx([1.08**-0.5, 1.32**-0.5])
    assert [(row["month"], row["samples"], row["episodes"]) for row in rows] == [
        ("2031-01", 40, 9),
        ("2031-02", 40, 9),
    ]
    assert rows[0]["scatter_percent"] == pytest.approx(2.0)


def test_fleet_survives_json_digit_for_digit():
    trend = Trend(months(0.9, 1.1), Slope(0.1, 0.05, 0.2))
    lost = (LeftOut("a", "2031-05-04", "damaged"),)
    doubted = {"doubts": ("far-from-sheet",)}
    for one in (
        machine("a", 1 / 3, trend=trend, left_out=lost, parts=4, told=doubted),
        machine("b", 0.1, trend=Trend(months(1.0), None)),
        OfMachine("c", None, "damaged", parts=2),
    ):
        again = OfMachine.from_plain(json.loads(json.dumps(one.as_plain())))
        assert again == one


# --- from samples to months ----------------------------------------------------------------------

NODES = (0.0, 0.05, 0.10)
C = 1.0 / (60.0 * RPM) ** 2


def result(coverage=0.9, warnings=()):
    nodes = tuple(
        Node(nu, Estimate(C, 0.9 * C, 1.1 * C), None, 30, 6, C / 1.02, None) for nu in NODES
    )
    return Identification(
        basis_engine="e", basis_converter="c", coverage=coverage, nodes=nodes, coupling_used=0.86,
        coupling_found=None, stretches=100, steady=60, locked=0, cold=0, driven=0, outside=0,
        samples=43, sample_nu=np.zeros(1), sample_capacity=np.zeros(1),
        sample_torque_ratio=np.zeros(1), notes=tuple(warnings),
    )  # fmt: skip


def samples(level, count=12, episodes=4):
    """So many samples at a share of the curve, in so many stretches of steady driving."""
    nu = np.linspace(0.0, 0.1, count)
    return Reservoir().plus(
        {
            "nu": nu,
            "capacity": np.full(count, level * C),
            "torque_ratio": np.full(count, np.nan),
            "oil": np.full(count, np.nan),
            "episode": np.arange(count) % episodes * 1.0,
        }
    )


def test_months_hold_the_level_of_their_samples_against_the_machine_s_own_curve():
    given = {f"2031-{k:02d}": samples(1.0 - 0.01 * k) for k in range(6, 0, -1)}
    trend = trend_of(given, result())
    assert [month.month for month in trend.months] == sorted(given)
    assert [month.level for month in trend.months] == pytest.approx(
        [1.0 - 0.01 * k for k in range(1, 7)]
    )
    assert trend.slope.value == pytest.approx(-0.12)  # a hundredth a month
    assert trend.moves is True
    assert trend_of({}, result()) is None


@pytest.mark.parametrize(
    ("count", "episodes", "used"), [(12, 4, True), (11, 4, False), (12, 3, False)]
)
def test_month_of_too_few_samples_or_stretches_is_left_out(count, episodes, used):
    trend = trend_of({"2031-01": samples(1.0, count, episodes)}, result())
    assert len(trend.months) == used
    assert trend.slope is None


@pytest.mark.parametrize(("count", "known"), [(4, False), (5, True)])
def test_slope_is_judged_from_five_months_on(count, known):
    given = {f"2031-{k:02d}": samples(1.0 + 0.001 * k) for k in range(1, count + 1)}
    assert (trend_of(given, result()).slope is not None) is known


def test_log_is_told_by_its_level_its_ends_and_its_warnings():
    warnings = (Note("far-from-sheet", "x", "warning"), Note("oil-not-logged", "x", "assumption"))
    told = OfLog.of(result(warnings=warnings))
    assert told.level == told.least == told.greatest == pytest.approx(1.02)
    assert (told.samples, told.nodes, told.doubts) == (43, 3, ("far-from-sheet",))


# --- from parts to a machine ---------------------------------------------------------------------


def refused():
    raise InputError("no column of time", source="day.csv")


def part(name, opens):
    return Part(name, "2031-05", opens)


def test_machine_of_which_no_part_can_be_read_is_refused_with_the_first_reason():
    for names, left in ((["a"], 0), (["a", "b"], 2)):
        told = of_parts("m", [part(name, refused) for name in names])
        assert told.told is None
        assert "no column of time" in told.refused
        assert (told.parts, len(told.left_out)) == (len(names), left)
    assert of_parts("m", []).refused == "there is no log"


def test_log_of_which_too_little_is_steady_is_refused_with_what_was_lost():
    time = np.arange(0.0, 60.0, 0.1)
    wild = {
        "time": time,
        "engine speed": 150.0 + 50.0 * np.sin(time),
        "turbine speed": 100.0 + 80.0 * np.cos(3 * time),
        "engine torque": np.full(time.size, 500.0),
    }
    parts = [part("2031-05-01", refused), part("2031-05-02", lambda: ([wild], LogBasis()))]
    told = of_parts("m", parts)
    assert told.told is None
    assert told.refused
    assert told.refused != told.left_out[0].why
    assert [each.part for each in told.left_out] == ["2031-05-01"]
    assert told.parts == 2
