"""The page from stall to the governor as a widget: the same script, live for any pair."""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from converter_match.judgement.lesson.states import FullLoadStates
from converter_match.present.pages.frame import script, style
from converter_match.present.pages.slider import slider_data
from converter_match.units import System

# Another pair keeps the place of the slider, as far as it goes.
_RENDER = """
export default {
  render({ model, el }) {
    el.classList.add("cm-ride");
    const room = document.createElement("div");
    el.appendChild(room);
    let page = null;
    const redraw = () => {
      const data = model.get("pair");
      const where = page ? page.state.nu : data.nu[0];
      if (page) page.loose();
      page = drawSlider(room, data, el);
      page.show(where);
    };
    model.on("change:pair", redraw);
    redraw();
    return () => page.loose();
  },
};
"""
_STANDS = (
    "A slider from stall to the governor stands here when the notebook runs. As a page: "
    "converter-match lesson --out page.html"
)


class PairSlider(anywidget.AnyWidget):
    """One slider from stall to the governor, in a notebook.

    Parameters
    ----------
    states : FullLoadStates
    system : {"si", "us"}

    Attributes
    ----------
    pair : dict
        What the script draws, as `slider_data` makes it.
    """

    _esm = script() + _RENDER
    _css = style()
    pair = traitlets.Dict().tag(sync=True)

    def __init__(self, states: FullLoadStates, *, system: System = "si") -> None:
        super().__init__(pair=slider_data(states, system=system))

    def set(self, states: FullLoadStates, *, system: System = "si") -> None:
        """Show another pair, or the same one in other units."""
        self.pair = slider_data(states, system=system)

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        live, *more = super()._repr_mimebundle_(**kwargs) or ({},)
        return ({**live, "text/plain": _STANDS, "text/html": f"<p>{_STANDS}</p>"}, *more)
