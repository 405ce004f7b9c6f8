"""A report as one web page that needs nothing else: styles and pictures are inside."""

from __future__ import annotations

import re

from markupsafe import Markup

from converter_match.present.pages.page_template import template
from converter_match.present.report.model import Report, ReportPicture
from converter_match.present.report.words import MOVING_TITLE

_ID = re.compile(r'(\sid="|xlink:href="#|\shref="#|url\(#)')
_OWN_ID = re.compile(r'\sid="([^"]*)"')
_REFERENCE = re.compile(r'(?:href="#|url\(#)([^")]+)')
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
_METADATA = re.compile(r"<metadata>.*?</metadata>", re.DOTALL)


def report_html(report: Report) -> str:
    """Return a report as HTML.

    Every text is escaped; a name that looks like markup stays a name. A value that the template
    asks for and does not get is an error, not a gap.

    Parameters
    ----------
    report : Report
    """
    pictures = {item.name: inline_svg(item, row) for row, item in enumerate(report.pictures, 1)}
    return template("report.html.j2").render(
        report=report, pictures=pictures, pages_title=MOVING_TITLE
    )


def inline_svg(picture: ReportPicture, number: int) -> Markup:
    """Return a figure as SVG that can stand in a page beside others.

    Of its ids those stay that it refers to, with a prefix, since two figures may use the same;
    comments go, since matplotlib repeats there every text that it draws.
    """
    text = picture.svg.decode("utf-8")
    text = text[text.index("<svg") :]
    text = _METADATA.sub("", _COMMENT.sub("", text))
    used = set(_REFERENCE.findall(text))
    text = _OWN_ID.sub(lambda match: match[0] if match[1] in used else "", text)
    text = _ID.sub(rf"\g<1>f{number}-", text)
    head, rest = text.split(">", 1)
    # The page decides about the width; the height follows from the viewBox.
    head = re.sub(r'\s(width|height)="[^"]*"', "", head)
    return Markup(f'{head} role="img" aria-labelledby="caption-{number}">{rest}')
