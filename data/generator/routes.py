"""The long demo route: 400 segments over an invented island, there laden and back empty.

A sum of three sines makes the height, so that climbs of different lengths follow one another; the
grade of a segment is the rise over its length. Every figure is a parameter below.
"""

from __future__ import annotations

import numpy as np

SEGMENTS = 400
LENGTH = 50  # m
# Height of each sine [m], its waves over the way out, its phase.
WAVES = ((38.0, 1.5, 0.4), (9.0, 7.0, 1.1), (3.0, 19.0, 2.0))
BENDS = 23  # every so many segments a bend with a lower limit


def island_round() -> str:
    """Return the route as CSV text."""
    half = SEGMENTS // 2
    place = np.arange(half + 1) / half
    height = sum(a * np.sin(2 * np.pi * n * place + p) for a, n, p in WAVES)
    out = np.round(100 * np.diff(height) / LENGTH, 1)
    grade = np.concatenate([out, -out[::-1]])
    lines = [
        "# name: Round of the island, 20 km, Hollowskerry",
        "# source: invented demo data, generated from the equations in data/generator",
        "length [m],grade [%],surface,speed limit [km/h],load,stop [s]",
    ]
    for k in range(SEGMENTS):
        outward = k if k < half else SEGMENTS - 1 - k
        surface = "rutted earth" if outward < 20 else "firm smooth earth"
        surface = "concrete or asphalt" if outward > half - 30 else surface
        limit = 20 if outward % BENDS == BENDS - 1 else 45
        load = "laden" if k < half else "empty"
        stop = {half - 1: "60", SEGMENTS - 1: "180"}.get(k, "")
        lines.append(f"{LENGTH},{grade[k]:g},{surface},{limit},{load},{stop}")
    return "\n".join(lines) + "\n"
