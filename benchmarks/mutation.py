"""Break the package on purpose, one place at a time, and count what the tests notice.

    python benchmarks/mutation.py FOLDER [--sample 2000] [--seed 1] [--only "physics/match/*" ...]
    python benchmarks/mutation.py FOLDER --floors judgement library --sample 300
    python benchmarks/mutation.py FOLDER --workers 2, or --cluster tcp://192.0.2.10:8786

mutmut writes every small change it knows (a sign, a bound, a number, an argument, a word) into a
clone of the last commit, which lands in FOLDER. Then, for each change, the files of tests that
reach the changed function are run, quickest first: the fast tests of them (`pytest -m fast`), and
the others over what these leave (not with --fast). What they do not notice is shown to the type
checker, which is part of the test command too. A change that nothing notices is a survivor: either
nothing depends on it, or a test is missing. FOLDER/survivors.txt holds each survivor as a
difference to read; FOLDER/summary.json holds the counts; --record writes them to
benchmarks/mutation_summary.json too, where they make a line of docs/validation.md. Started again
with the same FOLDER it goes on where it stopped, so it can be interrupted.

With --seconds the tests of a change end where their times come to so many seconds, which makes the
rate a lower bound, as --fast does. Changes are tried in pieces (`converter_match.tasks`), by
processes or by a cluster whose workers reach FOLDER by the same name.

All changes are some twenty thousand, a day's work for two cores. A random sample of them, drawn
over all modules alike, gives the rate with a margin, which is printed with it (Wilson's interval,
95 %). What only says an error in other words, or moves something on the paper, is counted apart and
tried only with --kind message or --kind layout: `mutation_kinds.py` has the rule, which sorts every
change before any is tried. mutmut leaves alone functions with decorators (properties,
cached values) and code outside of functions. `@compiled` is taken away first where functions that
have it are changed.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import fnmatch
import json
import math
import os
import random
import re
import shutil
import subprocess
import sys
import textwrap
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from mutation_kinds import KINDS, kind_of
from mutation_tried import REACH, TIMEOUT

from converter_match.cli.progress import progress_bar
from converter_match.tasks.cluster import cluster
from converter_match.tasks.plain import from_bytes
from converter_match.tasks.sweep import sweep
from converter_match.tasks.workers import Workers

ROOT = Path(__file__).resolve().parent.parent
RECORD = Path(__file__).with_name("mutation_summary.json")
CONFIGURATION = """
[tool.mutmut]
source_paths = ["converter_match"]
only_mutate = [{floors}]
pytest_add_cli_args_test_selection = [{tests}]
also_copy = ["README.md", "CHANGELOG.md", "benchmarks", "data", "docs", "notebooks"]
"""
WRITE = """
import os
from mutmut.__main__ import copy_also_copy_files, copy_src_dir, create_mutants, setup_source_paths
os.makedirs("mutants", exist_ok=True)
copy_src_dir()
copy_also_copy_files()
setup_source_paths()
create_mutants(os.cpu_count() or 1)
"""
# Floor: the tests that are there for it.
FLOORS = {
    "components": ("tests/components", "tests/published"),
    "physics": ("tests/physics", "tests/published"),
    "judgement": ("tests/judgement", "tests/cli"),
    "library": ("tests/library", "tests/cli"),
    "present": ("tests/present", "tests/cli"),
}
PREPARED = "mutants/prepared"  # in the clone, once all changes are written
PLAIN = "what is compiled runs as plain Python"  # in that file: it is changed
# Which tests are run over a change, one after the other: the choice that pytest is given.
PASSES = {"fast": "fast", "slow": "not fast and not browser"}
# Not asked: one starts programs that look for mutmut's settings where they are; one reads all
# sources, which takes minutes where each function stands in them many times.
LEFT_OUT = ("tests/cli/test_lab.py", "tests/library/intake/test_words.py")
PIECE = 4  # changes in a piece of work, which loads what the tests load once
MARGIN, LONGEST = 20.0, 4.0  # s, and times what the tests take unchanged: a change that hangs
NOT_DRAWN = 34
PASSED_FAST = 100  # survived the fast tests; the others were not run
NO_TESTS = 33
OUTCOMES = {
    0: "survived",
    PASSED_FAST: "survived",
    1: "killed",
    2: "killed",  # a file of tests cannot be imported
    5: "no tests",
    NO_TESTS: "no tests",
    TIMEOUT: "timeout",
    -9: "timeout",
}
NOTICED = ("killed", "type check", "timeout")
Function = ast.FunctionDef | ast.AsyncFunctionDef


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folder", type=Path, help="where the clone and the results go")
    parser.add_argument("--sample", type=int, help="how many changes to try; all without it")
    parser.add_argument("--seed", type=int, default=1, help="of the sample")
    parser.add_argument("--kind", choices=KINDS, default="code", help="of change to draw")
    parser.add_argument("--only", nargs="+", default=["*"], help='modules: "physics/match/*"')
    who = parser.add_mutually_exclusive_group()
    who.add_argument("--workers", type=int, help="processes; without it, one a core")
    who.add_argument("--cluster", help="scheduler of a cluster, as tcp://host:8786")
    parser.add_argument(
        "--floors", nargs="+", choices=FLOORS, default=("physics", "components"), help="to change"
    )
    parser.add_argument("--tests", nargs="+", help="folders of tests to run; those of the floors")
    parser.add_argument("--fast", action="store_true", help="only the fast tests: a lower bound")
    parser.add_argument("--seconds", type=float, help="of tests over a change: a lower bound")
    parser.add_argument("--report", action="store_true", help="only count what was tried so far")
    parser.add_argument("--record", action="store_true", help=f"the counts in {RECORD.name} too")
    options = parser.parse_args()
    clone = options.folder / "clone"
    if not options.report:
        if not (clone / PREPARED).exists():
            shutil.rmtree(clone, ignore_errors=True)  # left by a run that ended on the way
            of_floors = dict.fromkeys(name for floor in options.floors for name in FLOORS[floor])
            prepare(clone, options.floors, options.tests or list(of_floors))
        draw(clone, options.sample, options.seed, options.only, options.kind)
        if options.cluster is not None:
            with cluster(options.cluster) as workers:
                try_all(clone, options.fast, options.seconds, workers)
        else:
            jobs = options.workers or os.cpu_count() or 1
            try_all(clone, options.fast, options.seconds, Workers(jobs=jobs, patience=0.0))
    summary = report(clone, options.folder, options.only)
    if options.record:
        recorded = json.loads(RECORD.read_text(encoding="utf-8"))
        recorded[" and ".join(sorted(options.floors))] = summary
        RECORD.write_text(json.dumps(recorded, indent=2) + "\n", encoding="utf-8")
    return 0


def prepare(clone: Path, floors: list[str], tests: list[str]) -> None:
    """Clone the last commit, and have the changes written."""
    subprocess.run(["git", "clone", "--quiet", str(ROOT), str(clone)], check=True)
    named = ", ".join(json.dumps(name) for name in tests)
    with (clone / "pyproject.toml").open("a", encoding="utf-8") as file:
        changed = ", ".join(json.dumps(f"converter_match/{floor}/*") for floor in floors)
        file.write(CONFIGURATION.format(tests=named, floors=changed))
    plain = without_compiler(clone / "converter_match", floors)
    subprocess.run([sys.executable, "-c", WRITE], cwd=clone, check=True, stdout=subprocess.DEVNULL)
    (clone / PREPARED).write_text(PLAIN if plain else "", encoding="utf-8")


def without_compiler(package: Path, floors: list[str]) -> bool:
    """Take `@compiled` away on these floors, and return whether it was there."""
    found = False
    for floor in floors:
        for path in (package / floor).rglob("*.py"):
            text = path.read_text(encoding="utf-8")
            if "\n@compiled\n" in text:  # without a compiler it does nothing
                path.write_text(text.replace("\n@compiled\n", "\n"), encoding="utf-8")
                found = True
    return found


def surroundings(clone: Path) -> dict[str, str]:
    """Return the environment of tests over the changed package."""
    # The compiler cannot follow mutmut's detours. The package is named for the programs that tests
    # start elsewhere.
    plain = (clone / PREPARED).read_text(encoding="utf-8") == PLAIN
    return {
        **os.environ,
        "NUMBA_DISABLE_JIT": str(int(plain)),
        "PYTHONPATH": str(clone.resolve() / "mutants"),
        "PY_IGNORE_IMPORTMISMATCH": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }


def reached(clone: Path, marked: str) -> dict[str, dict[str, Any]]:
    """Return seconds and functions of each file of tests; run once over the unchanged package."""
    folder = clone / f"reach-{marked}"
    if not folder.exists():
        draft = clone / f"reach-{marked}.part"
        shutil.rmtree(draft, ignore_errors=True)
        draft.mkdir()
        command = [sys.executable, "-m", "pytest", "-q", "-p", "benchmarks.mutation_reach"]
        command += ["-p", "no:cacheprovider", "-n", str(os.cpu_count() or 1), "-m", PASSES[marked]]
        command += [f"--ignore={file}" for file in LEFT_OUT]
        variables = {REACH: str(draft.resolve()), "MUTANT_UNDER_TEST": "stats"}
        ended = subprocess.run(
            [*command, *tests_of(clone)],
            cwd=clone / "mutants",
            env=surroundings(clone) | variables,
            check=False,
        )
        if ended.returncode:
            raise SystemExit("the tests could not be run over the changes, for the reason above")
        draft.rename(folder)
    return {
        file: seen
        for path in sorted(folder.glob("*.json"))
        for file, seen in json.loads(path.read_text(encoding="utf-8")).items()
    }


def asked(files: dict[str, dict[str, Any]], name: str, most: float | None) -> tuple[list, float]:
    """Return the files of tests that reach a changed function, quickest first, and their time."""
    function = name.rpartition("__mutmut_")[0]
    reaching = sorted(
        (seen["seconds"], file) for file, seen in files.items() if function in seen["functions"]
    )
    chosen, total = [], 0.0
    for seconds, file in reaching:
        if most is None or total + seconds <= most:
            chosen.append(file)
            total += seconds
    return chosen, total


def records(clone: Path) -> Iterator[tuple[str, Path, dict]]:
    """Yield each changed module as "physics/match/solver", its record file, and what it holds."""
    package = clone / "mutants" / "converter_match"
    for path in sorted(package.rglob("*.py.meta")):
        module = path.relative_to(package).as_posix().removesuffix(".py.meta")
        yield module, path, json.loads(path.read_text(encoding="utf-8"))


def chosen(module: str, only: list[str]) -> bool:
    return any(fnmatch.fnmatch(module, pattern) for pattern in only)


def draw(clone: Path, sample: int | None, seed: int, only: list[str], kind: str) -> None:
    """Leave open what is drawn, and mark the rest as skipped; a result that is there stays."""
    loaded = list(records(clone))
    of = {
        name: path
        for module, path, record in loaded
        if chosen(module, only)
        for name in record["exit_code_by_key"]
    }
    module_of = {path: module for module, path, _ in loaded}
    names = sorted(of)
    random.Random(seed).shuffle(names)
    changes: dict[Path, Changes] = {}
    drawn: set[str] = set()
    for name in names:
        path = of[name]
        if path not in changes:
            changes[path] = Changes(module_of[path], path.with_suffix(""))
        if changes[path].kind(name) == kind:
            drawn.add(name)
        if len(drawn) == sample:
            break
    for _, path, record in loaded:
        codes = record["exit_code_by_key"]
        for name, code in codes.items():
            if code is None or code == NOT_DRAWN:
                codes[name] = None if name in drawn else NOT_DRAWN
        path.write_text(json.dumps(record), encoding="utf-8")
    print(f"{len(drawn)} drawn")
    if not drawn:
        raise SystemExit(f"no change of kind {kind} in {' '.join(only)}")


def try_all(clone: Path, fast: bool, most: float | None, workers: Workers) -> None:
    """Try what is open in pieces, wherever the workers are; what cannot be tried stays open."""
    for marked in ("fast",) if fast else PASSES:
        left = Outcomes(clone, open_as=None if marked == "fast" else PASSED_FAST)
        files = reached(clone, marked)
        names = sorted(left.of)
        plan = [(name, *asked(files, name, most)) for name in names]
        left.write({name: left.passed for name, chosen, _ in plan if not chosen})
        # What takes long first, so that all workers end together.
        plan = sorted((one for one in plan if one[1]), key=lambda one: -one[2])
        if plan:
            control(clone, marked, plan[len(plan) // 2][1])
        count = -(-len(plan) // PIECE)
        pieces = [plan[k::count] for k in range(count)]
        swept = sweep(
            tried, pieces, shared=(clone.resolve(), marked), workers=workers, store=left,
            keys=[str(k) for k in range(count)], progress=progress_bar(), what="changes",
        )  # fmt: skip
        for lost in swept.lost:
            piece = pieces[lost.piece]
            print(f"{piece[0][0]} and {len(piece) - 1} more were not tried: {lost.why}")


def control(clone: Path, marked: str, files: list[str]) -> None:
    """Stop where tests fail over the package as it is: they would notice whatever is changed."""
    ended = tried((clone, marked), [("nothing", files, float("inf"))])
    if ended["nothing"] != 0:
        raise SystemExit(f"{' '.join(files)} end with {ended['nothing']} where nothing is changed")


class Outcomes:
    """What came of each change, in the records of the clone: where a run goes on."""

    def __init__(self, clone: Path, open_as: int | None) -> None:
        self.passed = PASSED_FAST if open_as is None else 0
        self.of = {
            name: path
            for _, path, record in records(clone)
            for name, code in record["exit_code_by_key"].items()
            if code == open_as
        }

    def get(self, key: str) -> None:
        """Return nothing: only what is open is asked for."""

    def put(self, key: str, value: bytes) -> None:
        ended = from_bytes(value)
        self.write({name: code or self.passed for name, code in ended.items()})

    def write(self, ended: dict[str, int]) -> None:
        for path in {self.of[name] for name in ended}:
            record = json.loads(path.read_text(encoding="utf-8"))
            codes = record["exit_code_by_key"]
            codes |= {name: code for name, code in ended.items() if name in codes}
            draft = path.with_suffix(".part")
            draft.write_text(json.dumps(record), encoding="utf-8")
            os.replace(draft, path)


def tried(shared: tuple[Path, str], changes: list[tuple[str, list[str], float]]) -> dict[str, int]:
    """Return what comes of some changes: the exit codes of their tests."""
    clone, marked = shared
    limits = [(name, files, MARGIN + LONGEST * seconds) for name, files, seconds in changes]
    answer = subprocess.run(
        [sys.executable, "benchmarks/mutation_tried.py", "-m", PASSES[marked]],
        cwd=clone / "mutants",
        env=surroundings(clone),
        input=json.dumps(limits),
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    return json.loads(answer.stdout)


def report(clone: Path, folder: Path, only: list[str]) -> dict[str, Any]:
    """Print and return the counts of these modules, and write the survivors as differences."""
    tried: dict[str, dict[str, str]] = {}
    changes: dict[str, Changes] = {}
    in_all: Counter = Counter()
    for module, path, record in records(clone):
        if not chosen(module, only):
            continue
        every = Changes(module, path.with_suffix(""))
        in_all.update(map(every.kind, record["exit_code_by_key"]))
        ended = {
            name: OUTCOMES.get(code, "odd end")
            for name, code in record["exit_code_by_key"].items()
            if code is not None and code != NOT_DRAWN
        }
        if ended:
            tried[module], changes[module] = ended, every
    left = {
        module: {name for name, outcome in ended.items() if outcome not in NOTICED}
        for module, ended in tried.items()
    }
    for module, names in type_errors(clone, folder / "typed", changes, left).items():
        tried[module].update(dict.fromkeys(names, "type check"))
    table: dict[str, Counter] = {}
    survivors = []
    for module, ended in tried.items():
        counts = table.setdefault(module, Counter())
        for name, outcome in sorted(ended.items()):
            kind = changes[module].kind(name)
            noticed = outcome in NOTICED
            counts.update([outcome, kind])
            counts[f"{kind} noticed"] += noticed
            if not noticed:
                difference = changes[module].difference(name)
                survivors.append(f"# {name}: {outcome}, {kind}\n{difference}\n")
    total = sum(table.values(), Counter())
    heads = " ".join(f"{kind:>7} {'noticed':>8}" for kind in KINDS)
    print(f"{'module':36} {heads}   outcomes")
    for module, counts in [*table.items(), ("all", total)]:
        print(f"{module:36} {columns(counts)}   {outcomes(counts)}")
    intervals = {kind: wilson(total[f"{kind} noticed"], total[kind]) for kind in KINDS}
    for kind, (low, high) in intervals.items():
        if total[kind]:
            print(f"{kind} noticed: 95 % interval {100 * low:.1f} to {100 * high:.1f} %")
    (folder / "survivors.txt").write_text("\n".join(survivors), encoding="utf-8")
    summary = {
        "modules": {name: dict(counts) for name, counts in table.items()},
        "all": dict(total),
        "code_noticed_interval_95": intervals["code"],
        "changes_in_all": dict(in_all),
        "tests": tests_of(clone),
        "version": version(clone),
    }
    (folder / "summary.json").write_text(json.dumps(summary, indent=2) + "\n", encoding="utf-8")
    return summary


def tests_of(clone: Path) -> list[str]:
    """Return the folders of tests that were run."""
    written = tomllib.loads((clone / "pyproject.toml").read_text(encoding="utf-8"))
    return list(written["tool"]["mutmut"]["pytest_add_cli_args_test_selection"])


def version(clone: Path) -> str:
    text = (clone / "converter_match" / "version.py").read_text(encoding="utf-8")
    return next(line for line in text.splitlines() if line.startswith("__version__")).split('"')[1]


def type_errors(
    clone: Path, typed: Path, changes: dict[str, Changes], left: dict[str, set[str]]
) -> dict[str, set[str]]:
    """Return the changes, of those left, that the type checker refuses.

    It reads the package with these changes only: with all of them it takes an hour.
    """
    shutil.rmtree(typed, ignore_errors=True)
    shutil.copytree(clone / "converter_match", typed / "converter_match")
    shutil.copy(clone / "pyproject.toml", typed)
    lines: dict[str, dict[int, str]] = {}
    for module, names in left.items():
        file = f"converter_match/{module}.py"
        text, lines[file] = changes[module].with_only(names)
        (typed / file).write_text(text, encoding="utf-8")
    answer = subprocess.run(
        [sys.executable, "-m", "mypy", "converter_match", "--output", "json"],
        cwd=typed,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    if answer.returncode not in (0, 1):
        raise SystemExit(f"the type checker did not run: {answer.stderr or answer.stdout}")
    refused: dict[str, set[str]] = {}
    for error in map(json.loads, answer.stdout.splitlines()):
        name = lines.get(error["file"], {}).get(error["line"])
        if name is not None and error["code"] not in ("unused-ignore", "no-redef"):
            module = error["file"].removeprefix("converter_match/").removesuffix(".py")
            refused.setdefault(module, set()).update(n for n in left[module] if n.endswith(name))
    return refused


def columns(counts: Counter) -> str:
    cells = []
    for kind in KINDS:
        number, noticed = counts[kind], counts[f"{kind} noticed"]
        cells.append(
            f"{number:7d} {100 * noticed / number:7.1f}%" if number else f"{number:7d} {'-':>8}"
        )
    return " ".join(cells)


def outcomes(counts: Counter) -> str:
    names = (*NOTICED, "survived", "no tests", "odd end")
    return ", ".join(f"{counts[name]} {name}" for name in names if counts[name])


def wilson(hits: int, tries: int) -> tuple[float, float]:
    """Return the 95 % interval of a rate (E. B. Wilson, 1927), 0 to 1."""
    if not tries:
        return 0.0, 1.0
    z = 1.959964
    rate = hits / tries
    middle = rate + z * z / (2 * tries)
    half = z * math.sqrt(rate * (1 - rate) / tries + z * z / (4 * tries * tries))
    scale = 1 + z * z / tries
    return (middle - half) / scale, (middle + half) / scale


class Changes:
    """The changed functions of one module, as mutmut wrote them beside their originals.

    A module holds a copy of a function for each change, megabytes in all: it is read line by line,
    and only what is looked at is parsed.
    """

    def __init__(self, module: str, path: Path) -> None:
        self.module = module
        self.lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        self.places = dict(_places(self.lines))
        self.originals: dict[str, Function] = {}

    def parsed(self, name: str) -> Function:
        first, last = self.places[name]
        [node] = ast.parse(textwrap.dedent("".join(self.lines[first:last]))).body
        assert isinstance(node, Function)
        return node

    def pair(self, name: str) -> tuple[str, str]:
        """Return the names of the original function and of the changed one."""
        changed = name.rpartition(".")[2]
        return changed.rpartition("__mutmut_")[0] + "__mutmut_orig", changed

    def kind(self, name: str) -> str:
        """Return what kind of change it is, by the rule of `mutation_kinds`."""
        original, changed = self.pair(name)
        if original not in self.originals:
            self.originals[original] = _renamed(self.parsed(original))
        return kind_of(self.module, self.originals[original], _renamed(self.parsed(changed)))

    def difference(self, name: str) -> str:
        original, changed = (
            ast.unparse(_renamed(self.parsed(one))).splitlines() for one in self.pair(name)
        )
        return "\n".join(difflib.unified_diff(original, changed, lineterm="", n=2))

    def with_only(self, names: set[str]) -> tuple[str, dict[int, str]]:
        """Return the module with these changes and no other, and whose each of their lines is."""
        wanted = {name.rpartition(".")[2] for name in names}
        owner: dict[int, str] = {}
        for name, (first, last) in self.places.items():
            if not name.endswith("__mutmut_orig"):
                owner |= dict.fromkeys(range(first + 1, last + 1), name)
        kept, owners = [], {}
        for number, line in enumerate(self.lines, start=1):
            if owner.get(number) is None or owner[number] in wanted:
                kept.append(line)
                if number in owner:
                    owners[len(kept)] = owner[number]
        return "".join(kept), owners


def _places(lines: list[str]) -> Iterator[tuple[str, tuple[int, int]]]:
    """Yield name and lines, first and past the last, of each function that mutmut wrote."""
    for first, line in enumerate(lines):
        head = re.match(r"( *)(?:async )?def (\w*__mutmut_\w+)\(", line)
        if head is None:
            continue
        last = first + 1
        while lines[first - 1].startswith(head[1] + "@"):  # a class method has its decorator
            first -= 1
        # The bracket that ends a long list of parameters stands as far left as the def.
        while last < len(lines) and (
            not lines[last].strip()
            or lines[last].startswith(head[1] + " ")
            or lines[last].startswith(head[1] + ")")
        ):
            last += 1
        yield head[2], (first, last)


def _renamed(node: Function) -> Function:
    node.name = node.name.rpartition("__mutmut_")[0]
    return node


if __name__ == "__main__":
    sys.exit(main())
