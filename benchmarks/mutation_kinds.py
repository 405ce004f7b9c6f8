"""What kind of change a mutation is: what a page says, or how it lies on the paper.

A number of a figure can be a result, or the place of a word in inches. Tests have to notice the
first; of the second most changes leave a page as good as before. So that nobody sorts by hand after
the run, the class of a change follows from where it stands in the code, by this rule, and is known
before anything is tried:

layout
    The change lies inside one of these:
    - a keyword argument, or a key of a mapping or its value, that names a look (`LOOKS`: colour,
      width, size, weight, alignment, order on top of each other, distances on the paper), or
      the preferred place of a label (`LABEL_PLACE`, in the calls of `LABEL_CALLS`);
    - the arguments of a call that only divides the paper (`PAPER_CALLS`);
    - arithmetic in which the scale of the letters stands (`font_scale`);
    - a number or an arithmetic operator among the first two arguments of a call that puts words in
      shares of a page or of a panel (`text` of a figure, or with `transform=`);
    - a number or an arithmetic operator in a module whose numbers are lengths on paper (`ON_PAPER`:
      labels, fonts, set pages, the sketch of a converter).
inert
    Nothing can follow from it while the program is right: `strict=True` of `zip`, a check of
    ourselves, and the first argument of `cast`, which is for the type checker. Never drawn.
message
    What an `InputError` or a `Note` says; outside of `present`, any text with a space in it too: a
    test of a message asks for the words that matter, and not for all.
code
    All else: numbers, units, texts on a page, which curve, which side, comparisons, signs, order,
    conditions, digits, arguments left out, names by which things are found. The rate that counts.

Outside of `present` nothing is layout.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from itertools import pairwise

LOOKS = frozenset(
    """color colors facecolor edgecolor markerfacecolor markeredgecolor markeredgewidth
    linewidth linewidths alpha zorder size fontsize weight bold family ha va pad markersize
    clip_on annotation_clip bbox boxstyle xytext textcoords arrowprops solid_capstyle
    dash_capstyle hspace wspace width_ratios height_ratios figsize dpi rotation indent hatch
    font_scale parse_math line_factor shrinkA shrinkB length""".split()
)
LABEL_PLACE = frozenset({"near", "side", "drop", "way"})
LABEL_CALLS = frozenset({"label_line", "label_ends", "label_points", "place_words"})
PAPER_CALLS = frozenset(
    "add_gridspec margins tick_params new_figure set_position set_rotation".split()
)
ON_PAPER = frozenset(
    """present/drawing/labels present/drawing/callouts present/drawing/ground
    present/drawing/fonts present/report/pdf present/stall/sheet_pdf
    present/figures/converter_section""".split()
)
KINDS = ("code", "layout", "message")

# Where two versions of a function differ: the nodes above, and the node that is not the same.
Place = tuple[tuple[ast.AST, ...], ast.AST]


def kind_of(module: str, original: ast.AST, changed: ast.AST) -> str:
    """Return "code", "layout", "message" or "inert", by the rule above.

    Parameters
    ----------
    module : str
        As "present/figures/route".
    original, changed : ast.AST
        The function before and after, names made alike.
    """
    on_page = module.startswith("present/")
    places = list(differences(original, changed))
    if all(_is_message(place, texts=not on_page) for place in places):
        return "message"
    if all(map(_is_inert, places)):
        return "inert"
    if on_page and all(_is_layout(module, place) for place in places):
        return "layout"
    return "code"


def differences(old: ast.AST, new: ast.AST, above: tuple[ast.AST, ...] = ()) -> Iterator[Place]:
    """Yield the smallest parts of `old` that are not as in `new`."""
    if type(old) is not type(new):
        yield above, old
        return
    inside = (*above, old)
    for name, before in ast.iter_fields(old):
        after = getattr(new, name)
        if isinstance(before, ast.AST) and isinstance(after, ast.AST):
            yield from differences(before, after, inside)
        elif isinstance(before, list) and isinstance(after, list):
            yield from _in_lists(before, after, inside)
        elif before != after:
            yield above, old


def _in_lists(before: list, after: list, inside: tuple[ast.AST, ...]) -> Iterator[Place]:
    pairs = list(zip(before, after, strict=False))
    if len(before) == len(after):
        for one, other in pairs:
            if isinstance(one, ast.AST) and isinstance(other, ast.AST):
                yield from differences(one, other, inside)
            elif one != other:
                yield inside[:-1], inside[-1]
        return
    apart = (row for row, (one, other) in enumerate(pairs) if _text(one) != _text(other))
    row = next(apart, len(pairs))  # what was left out is the first that is not the same
    yield inside, before[min(row, len(before) - 1)] if before else inside[-1]


def _text(node: object) -> str:
    return ast.dump(node) if isinstance(node, ast.AST) else repr(node)


def _is_message(place: Place, *, texts: bool) -> bool:
    above, node = place
    if any(
        isinstance(each, ast.Call) and _called(each) in ("InputError", "Note") for each in above
    ):
        return True
    said = node.value if texts and isinstance(node, ast.Constant) else None
    return isinstance(said, str) and " " in said.strip("X")


def _is_inert(place: Place) -> bool:
    above, node = place
    chain = (*above, node)
    for outer, inner in pairwise(chain):
        if not isinstance(outer, ast.Call):
            continue
        if _called(outer) == "zip" and isinstance(inner, ast.keyword):
            return isinstance(inner.value, ast.Constant) and inner.value.value is True
        if _called(outer) == "cast" and outer.args and inner is outer.args[0]:
            return True
    return False


def _is_layout(module: str, place: Place) -> bool:
    above, node = place
    chain = (*above, node)
    for outer, inner in pairwise(chain):
        if isinstance(outer, ast.Call) and _in_call(outer, inner, node):
            return True
        if isinstance(outer, ast.Dict) and _names_look(outer, inner):
            return True
        if isinstance(outer, ast.BinOp) and _has_letters(outer):
            return True
    if isinstance(node, ast.BinOp | ast.AugAssign) and _has_letters(node):
        return True
    return module in ON_PAPER and _is_arithmetic(place)


def _in_call(call: ast.Call, inner: ast.AST, node: ast.AST) -> bool:
    name = _called(call)
    if name in PAPER_CALLS and inner is not call.func:
        return True
    if isinstance(inner, ast.keyword):
        return inner.arg in LOOKS or (inner.arg in LABEL_PLACE and name in LABEL_CALLS)
    on_page = name == "text" and (
        any(each.arg == "transform" for each in call.keywords) or _owner(call) == "figure"
    )
    return on_page and inner in call.args[:2] and _is_arithmetic(((call,), node))


def _names_look(mapping: ast.Dict, inner: ast.AST) -> bool:
    for key, value in zip(mapping.keys, mapping.values, strict=True):
        if inner is key or inner is value:
            return isinstance(key, ast.Constant) and key.value in LOOKS
    return False


def _has_letters(node: ast.AST) -> bool:
    return any(isinstance(each, ast.Name) and each.id == "font_scale" for each in ast.walk(node))


def _is_arithmetic(place: Place) -> bool:
    """Whether a number changed, or an operator between numbers."""
    above, node = place
    if any(isinstance(each, ast.Subscript) for each in above):
        return False  # which one, not how far
    if isinstance(node, ast.Constant):
        return isinstance(node.value, int | float) and not isinstance(node.value, bool)
    parent = above[-1] if above else None
    return isinstance(node, ast.operator) or (
        isinstance(node, ast.AugAssign | ast.BinOp) or isinstance(parent, ast.UnaryOp)
    )


def _called(call: ast.Call) -> str:
    if isinstance(call.func, ast.Attribute):
        return call.func.attr
    return call.func.id if isinstance(call.func, ast.Name) else ""


def _owner(call: ast.Call) -> str:
    owner = call.func.value if isinstance(call.func, ast.Attribute) else None
    return owner.id if isinstance(owner, ast.Name) else ""
