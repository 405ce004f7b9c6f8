"""What the bench draws, says and writes is what it was when somebody last looked at it.

The picture as it is sent to the browser, the stills beside it, and every file but the figures. Held
as the answers are (see there).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.shipped import find
from converter_match.present.bench.keeping import SUFFIXES, Keeper
from converter_match.present.bench.picture import frame_of, look
from converter_match.present.bench.shelf import Shelf, load_shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.still import stills
from converter_match.present.bench.view import view
from tests.answers.drawn import numbers
from tests.answers.holding import compare, kept_names, lines_of
from tests.answers.page_words import words_of

SEVEN = "six-cylinder-7l-185kw"
TIGHT = Setting(engine=SEVEN, converter="single-stage-345mm-tight")
ON_A_HILL = Setting(
    engine=SEVEN, converter="single-stage-345mm-loose", altitude=2200.0, air_temperature=308.15,
    hydraulic_torque=60.0, accessory_share=0.5, diameter_share=0.97,
)  # fmt: skip
TRUCK = Setting(engine="lift-truck-80v-30kw", converter="single-stage-260mm", voltage=76.0)
SMALL = Setting(engine="four-cylinder-2l5-45kw", converter="single-stage-260mm")
STATES = {
    "one": BenchState(a=TIGHT, font_scale=1.3),
    "two-of-one-engine": BenchState(a=TIGHT, b=ON_A_HILL, active="b"),
    "two-us": BenchState(a=ON_A_HILL, b=SMALL, system="us"),
    "motor": BenchState(a=TRUCK),
    "motor-beside-engine": BenchState(
        a=SMALL, b=dataclasses.replace(TRUCK, altitude=500.0), system="us"
    ),
    "cannot-hold-idle": BenchState(a=dataclasses.replace(SMALL, converter="single-stage-420mm")),
    "no-such-engine": BenchState(a=TIGHT, b=dataclasses.replace(SMALL, engine="six-cylinder")),
}
UNDRAWN = ("svg", "png", "pdf")


@cache
def shelf() -> Shelf:
    return load_shelf()


def drawn(state: BenchState) -> Iterator[str]:
    """Yield what goes to the browser: lines by their names, a mark and a word each."""
    seen = view(state, shelf())
    frame = frame_of(seen, state, ("a message",))
    block = np.frombuffer(frame.pop("numbers"), dtype="<f4")
    for panel in frame["panels"]:
        for line in panel["lines"]:
            at, count = line[3:5]
            pairs = block[at : at + 2 * count].reshape(-1, 2)
            yield f"{panel['id']} {line[0]}: x {numbers(pairs[:, 0])}"
            yield f"{panel['id']} {line[0]}: y {numbers(pairs[:, 1])}"
    yield from lines_of(frame)
    for side, result in seen.results.items():
        yield f"# {side}: {type(result).__name__}"
    if "a" in seen.results:
        still = stills(seen, state.system)
        yield from words_of(still._repr_html_())
        yield from repr(still).splitlines()


def written(state: BenchState, folder) -> Iterator[str]:
    """Yield the files that are written of it, and what each refuses."""
    keeper = Keeper(folder, who="somebody", now=lambda: datetime(2026, 3, 4, 5, 6, 7, tzinfo=UTC))
    seen = view(state, shelf())
    for content in SUFFIXES:
        if content in UNDRAWN:
            continue
        try:
            for path in keeper.save("kept", content, seen, state, shelf()):
                yield f"# {path.name}; next is {keeper.free_name('kept', content)}"
        except InputError as error:
            yield f"# {content}: {error}"
    for path in sorted(folder.iterdir()):
        yield f"# {path.name}"
        if path.suffix != ".json":  # the whole results are held as answers
            yield from path.read_text(encoding="utf-8").splitlines()
    yield from keeper.names()


@pytest.mark.parametrize("name", STATES)
def test_bench_shows_and_writes_what_it_did(name, request, tmp_path):
    state = STATES[name]
    compare(f"bench-{name}", [*drawn(state), *written(state, tmp_path)], request)


def test_shelf_offers_what_it_offered(request, tmp_path):
    engine = find("engines", SEVEN).read_text(encoding="utf-8")
    own = engine.replace(f'"{SEVEN}"', '"mine"').replace("Six-cylinder loader", "My loader")
    (tmp_path / "mine.toml").write_text(own, encoding="utf-8")
    (tmp_path / "same-id.toml").write_text(engine, encoding="utf-8")
    (tmp_path / "broken.toml").write_text("speed = 1,5", encoding="utf-8")
    (tmp_path / "below").mkdir()
    fitted = find("converters", "single-stage-260mm").read_text(encoding="utf-8")
    (tmp_path / "below" / "converter.toml").write_text(
        fitted.replace('"single-stage-260mm"', '"deeper"'), encoding="utf-8"
    )
    lines = []
    for one in (shelf(), load_shelf(tmp_path)):
        lines += ["# movers", *map(str, one.movers())]
        for kind in ("converters", "sites"):
            lines += [f"# {kind}", *map(str, one.offered(kind))]
        lines += str(one).splitlines()
        lines += [f"{kind} {id}: {path.name}" for (kind, id), path in one.files.items()]
    lines += lines_of(look())
    lines = [line.replace(str(tmp_path), "own") for line in lines]
    compare("bench-shelf", lines, request)


def test_every_kept_bench_is_shown():
    assert kept_names("bench-") == {*STATES, "shelf"}
