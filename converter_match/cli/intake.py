"""Verb ``intake``: bring in a dealer's sheet, a chart, or a spec line."""

from __future__ import annotations

import argparse
import os
import re
import sys
from typing import TYPE_CHECKING, Any

from converter_match.cli import options
from converter_match.errors import InputError

if TYPE_CHECKING:
    from converter_match.library.intake.draft import Draft

NAME = "intake"
HELP = "bring in a dealer's sheet, a chart or a spec line"
DESCRIPTION = """\
Bring in a dealer's sheet as it comes (CSV, text, XLSX), a chart (a small TOML file that describes
the picture), an engine's spec line, or how a converter stalls. Sheets are of converters,
engines or electric motors.

Says what was understood, every assumption, every row that was not used and everything that is odd
or open. Writes a component file only with --out and --accept, and only when nothing is open.

exit status: 0 nothing is open; 2 the file cannot be used, or something in it contradicts itself;
3 questions are open: answer them with the options named in each, and run again.

examples:
  converter-match intake sheet.csv
  converter-match intake sheet.xlsx --sheet Data --unit "K=rpm/sqrt(lbf.ft)" --stator one-way
  converter-match intake sheet.csv --profile-diameter "345 mm" --confirm row:12 --accept \\
      --out my-converter.toml
  converter-match intake chart.toml --figure read.png
  converter-match intake scan.png --ocr --snippets cells.html
  converter-match intake --spec-line "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; high idle 2380 rpm"
  converter-match intake --spec-line "stalls at 2400 rpm behind 300 lbf.ft, torque ratio 2.2"
  converter-match intake sheets/ --accept --out library/
  converter-match intake my-converter.toml --export my-converter.xlsx"""
_BARE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
# Option -> (fact, default unit of a bare number, help).
_FACTS = (
    ("id", None, "short name"),
    ("name", None, "display name"),
    ("source", None, "where the numbers come from"),
    ("stator", None, "one-way, fixed or none"),
    ("profile-diameter", "mm", "largest diameter of the flow circuit"),
    ("oil-density", "kg/m3", "at which the capacity was measured"),
    ("coupling-speed-ratio", "", "where the torque ratio falls to 1"),
    ("reference-speed", "rpm", "impeller speed of a torque or power column"),
    ("reference-torque", "N.m", "constant input torque of a speed column"),
    ("stall-speed", "rpm", "of a converter known by its stall"),
    ("stall-torque", "N.m", "that goes into it there"),
    ("stall-torque-ratio", "", "turbine torque / input torque there"),
    ("stall-torque-ratio-least", "", "of a range"),
    ("stall-torque-ratio-most", "", "of a range"),
    ("rating-basis", None, "gross or net"),
    ("rating-standard", None, "such as ISO 14396"),
    ("aspiration", None, "naturally-aspirated, turbocharged or turbocharged-aftercooled"),
    ("governing", None, "speed or torque"),
    ("displacement", "L", "swept volume"),
    ("torque-band", "", "by which the torque may be off, as a share"),
    ("low-idle", "rpm", ""),
    ("rated-speed", "rpm", ""),
    ("high-idle", "rpm", "without load at full throttle"),
    ("rated-power", "kW", "of a spec line"),
    ("peak-torque", "N.m", "of a spec line"),
    ("peak-torque-speed", "rpm", "of a spec line"),
    ("speed-limit", "rpm", "of a motor: where its controller takes the torque away"),
    ("peak-time", "s", "for which a motor holds its peak torque"),
    ("peak-from", None, "cold or warm: from which a motor holds it"),
    ("nominal-voltage", "V", "of a motor, at which its torques hold"),
    ("thermal-class", None, "of a motor's winding: 105, 120, 130, 155 or 180"),
)
# Unit of a bare number -> what the help calls a value.
_METAVARS = {
    None: "TEXT", "": "RATIO", "mm": "MM", "kg/m3": "KG/M3", "rpm": "RPM", "L": "L", "kW": "KW",
    "N.m": "NM", "s": "S", "V": "V",
}  # fmt: skip


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument(
        "file",
        nargs="?",
        metavar="FILE",
        help="sheet, chart description, a folder of sheets, or - for pasted text",
    )
    parser.add_argument(
        "--spec-line",
        metavar="TEXT",
        help="an engine's spec line, or how a converter stalls, in place of FILE",
    )
    kinds = ("converter", "engine", "motor")
    parser.add_argument("--kind", choices=kinds, help="what the sheet is about")
    parser.add_argument("--sheet", metavar="NAME", help="which sheet of a workbook")
    parser.add_argument(
        "--encoding", metavar="NAME", help="of a text file, such as cp1250; guessed without it"
    )
    parser.add_argument(
        "--ocr",
        action="store_true",
        help='read a table off a picture (PNG, JPEG, PDF); needs the extra "ocr". Every cell is '
        "shown beside its snippet (--snippets), and none is taken unasked",
    )
    parser.add_argument("--page", metavar="N", help="of a PDF with such a table; the first without")
    parser.add_argument("--map", metavar="FILE", help="headings of another language (TOML)")
    what = parser.add_argument_group("answers", "COLUMN is a heading or a number.")
    for option, metavar, text in (
        ("column", "COLUMN=ROLE", "what a column is: speed_ratio, torque_ratio, k_factor, ..."),
        ("unit", "COLUMN=UNIT", "the unit of a column"),
        ("factor", "COLUMN=NUMBER", "what the numbers of a column are multiplied by"),
        ("ignore", "COLUMN", "do not use a column"),
        ("leave-out", "ROW", "do not use a row"),
        ("confirm", "KEY", "agree to what a question proposes"),
    ):
        what.add_argument(f"--{option}", metavar=metavar, action="append", default=[], help=text)
    what.add_argument(
        "--cell",
        metavar="CELL=TEXT",
        action="append",
        default=[],
        help="what stands in a cell that --ocr read, such as R4C2=0.85",
    )
    what.add_argument("--table", metavar="N", help="which of several tables on a sheet")
    what.add_argument("--decimal", choices=("point", "comma"), help="the decimal mark")
    what.add_argument("--rating", metavar="NAME", help="which of several ratings")
    what.add_argument(
        "--smooth",
        action="store_true",
        help="smooth between corners; the points as they came stay in the file",
    )
    facts = parser.add_argument_group(
        "facts that are not on the sheet", "A plain number is in the unit named."
    )
    for option, unit, text in _FACTS:
        said = " ".join(part for part in (text, f"[{unit}]" if unit else "") if part)
        names = [f"--{option}"] + (["--diameter"] if option == "profile-diameter" else [])
        facts.add_argument(*names, metavar=_METAVARS[unit], help=said)
    output = parser.add_argument_group("output")
    output.add_argument("--accept", action="store_true", help="the draft is right: write it")
    output.add_argument("--out", metavar="FILE", help="the component file to write (TOML)")
    output.add_argument(
        "--save-answers",
        action="store_true",
        help="keep the answers beside FILE (FILE.answers.toml), where the next run finds them",
    )
    output.add_argument(
        "--fresh", action="store_true", help="leave answers saved beside FILE aside"
    )
    output.add_argument(
        "--snippets",
        metavar="FILE",
        help="of a table that --ocr read: a page with each cell beside its snippet (.html)",
    )
    output.add_argument("--figure", metavar="FILE", help="draw the draft (.png, .svg or .pdf)")
    output.add_argument(
        "--export", metavar="FILE", help="write a component FILE as a sheet (.csv or .xlsx)"
    )
    output.add_argument(
        "--json", action="store_true", help="print the draft, or what was exported, as JSON"
    )
    options.add_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Read, say what was understood, write on consent; return the exit status."""
    from converter_match.cli import BAD_INPUT, FAILS

    if args.export:
        return _export(args)
    if (args.cell or args.page or args.snippets) and not args.ocr:
        raise InputError(
            "holds for a table that is read off a picture", source="--cell, --page, --snippets",
            hint="add --ocr",
        )  # fmt: skip
    if args.ocr and (args.file in (None, "-") or args.spec_line is not None):
        raise InputError("needs a picture", source="--ocr", expected="PNG, JPEG or PDF as FILE")
    if args.file is not None and os.path.isdir(args.file):
        return _folder(args)
    draft = _draft(args)
    if args.figure:
        from converter_match.present.drawing.style import save
        from converter_match.present.figures.intake import draft_figure

        save(draft_figure(draft, system=args.units), args.figure, overwrite=args.overwrite)
        if draft.chart is not None and draft.chart.image is not None:
            from converter_match.present.figures.chart_path import chart_path

            stem, ending = os.path.splitext(args.figure)
            save(chart_path(draft), f"{stem}-path{ending}", overwrite=args.overwrite)
            print(f"path over the picture: {stem}-path{ending}", file=sys.stderr)
    if args.snippets:
        _snippets(args, draft)
    if args.save_answers:
        _save(args, draft)
    written = None
    if not draft.open and args.accept and args.out:
        draft.accept()
        draft.write(args.out, overwrite=args.overwrite)
        written = args.out
    if args.json:
        options.print_json({**draft.to_dict(), "written": written})
    else:
        options.say_answer(draft, args.units)
        print()
        options.say(_outcome(draft, args, written))
    if draft.errors:
        first = draft.errors[0].text()
        more = f" (and {len(draft.open) - 1} more)" if len(draft.open) > 1 else ""
        print(f"converter-match: {draft.source}: {first}{more}", file=sys.stderr)
        return BAD_INPUT
    return FAILS if draft.open else 0


def _save(args: argparse.Namespace, draft: Draft) -> None:
    from converter_match.library.intake.answers_file import save_answers

    if args.file in (None, "-"):
        raise InputError(
            "there is no file beside which they could be kept", source="--save-answers"
        )
    path = save_answers(draft.answers, args.file)
    print(f"answers: {path}", file=sys.stderr)


def _snippets(args: argparse.Namespace, draft: Draft) -> None:
    from converter_match.library.atomic import write_text
    from converter_match.present.notebook.scan import scan_page

    if not args.snippets.casefold().endswith((".html", ".htm")):
        raise InputError(
            "not a kind of page", source="--snippets", found=args.snippets, expected=".html"
        )
    write_text(scan_page(draft), args.snippets, overwrite=args.overwrite)
    print(f"every cell beside its snippet: {args.snippets}", file=sys.stderr)


def _folder(args: argparse.Namespace) -> int:
    """Read a folder of sheets; write what has nothing open, on consent, into another folder."""
    from converter_match.cli import BAD_INPUT, FAILS
    from converter_match.library.intake.folder import bring_folder

    if args.save_answers or args.figure or args.sheet:
        raise InputError(
            "holds for one sheet, not for a folder", source="--save-answers, --figure, --sheet"
        )
    brought = bring_folder(args.file, fresh=args.fresh, **_answers(args))
    target = args.out if args.accept and args.out else None
    if target is not None and not os.path.isdir(target):
        raise InputError("there is no such folder", source="--out", found=target)
    refused = open_ones = 0
    for each in brought:
        if each.draft is None:
            refused += 1
            options.say(f"{each.title}: {each.refusal}")
            continue
        open_ones += bool(each.draft.open)
        refused += bool(each.draft.errors)
        done = "nothing is open"
        if each.draft.open:
            done = f"{len(each.draft.open)} open"
        elif target is not None:
            each.draft.write(os.path.join(target, each.name), overwrite=args.overwrite)
            done = f"written: {os.path.join(target, each.name)}"
        options.say(f"{each.title}: {each.draft.kind}; {done}")
        for problem in each.draft.open:
            options.say(f"  - {problem.text()}")
    if open_ones:
        options.say("answer each sheet by itself with --save-answers, then run this again")
    return BAD_INPUT if refused else FAILS if open_ones else 0


def _outcome(draft: Draft, args: argparse.Namespace, written: str | None) -> str:
    if written:
        return f"written: {written}"
    if draft.open:
        return "nothing was written: answer what is open, and run again"
    if args.out and not args.accept:
        return "nothing was written: add --accept if the draft is right"
    if args.accept and not args.out:
        return "nothing was written: say where with --out"
    return "nothing was written: --accept --out FILE writes it"


def _draft(args: argparse.Namespace) -> Draft:
    from converter_match.library.intake.answers import Answers
    from converter_match.library.intake.reading import intake, intake_text

    answers = _answers(args)
    if args.spec_line is not None:
        if args.file is not None:
            raise InputError("give a file or a spec line, not both", source="--spec-line")
        from converter_match.library.intake.reading import intake_line

        return intake_line(args.spec_line, **answers)
    if args.file is None:
        raise InputError("missing", source="FILE", expected="a sheet, a chart, or --spec-line TEXT")
    if args.file == "-":
        limit = 2_000_000
        raw = sys.stdin.buffer.read(limit + 1)
        if len(raw) > limit:
            raise InputError("is too large", source="standard input", expected="at most 2 MB")
        from converter_match.library.intake.text_table import decoded

        text, _ = decoded(raw, "standard input", args.encoding)
        return intake_text(text, "standard input", **answers)
    if args.file.casefold().endswith(".toml"):
        from converter_match.library.intake.picture import intake_picture

        return intake_picture(args.file, Answers().plus(**answers), fresh=args.fresh)
    if args.ocr:
        from converter_match.library.intake.reading import intake_scan

        return intake_scan(args.file, fresh=args.fresh, **answers)
    return intake(args.file, fresh=args.fresh, **answers)


def _answers(args: argparse.Namespace) -> dict[str, Any]:
    answers: dict[str, Any] = {
        "kind": args.kind,
        "sheet": args.sheet,
        "encoding": args.encoding,
        "rating": args.rating,
        "smooth": args.smooth,
        "columns": dict(_pair(text, "--column") for text in args.column),
        "units": dict(_pair(text, "--unit") for text in args.unit),
        "factors": dict(_factor(text) for text in args.factor),
        "cells": dict(_cell(text) for text in args.cell),
        "page": None if args.page is None else _count(args.page, "--page", "a page's number"),
        "table": None if args.table is None else _count(args.table, "--table", "a table's number"),
        "ignore": tuple(args.ignore),
        "leave_out": tuple(_count(text, "--leave-out", "a row number") for text in args.leave_out),
        "confirm": tuple(args.confirm),
        "decimal": {"point": ".", "comma": ",", None: None}[args.decimal],
        "facts": {},
    }
    if args.map:
        from converter_match.library.intake.mapping import read_mapping

        answers |= read_mapping(args.map)
    for option, unit, _ in _FACTS:
        text = getattr(args, option.replace("-", "_"))
        if text is not None:
            fact = option.replace("-", "_")
            answers["facts"][fact] = text if unit is None else _quantity(text.strip(), fact, unit)
    return answers


def _quantity(text: str, fact: str, unit: str) -> str:
    """Return a fact that is a number, with its unit; refuse it here, also where it is not used."""
    from converter_match.library.intake.facts import fact_si

    option = f"--{fact.replace('_', '-')}"
    if _BARE.fullmatch(text):
        given = f"{text} {unit}".strip()
    elif re.fullmatch(r"[-+\d.,\s]+", text):  # with a comma: two people would read two numbers
        options.in_si(text, option, "ratio", unit)
        given = text
    else:
        given = text
    try:
        fact_si(fact, given)
    except InputError as error:
        typed = {option: options.Typed(option, text)}
        raise options.as_typed(error, typed) from None
    return given


def _pair(text: str, option: str) -> tuple[str, str]:
    column, sign, value = text.rpartition("=")
    if not sign or not column.strip() or not value.strip():
        raise InputError("needs a column and a value", source=option, found=text,
                         expected="COLUMN=...")  # fmt: skip
    return column.strip(), value.strip()


def _cell(text: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not sign or not re.fullmatch(r"\s*[rR][1-9]\d*[cC][1-9]\d*\s*", name):
        raise InputError("needs a cell and a text", source="--cell", found=text,
                         expected="such as R4C2=0.85: row 4, column 2")  # fmt: skip
    return name.strip().upper(), value.strip()


def _count(text: str, option: str, what: str) -> int:
    if not re.fullmatch(r"[1-9]\d{0,5}", text.strip()):
        raise InputError(f"not {what}", source=option, found=text)
    return int(text)


def _factor(text: str) -> tuple[str, float]:
    column, number = _pair(text, "--factor")
    if not _BARE.fullmatch(number) or float(number) == 0.0:
        raise InputError(
            "not a number other than zero", source="--factor", found=text, expected="COLUMN=0.1"
        )
    return column, float(number)


def _export(args: argparse.Namespace) -> int:
    from converter_match.library.intake.export import export_component
    from converter_match.library.read import read_component

    if args.file is None:
        raise InputError("missing", source="FILE", expected="the component file to export")
    left = export_component(read_component(args.file), args.export, overwrite=args.overwrite)
    if args.json:
        options.print_json({"written": args.export, "left_out": list(left)})
        return 0
    print(f"written: {args.export}")
    if left:
        options.say(f"a sheet has no place for: {', '.join(left)}")
    return 0
