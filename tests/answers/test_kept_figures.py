"""Every figure and document shows what it showed when somebody last looked at it.

What is drawn, axis by axis: names and ends of the axes, and of each line, mark and area its name,
its look, how many points it has, where some of them lie, and their mean; what is written, but not
where on the paper. Held as the answers are (see there).
"""

from __future__ import annotations

import pytest

from tests.answers.drawn import document_lines, figure_lines
from tests.answers.holding import compare, kept_names
from tests.present.documents import DOCUMENTS, document
from tests.present.gallery import GALLERY, figure_of

FIGURES = {f"figure-{name.replace(' ', '-')}": name for name in GALLERY}
WHOLES = {f"document-{name.replace(' ', '-')}": name for name in DOCUMENTS}


@pytest.mark.parametrize("kept", FIGURES)
def test_figure_shows_what_it_showed(kept, request):
    compare(kept, list(figure_lines(figure_of(FIGURES[kept]))), request)


@pytest.mark.parametrize("kept", WHOLES)
def test_document_holds_what_it_held(kept, request):
    compare(kept, list(document_lines(document(WHOLES[kept]), "si")), request)


def test_every_kept_figure_and_document_is_drawn():
    kept = {f"{kind}{name}" for kind in ("figure-", "document-") for name in kept_names(kind)}
    assert kept == {*FIGURES, *WHOLES}
