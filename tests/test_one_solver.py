"""One solver: who may iterate towards a balance, found by the shape of the code.

A loop is taken for an iteration when it goes round without counting (``while``, or ``for`` with a
counter that nobody reads) and hands something that it changes itself to a function: a guess, an end
of a bracket. Sums, sorting and marching along an array have no such loop. What is found has to
stand in one of the lists below; a solver in disguise does not.
"""

import ast
from pathlib import Path

import pytest

import converter_match

PACKAGE = Path(converter_match.__file__).parent
FLOORS = ("curves.py", "components", "physics", "judgement")

# The balance of engine and converter, and that of effort and resistance on the ground.
OF_A_BALANCE = {
    "physics/match/margin.py:_turns": "where the engine's capacity function turns, for draws",
    "physics/match/following.py:Machines._at_the_jump": "turbine speed at which an engine jumps",
    "physics/match/following.py:Machines.next_to": "matches at a turbine speed, for draws",
    "physics/match/newton.py:polished": "torque of engine and impeller",
    "physics/match/scan.py:_hidden_turns": "where the excess of torque turns between two nodes",
    "physics/match/solver.py:match_near": "torque of engine and impeller, next to a known match",
    "physics/match/table.py:_turning_points": "where the engine's capacity function turns",
    "physics/match/balances.py:closed_in": "matches at a turbine speed",
    "physics/match/every_branch.py:_where_they_meet": "turbine speeds at which matches meet",
    "physics/stall/governor.py:settled_near": "torque of engine and impeller, next to a match",
    "physics/wheels/drawn_drive.py:followed": "effort and resistance, next to a guess",
    "physics/wheels/draws.py:_pulls_no_less": "pull locked up and with the converter open",
    "physics/wheels/tractive.py:refined": "effort and resistance",
}
# Iterations that balance nothing: one line each on what they are for.
OF_ANOTHER_KIND = {
    "curves.py:_root_between": "the place at which a curve has a value",
    "judgement/lesson/states.py:full_load_states": "rows close enough for straight lines",
    "judgement/catalogue/result.py:_unbeaten": "which rows no other beats, part by part",
    "judgement/sizing/trials.py:best_size": "the diameter that costs least",
    "judgement/stall/hold.py:_cool_down": "marching in time",
    "physics/converter/blading_for_sheet.py:_moved": "blade angles that give a sheet",
    "physics/dynamics/simulation.py:_settled": "which clutches hold at an instant",
    "physics/dynamics/simulation.py:simulate": "marching in time, from event to event",
    "physics/haul/gear_choice.py:settle": "the gear of a speed",
    "physics/haul/gear_choice.py:time_in_gear": "the time of a way, speed by speed",
    "physics/haul/short_cycle.py:powered": "the torque that gives pumps their power",
    "physics/heat/laps.py:_lap": "the oil of a lap with a cooler that is a table",
    "physics/haul/march.py:_march.march": "marching along a road",
    "physics/haul/march.py:nearly_straight": "a step short enough for a straight line",
    "physics/haul/speed_profile.py:_marched": "marching, as far as there is room",
    "physics/haul/motion.py:way_to_braking": "where braking begins on a road",
    "physics/heat/continuous.py:heat_on_grades": "the slip on the grade that a point holds",
    "physics/heat/oil.py:_stepped": "marching in time",
    "physics/heat/oil.py:_time_to": "the moment at which the oil has a temperature",
    "physics/identify/identify.py:_huber_loss": "weights of a robust fit",
    "physics/identify/identify.py:_robust": "weights of a robust fit",
    "physics/match/every_branch.py:EveryBranch.settles": "marching along branches of the match",
    "physics/stall/settling.py:separate": "least squares of stall readings",
    "physics/wheels/motion.py:_Dynamic.drive.motion": "the slip of an accelerating wheel",
    "physics/wheels/motion.py:_Steady._curve": "the slip of an accelerating wheel",
    "physics/wheels/motion.py:accelerate": "marching in time",
}
# Libraries that iterate, and what they are called for.
BY_A_LIBRARY = {
    "judgement/evidence/value.py:scipy.optimize": "a logistic fit of draws",
    "physics/converter/fit.py:scipy.optimize": "least squares of loss factors",
    "physics/dynamics/simulation.py:scipy.integrate": "marching in time",
    "physics/wheels/motion.py:scipy.integrate": "marching in time",
}

_PLAIN = frozenset(
    "len min max abs float int range zip sum any all bool str tuple list sorted isinstance round "
    "append extend pop add copy astype items index find split strip".split()
)


def read_in(nodes):
    return {
        part.id
        for node in nodes
        for part in ast.walk(node)
        if isinstance(part, ast.Name) and isinstance(part.ctx, ast.Load)
    }


def changed_in(nodes):
    names = set()
    for part in (part for node in nodes for part in ast.walk(node)):
        if isinstance(part, ast.Subscript) and isinstance(part.ctx, ast.Store):
            while isinstance(part, ast.Subscript | ast.Attribute):
                part = part.value
            names.update([part.id] if isinstance(part, ast.Name) else [])
        elif isinstance(part, ast.Name) and isinstance(part.ctx, ast.Store):
            names.add(part.id)
    return names


def evaluates(call):
    """Return whether a call can be that of a function of the guess: no arithmetic, no container."""
    function = call.func
    if isinstance(function, ast.Name):
        return function.id not in _PLAIN
    if isinstance(function, ast.Attribute):
        of_numpy = isinstance(function.value, ast.Name) and function.value.id in ("np", "math")
        return not of_numpy and function.attr not in _PLAIN
    return True


def goes_round_blindly(loop):
    if isinstance(loop, ast.While):
        return True
    return (
        isinstance(loop, ast.For)
        and isinstance(loop.target, ast.Name)
        and isinstance(loop.iter, ast.Call)
        and getattr(loop.iter.func, "id", "") in ("range", "count", "repeat")
        and loop.target.id not in read_in(loop.body)
    )


def iterates(loop):
    if not goes_round_blindly(loop):
        return False
    carried = changed_in(loop.body) & read_in(loop.body)
    calls = (part for node in loop.body for part in ast.walk(node) if isinstance(part, ast.Call))
    return any(
        evaluates(call)
        and read_in([*call.args, *(keyword.value for keyword in call.keywords)]) & carried
        for call in calls
    )


def own_nodes(function):
    """Yield what is inside a function, functions within it left out."""
    for node in ast.iter_child_nodes(function):
        if not isinstance(node, ast.FunctionDef):
            yield node
            yield from own_nodes(node)


def iterating_functions(tree, above=""):
    """Yield the qualified name of every function with a loop that iterates."""
    for node in ast.iter_child_nodes(tree):
        if not isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield from iterating_functions(node, above)
            continue
        name = f"{above}{node.name}"
        if isinstance(node, ast.FunctionDef) and any(map(iterates, own_nodes(node))):
            yield name
        yield from iterating_functions(node, f"{name}.")


def libraries_that_iterate(tree):
    for node in ast.walk(tree):
        names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        for name in names:
            if name.startswith(("scipy.optimize", "scipy.integrate")):
                yield ".".join(name.split(".")[:2])


def modules():
    for floor in FLOORS:
        place = PACKAGE / floor
        yield from sorted(place.rglob("*.py")) if place.is_dir() else [place]


def places(listed):
    return {
        f"{path.relative_to(PACKAGE).as_posix()}:{name}"
        for path in modules()
        for name in listed(ast.parse(path.read_text(encoding="utf-8")))
    }


@pytest.mark.slow
def test_only_the_two_solvers_iterate_towards_a_balance():
    assert places(iterating_functions) == {*OF_A_BALANCE, *OF_ANOTHER_KIND}


@pytest.mark.slow
def test_libraries_that_iterate_are_called_for_something_else():
    assert places(libraries_that_iterate) == set(BY_A_LIBRARY)


DISGUISES = {
    "bisection": """
def settle(engine, low, high):
    for _ in range(60):
        middle = 0.5 * (low + high)
        if engine.torque(middle) > 0.0:
            low = middle
        else:
            high = middle
    return low
""",
    "secant": """
def settle(excess, p0, p1):
    f0, f1 = excess(p0), excess(p1)
    while abs(f1) > 1e-9:
        p0, p1 = p1, p1 - f1 * (p1 - p0) / (f1 - f0)
        f0, f1 = f1, excess(p1)
    return p1
""",
    "false position on arrays": """
def settle(drive, load, a, b, f_a, f_b):
    for _ in range(24):
        trial = a + (b - a) * f_a / (f_a - f_b)
        value = drive.effort(trial) - load.resistance(0.0, trial)
        up = value > 0.0
        a[up], b[~up] = trial[up], trial[~up]
    return trial
""",
    "fixed point": """
class Road:
    def settle(self, speed):
        for _ in range(3):
            share = self.slip(speed)
            speed = speed * (1.0 - share)
        return speed
""",
    "tuple in a nested function": """
def outer(curve):
    def settle(bracket):
        while bracket[1] - bracket[0] > 1e-6:
            bracket = curve.narrowed(bracket)
        return bracket
    return settle
""",
}


@pytest.mark.parametrize("text", DISGUISES.values(), ids=DISGUISES)
def test_a_solver_in_disguise_is_noticed(text):
    names = list(iterating_functions(ast.parse(text)))
    assert [name.rpartition(".")[2] for name in names] == ["settle"]


@pytest.mark.parametrize(
    "text",
    [
        "def add(items):\n    total = 0.0\n    for item in items:\n        total += item.heat()\n",
        "def march(steps, v):\n    for k in range(9):\n        v = v + steps.rate(k)\n",
        "def sort(rows):\n    while rows:\n        rows = rows[1:]\n",
        "def grid(curve):\n    for x in range(5):\n        y = curve(x)\n    return y\n",
    ],
    ids=["sum", "march", "peel", "grid"],
)
def test_a_loop_that_seeks_nothing_is_none(text):
    assert list(iterating_functions(ast.parse(text))) == []


def test_a_root_finder_of_a_library_is_noticed():
    tree = ast.parse(
        "def f():\n    from scipy.optimize import brentq\n    import scipy.integrate\n"
    )
    assert list(libraries_that_iterate(tree)) == ["scipy.optimize", "scipy.integrate"]
