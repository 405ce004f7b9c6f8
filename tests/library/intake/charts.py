"""Charts drawn from known curves, scaled, turned, sheared and spoilt: what a scan does to them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.library.toml_text import Inline, toml_text

CONVERTER = read_converter(shipped("converters")["single-stage-345mm-tight"])
AT = 1700 * np.pi / 30
WIDTH, HEIGHT = 1000, 700


def torque(nu: Any) -> Any:
    return np.asarray(CONVERTER.capacity_at(nu)) * AT**2


def chart(
    folder: Path,
    name: str = "chart.png",
    *,
    turned: float = 0.0,
    shear: float = 0.0,
    quality: int | None = None,
    grid: bool = False,
    log: bool = False,
    dashed: bool = False,
    three_points: bool = False,
    picked: tuple[float, ...] = (),
    **more: Any,
) -> Path:
    """Draw the converter, spoil the picture, and write its description; return that file.

    Calibration points and starting pixels come from matplotlib's own transform, so the truth does
    not pass through what is tested.
    """
    figure = Figure(figsize=(WIDTH / 100, HEIGHT / 100), dpi=100)
    FigureCanvasAgg(figure)
    left = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    right = left.twinx()
    nu = np.union1d(np.linspace(0, 0.98, 600), CONVERTER.characteristic.speed_ratio)
    left.plot(nu, CONVERTER.torque_ratio_at(nu), color="#c84a27", lw=2,
              ls=(0, (6, 3)) if dashed else "-")  # fmt: skip
    right.plot(nu, torque(nu), color="#0c6580", lw=2)
    left.set(xlim=(0, 1), ylim=(0, 2.5))
    low = 10.0 if log else 0.0
    if log:
        right.set_yscale("log")
    right.set_ylim(low, 1000)
    if grid:
        left.grid(visible=True, color="#9a9a9a")
    figure.canvas.draw()
    picture = Image.fromarray(np.asarray(figure.canvas.buffer_rgba())).convert("RGB")  # type: ignore[attr-defined]
    angle = np.radians(turned)
    cos, sin = np.cos(angle), np.sin(angle)
    move = np.array([[cos, -sin + shear, 60], [sin, cos, 70], [0, 0, 1]])
    spoilt = bool(turned or shear)
    if spoilt:
        back = np.linalg.inv(move)
        picture = picture.transform(
            (WIDTH + 150, HEIGHT + 170),
            Image.Transform.AFFINE,
            tuple(back[:2].ravel()),
            resample=Image.Resampling.BICUBIC,
            fillcolor=(255, 255, 255),
        )
    picture.save(folder / name, **({"quality": quality} if quality else {}))

    def pixel(axes: Any, x: float, y: float) -> list[float]:
        u, v = axes.transData.transform((x, y))
        place = np.array([u, HEIGHT - v, 1.0])
        place = move @ place if spoilt else place
        return [round(float(place[0]) - 0.5, 2), round(float(place[1]) - 0.5, 2)]

    def points(axes: Any, *pairs: tuple[float, float], value: int) -> list[Inline]:
        return [Inline(pixel=pixel(axes, *pair), value=pair[value]) for pair in pairs]

    middle_x = [(0.5, 0.0)] if three_points else []
    middle_y = [(0.0, 1.5)] if three_points else []
    curves: list[dict[str, Any]] = [
        {"quantity": "torque ratio",
         "points": points(left, (0, 0), (0, 2.5), *middle_y, value=1)},
        {"quantity": "input torque", "unit": "N.m", "scale": "log" if log else "linear",
         "at_speed": Inline(unit="rpm", value=1700),
         "points": points(right, (1, low), (1, 1000), value=1)},
    ]  # fmt: skip
    for curve, axes, y, colour in zip(
        curves,
        (left, right),
        (CONVERTER.torque_ratio_at, torque),
        ("#c84a27", "#0c6580"),
        strict=True,
    ):
        if picked:
            curve["picked"] = [pixel(axes, x, float(y(x))) for x in picked]
        else:
            ends = [pixel(axes, x, float(y(x))) for x in (0.004, 0.975)]
            curve["trace"] = Inline(
                {"from": [round(p) for p in ends[0]], "to": [round(p) for p in ends[1]],
                 "colour": colour}
            )  # fmt: skip
    x_axis = {"quantity": "speed ratio", "points": points(left, (0, 0), (1, 0), *middle_x, value=0)}
    description = folder / f"{name}.toml"
    data = {"image": name, **more, "x": x_axis, "curve": curves}
    description.write_text(toml_text(data), encoding="utf-8")
    return description
