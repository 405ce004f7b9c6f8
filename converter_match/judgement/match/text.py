"""The answer for an engine and a converter as a table with its notes: for a log and a notebook."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from converter_match.answer.noted import note_lines
from converter_match.judgement.conditions.air import site_line
from converter_match.units import System, note_text, show

if TYPE_CHECKING:
    from converter_match.judgement.match.result import MatchResult

# Title, quantity of the point, dimension, number format.
_COLUMNS = (
    ("speed ratio", "speed_ratio", None, ".3f"),
    ("torque ratio", "torque_ratio", None, ".3f"),
    ("efficiency", "efficiency", None, ".3f"),
    ("engine", "engine_speed", "angular_speed", ".0f"),
    ("input torque", "input_torque", "torque", ".0f"),
    ("turbine", "turbine_speed", "angular_speed", ".0f"),
    ("turbine torque", "turbine_torque", "torque", ".0f"),
    ("output", "output_power", "power", ".1f"),
    ("heat", "heat", "power", ".1f"),
)


@dataclass(frozen=True, eq=False)
class MatchText:
    """A match in words and figures: text at a console, a table in a notebook.

    Parameters
    ----------
    result : MatchResult
    system : {"si", "us"}
    """

    result: MatchResult
    system: System = "si"

    def text(self) -> str:
        """Return the named points and every note, readable in a log."""
        result, system = self.result, self.system
        table = [*self._head(), *self._rows()]
        widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
        lines = [
            f"{result.engine.name}  +  {result.converter.name}",
            f"torque basis: {self._basis()}; site: {site_line(result.site, system)}",
            "",
        ]
        for row in table:
            cells = [row[0].ljust(widths[0])]
            cells += [cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)]
            lines.append("  ".join(cells).rstrip())
        lines += self._below()
        lines += note_lines(result.notes, system)
        return "\n".join(lines)

    def _basis(self) -> str:
        engine = self.result.engine
        standard = f" ({engine.rating_standard})" if engine.rating_standard else ""
        listed = ", ".join(item.name for item in engine.accessories) or "none"
        text = f"{engine.rating_basis}{standard}, accessories deducted: {listed}"
        return text + self.result.hydraulics(self.system)

    def _below(self) -> list[str]:
        """Return what is said below the table."""
        said = [self.result.no_load_words] if self.result.no_load_words else []
        if self.result.stall_band:
            low, unit = show(self.result.stall_band[0], "angular_speed", self.system)
            high, _ = show(self.result.stall_band[1], "angular_speed", self.system)
            band = f"{low:.0f} .. {high:.0f} {unit}"
            said.append(f"stall speed over the uncertainty of the engine's curve: {band}")
        return said

    def _head(self) -> tuple[list[str], list[str]]:
        units = [
            show(0.0, dimension, self.system)[1] if dimension else "-"
            for _, _, dimension, _ in _COLUMNS
        ]
        return ["", *(title for title, *_ in _COLUMNS)], ["", *units]

    def _rows(self) -> Iterator[list[str]]:
        for name, point in self.result.key_points():
            row = [name]
            for _, key, dimension, form in _COLUMNS:
                if point is None:
                    row.append("none")
                    continue
                value = getattr(point, key)
                shown = show(value, dimension, self.system)[0] if dimension else value
                row.append(format(shown, form))
            yield row

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        result = self.result
        titles, units = self._head()
        head = "".join(f"<th>{escape(cell)}</th>" for cell in titles)
        below = "".join(f"<td>{escape(cell)}</td>" for cell in units)
        rows = "".join(
            "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>"
            for row in self._rows()
        )
        said = "".join(f"<p>{escape(line)}</p>" for line in self._below())
        notes = "".join(
            f"<li><b>{escape(note.kind)}</b> [{escape(note.code)}] "
            f"{escape(note_text(note, self.system))}</li>"
            for note in (*result.warnings, *result.assumptions)
        )
        title = escape(f"{result.engine.name} + {result.converter.name}")
        return (
            f"<table><caption>{title}; {escape(self._basis())}; site: "
            f"{escape(site_line(result.site, self.system))}</caption>"
            f"<thead><tr>{head}</tr><tr>{below}</tr></thead><tbody>{rows}</tbody></table>{said}<ul>{notes}</ul>"
        )
