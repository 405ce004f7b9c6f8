"""Answers of every verb on the shipped files, kept and compared: what did a change of code change?

Numbers must not move when rooms are moved about. Record before, compare after:

    python benchmarks/golden.py record before
    python benchmarks/golden.py record after
    python benchmarks/golden.py compare before after

A number differs where it is off by more than `TOLERANCE` of itself; keys that came or went, words
that changed and exit statuses are listed apart. Not part of the tests: it compares two revisions.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import itertools
import json
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

DATA = Path(__file__).resolve().parent.parent / "data"
TOLERANCE = 1e-9
_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")

_PAIR = ("six-cylinder-7l-185kw", "single-stage-345mm-tight")
_LOADER = ("--driveline", "four-speed-loader", "--machine", "wheel-loader-17t")
_HAULER = ("--driveline", "six-speed-hauler", "--machine", "articulated-hauler-25t")
_DOZER = ("--driveline", "three-speed-dozer", "--machine", "crawler-dozer-50t")
_TRUCK = ("--driveline", "two-speed-lift-truck", "--machine", "lift-truck-5t")
_SITE = ("--altitude", "2000", "--air-temperature", "35", "--hydraulic-torque", "90")


def _ids(room: str) -> list[str]:
    return sorted(path.stem for path in (DATA / room).glob("*.toml"))


def _pair(engine: str = _PAIR[0], converter: str = _PAIR[1]) -> tuple[str, ...]:
    return "--engine", engine, "--converter", converter


def _matches() -> Iterator[tuple[str, ...]]:
    for engine, converter in itertools.product(_ids("engines"), _ids("converters")):
        yield "solve", *_pair(engine, converter)
    for engine in _ids("engines"):
        yield "solve", *_pair(engine), *_SITE
    yield "solve", *_pair(), "--diameter", "330"
    for arrangement in _ids("arrangements"):
        yield "solve", *_pair(), "--arrangement", arrangement
        yield "solve", *_pair("six-cylinder-15l-400kw"), "--arrangement", arrangement
    for site in _ids("sites"):
        yield "solve", *_pair(), "--site", site


def _stalls() -> Iterator[tuple[str, ...]]:
    for machine in (_LOADER, _HAULER, _DOZER, _TRUCK):
        for engine in ("six-cylinder-7l-185kw", "six-cylinder-9l-240kw", "six-cylinder-10l5-138kw"):
            pair = _pair(engine, "single-stage-390mm-full-range")
            yield "hold", *pair, *machine[2:]
            yield "hold", *pair, *machine[2:], *_SITE
            yield "stall", *pair, *machine, "--expect"
            yield "stall", *pair, *machine, "--expect", *_SITE, "--relief-torque", "250"
            for speed in ("1300", "1600", "1900", "2200"):
                reading = f"gear=2 speed={speed} oil=85degC brakes=held"
                yield "stall", *pair, *machine, "--reading", reading


def _wheels() -> Iterator[tuple[str, ...]]:
    ground = ("--surface", "firm smooth earth")
    for machine, engine, converter in (
        (_LOADER, "six-cylinder-7l-185kw", "single-stage-345mm-tight"),
        (_LOADER, "six-cylinder-8l-205kw-late-boost", "single-stage-360mm"),
        (_HAULER, "six-cylinder-9l-240kw", "single-stage-390mm-full-range"),
        (_DOZER, "six-cylinder-15l-400kw", "single-stage-420mm"),
        (_TRUCK, "four-cylinder-2l5-45kw", "single-stage-260mm"),
    ):
        pair = _pair(engine, converter)
        yield "tractive", *pair, *machine
        yield "tractive", *pair, *machine, *ground, *_SITE
        yield "tractive", *pair, *machine, *ground, "--load", "empty", "--gear-lockup", "all"
        yield "accelerate", *pair, *machine, *ground, "--to-speed", "15"
        yield "accelerate", *pair, *machine, *ground, "--to-speed", "8", "--method", "dynamic"
        for route in ("quarry-to-crusher", "island-round-20km", "too-steep"):
            yield "route", *pair, *machine, "--route", route
        yield "route", *pair, *machine, "--cycle", "loader-truck-loading"
        for what in ("--stall-speed", "--input-speed-at-80"):
            yield "size", *_pair(engine, converter), what, "1900"
        yield (
            *("audit", *pair, *machine, *ground),
            *("--claim", "stall speed=1880 rpm; tolerance=1 %"),
            *("--claim", "stall torque ratio=2.2"),
            *("--claim", "speed on grade=12 km/h; grade=8 %; tolerance=3 %"),
        )
    hauler = _pair("six-cylinder-9l-240kw", "single-stage-390mm-full-range")
    size = ("size", *hauler, "--route", "quarry-to-crusher", *_HAULER)
    yield size
    yield *size, "--library"


def _rest() -> Iterator[tuple[str, ...]]:
    for study in _ids("studies"):
        yield "study", study, "--draws", "1500"
        yield "study", study, "--draws", "0"
        yield "audit", study
        yield "size", "--study", study
    yield (
        "identify",
        str(DATA / "logs" / "loader-shift.csv"),
        *_pair(),
        "--reference-torque",
        "1004",
    )
    for room in (
        "engines",
        "converters",
        "machines",
        "drivelines",
        "arrangements",
        "sites",
        "studies",
    ):
        yield "check", *(str(DATA / room / f"{one}.toml") for one in _ids(room))
    spec = "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; high idle 2380 rpm"
    yield "intake", "--spec-line", spec


def calls() -> list[tuple[str, ...]]:
    """Return every command line that is recorded, without its form of output."""
    return [*_matches(), *_stalls(), *_wheels(), *_rest()]


def _run(*words: str) -> tuple[int, str]:
    from converter_match.cli import main

    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        try:
            status = main(list(words))
        except SystemExit as end:
            status = int(end.code or 0)
    return status, out.getvalue()


def record(folder: Path) -> None:
    """Write the answer of every call as JSON and as text in both systems of units."""
    folder.mkdir(parents=True)
    answers = []
    for call in calls():
        named = " ".join(call).replace(str(DATA), "data")
        status, text = _run(*call, "--json")
        try:
            answer = json.loads(text)
        except ValueError:
            answer = text
        # A spec line and a study take long enough for one text to do.
        texts = [_run(*call, "--units", system)[1] for system in ("si", "us")]
        answers.append({"call": named, "status": status, "json": answer, "texts": texts})
        print(f"{status}  {named}", file=sys.stderr)
    (folder / "answers.json").write_text(json.dumps(answers, indent=1), encoding="utf-8")
    with tempfile.TemporaryDirectory() as place:
        for study in _ids("studies"):
            _run("study", study, "--out", f"{place}/{study}", "--draws", "1500")
            for path in sorted(Path(place, study).rglob("*.csv")):
                kept = folder / f"{study}-{path.name}"
                kept.write_bytes(path.read_bytes())


def differences(old: Any, new: Any, where: str = "") -> Iterator[tuple[str, str]]:
    """Yield (kind, words) of each difference between two values read from JSON."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in old.keys() | new.keys():
            if key not in new:
                yield "key gone", f"{where}.{key}"
            elif key not in old:
                yield "key new", f"{where}.{key}"
            else:
                yield from differences(old[key], new[key], f"{where}.{key}")
    elif isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            yield "length", f"{where}: {len(old)} then {len(new)}"
        for place, (one, other) in enumerate(zip(old, new, strict=False)):
            yield from differences(one, other, f"{where}[{place}]")
    elif _is_number(old) and _is_number(new):
        if abs(old - new) > TOLERANCE * max(abs(old), abs(new), 1e-6):
            yield "number", f"{where}: {old!r} then {new!r}"
    elif old != new:
        kind = "words" if isinstance(old, str) and isinstance(new, str) else "value"
        if kind == "words" and _NUMBER.findall(old) != _NUMBER.findall(new):
            kind = "number in words"
        yield kind, f"{where}: {old!r} then {new!r}"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def compare(before: Path, after: Path) -> int:
    """Print what differs, and return 1 if a number, a key that was there or a status does."""
    old = {one["call"]: one for one in json.loads((before / "answers.json").read_text("utf-8"))}
    new = {one["call"]: one for one in json.loads((after / "answers.json").read_text("utf-8"))}
    counts: dict[str, int] = {}
    for call in old:
        if call not in new:
            print(f"GONE {call}")
            continue
        for kind, words in differences(old[call]["json"], new[call]["json"]):
            counts[kind] = counts.get(kind, 0) + 1
            print(f"{kind:16s} {call}\n    {words}")
        if old[call]["status"] != new[call]["status"]:
            counts["status"] = counts.get("status", 0) + 1
            print(f"status           {call}: {old[call]['status']} then {new[call]['status']}")
        for one, other in zip(old[call]["texts"], new[call]["texts"], strict=True):
            if sorted(_NUMBER.findall(one)) != sorted(_NUMBER.findall(other)):
                counts["number in text"] = counts.get("number in text", 0) + 1
                print(f"number in text   {call}")
    for path in sorted(before.glob("*.csv")):
        other = after / path.name
        if not other.exists() or other.read_bytes() != path.read_bytes():
            counts["csv"] = counts.get("csv", 0) + 1
            print(f"csv              {path.name}")
    print(counts or "no difference")
    return int(
        any(counts.get(kind) for kind in ("number", "key gone", "length", "status", "value"))
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    verbs = parser.add_subparsers(dest="verb", required=True)
    verbs.add_parser("record").add_argument("folder", type=Path)
    both = verbs.add_parser("compare")
    both.add_argument("before", type=Path)
    both.add_argument("after", type=Path)
    args = parser.parse_args()
    if args.verb == "record":
        record(args.folder)
        return 0
    return compare(args.before, args.after)


if __name__ == "__main__":
    raise SystemExit(main())
