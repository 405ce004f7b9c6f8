"""The live match bench: state, what is drawn from it, and the widgets that show it.

``shelf`` finds the components to choose from, ``state`` is what has been chosen, ``scene`` turns
results into curves and words, ``view`` goes from state to scene without any widget, ``picture`` is
the widget that draws, ``app`` wires controls to all of them.
"""

from converter_match.present.bench.app import MatchBench, bench

__all__ = ["MatchBench", "bench"]
