"""Charts with known truth, photographed from the side or drawn in black: for tests and rates."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from converter_match.library.intake.draft import Draft
from converter_match.library.intake.straighten import straight_from
from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.library.toml_text import Inline, toml_text

CONVERTER = read_converter(shipped("converters")["single-stage-345mm-tight"])
AT = 1700 * np.pi / 30
FACTS = {"stator": "one-way", "coupling_speed_ratio": "0.86", "profile_diameter": "345 mm"}
WIDTH, HEIGHT = 1000, 700


def torque(nu: Any) -> Any:
    """Return the input torque at the reference speed [N.m]."""
    return np.asarray(CONVERTER.capacity_at(nu)) * AT**2


def share_beyond(draft: Draft) -> float:
    """Return the share of points whose true error is beyond the stated one."""
    assert draft.sheet is not None
    nu, ratio, load = draft.sheet.columns
    off = np.concatenate([
        np.abs(ratio.values - CONVERTER.torque_ratio_at(nu.values)) - ratio.tolerance,
        np.abs(load.values - torque(nu.values)) - load.tolerance,
    ])  # fmt: skip
    return float(np.mean(off > 0.0))


def _drawn(colours: tuple[str, str], top: float, width: float = 2.0) -> tuple[Image.Image, Any]:
    figure = Figure(figsize=(WIDTH / 100, HEIGHT / 100), dpi=100)
    FigureCanvasAgg(figure)
    left = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    right = left.twinx()
    nu = np.union1d(np.linspace(0, 0.98, 600), CONVERTER.characteristic.speed_ratio)
    left.plot(nu, CONVERTER.torque_ratio_at(nu), color=colours[0], lw=width)
    right.plot(nu, torque(nu), color=colours[1], lw=width)
    left.set(xlim=(0, 1), ylim=(0, 2.5))
    right.set_ylim(0, top)
    figure.canvas.draw()
    picture = Image.fromarray(np.asarray(figure.canvas.buffer_rgba())).convert("RGB")  # type: ignore[attr-defined]

    def pixel(side: str, x: float, y: float) -> np.ndarray:
        axes = left if side == "left" else right
        u, v = axes.transData.transform((x, y))
        return np.array([u - 0.5, HEIGHT - v - 0.5])

    return picture, pixel


def _written(
    folder: Path, name: str, pixel: Any, top: float, ends: dict[str, Any], **more: Any
) -> Path:
    def points(side: str, *pairs: tuple[float, float], value: int) -> list[Inline]:
        return [
            Inline(pixel=[round(float(p), 2) for p in pixel(side, *pair)], value=pair[value])
            for pair in pairs
        ]

    data = {
        "image": name,
        **more,
        "x": {"quantity": "speed ratio", "points": points("left", (0, 0), (1, 0), value=0)},
        "curve": [
            {"quantity": "torque ratio", "points": points("left", (0, 0), (0, 2.5), value=1),
             **ends["left"]},
            {"quantity": "input torque", "unit": "N.m",
             "at_speed": Inline(unit="rpm", value=1700),
             "points": points("right", (1, 0), (1, top), value=1), **ends["right"]},
        ],
    }  # fmt: skip
    path = folder / f"{name}.toml"
    path.write_text(toml_text(data), encoding="utf-8")
    return path


def photographed(
    folder: Path,
    *,
    corners: bool,
    noise: float = 0.0,
    tilt: tuple[float, float] = (60.0, 35.0),
    seed: int = 0,
) -> Path:
    """Write a chart as photographed from the side, and its description.

    Parameters
    ----------
    folder : Path
    corners : bool
        Whether the description names the corners of the frame.
    noise : float
        By which clicks are off [px], one standard deviation.
    tilt : (float, float)
        How much shorter the far side is and how much lower its end lies [px].
    seed : int
    """
    rng = np.random.default_rng(seed)
    picture, flat = _drawn(("#c84a27", "#0c6580"), 1000.0)
    far, low = tilt
    seen = [
        (40.0, 30.0),
        (WIDTH - far, 30.0 + low),
        (WIDTH - far + 10, HEIGHT - low),
        (20.0, 690.0),
    ]
    straight = straight_from(seen)
    # From the photograph back into the flat chart, whose size the corners' rectangle has not.
    size = straight.pixels(np.array([seen[2]]))[0]
    scale = np.diag([WIDTH / size[0], HEIGHT / size[1], 1.0])
    back = scale @ straight.matrix
    back = back / back[2, 2]
    name = f"photo-{seed}.png"
    picture.transform(
        (WIDTH, HEIGHT), Image.Transform.PERSPECTIVE, tuple(back.ravel()[:8]),
        resample=Image.Resampling.BICUBIC, fillcolor=(255, 255, 255),
    ).save(folder / name)  # fmt: skip
    forth = np.linalg.inv(back)

    def pixel(side: str, x: float, y: float) -> np.ndarray:
        u, v, w = forth @ np.append(flat(side, x, y) + 0.5, 1.0)
        return np.array([u / w, v / w]) - 0.5 + noise * rng.standard_normal(2)

    ends = {
        side: {"trace": Inline({
            "from": [round(float(p)) for p in pixel(side, 0.006, float(y(0.006)))],
            "to": [round(float(p)) for p in pixel(side, 0.975, float(y(0.975)))],
            "colour": colour})}
        for side, y, colour in (("left", CONVERTER.torque_ratio_at, "#c84a27"),
                                ("right", torque, "#0c6580"))
    }  # fmt: skip
    frame = [pixel("left", 0, 2.5), pixel("left", 1, 2.5), pixel("left", 1, 0), pixel("left", 0, 0)]
    more = {"corners": [[round(float(p), 2) for p in each] for each in frame]} if corners else {}
    return _written(folder, name, pixel, 1000.0, ends, pick_error=max(1.0, 2 * noise), **more)


def black_chart(folder: Path, *, wrong_end: bool = False) -> Path:
    """Write a chart whose two curves are black and cross, and its description.

    Parameters
    ----------
    folder : Path
    wrong_end : bool
        Whether the torque is picked along the torque ratio beyond the coupling point, as somebody
        does who changes over to the other curve.
    """
    picture, pixel = _drawn(("black", "black"), 1400.0, width=1.6)
    picture.save(folder / "black.png")
    ends: dict[str, Any] = {
        side: {"trace": Inline({
            "from": [round(float(p)) for p in pixel(side, 0.02, float(y(0.02)))],
            "to": [round(float(p)) for p in pixel(side, 0.97, float(y(0.97)))]})}
        for side, y in (("left", CONVERTER.torque_ratio_at), ("right", torque))
    }  # fmt: skip
    if wrong_end:
        nu = (0.0, 0.2, 0.4, 0.6, 0.8, 0.86)
        marks = [pixel("right", x, float(torque(x))) for x in nu]
        marks += [pixel("left", x, 1.6) for x in (0.9, 0.93, 0.97)]
        ends["right"] = {"picked": [[round(float(p), 1) for p in each] for each in marks]}
    return _written(folder, "black.png", pixel, 1400.0, ends)
