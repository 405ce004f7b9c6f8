"""Verb ``schema``: print the JSON Schema of a kind of file, for an editor."""

from __future__ import annotations

import argparse

from converter_match.cli import options
from converter_match.library.schema import FILES

NAME = "schema"
HELP = "print the JSON Schema of a kind of file, for an editor"
DESCRIPTION = f"""\
Print the JSON Schema of a kind of file: which keys it has, what they hold and mean. An editor that
reads such schemas for TOML then completes keys, explains them and marks what is wrong while you
type. `converter-match check FILE` goes further: it also looks at the numbers.

kinds: {", ".join(sorted(FILES))}

examples:
  converter-match schema engine --out engine-1.schema.json
  converter-match schema converter"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument("kind", metavar="KIND", help="kind of file")
    parser.add_argument("--out", metavar="FILE", help="write it here instead of printing it")
    options.add_overwrite(parser)


def run(args: argparse.Namespace) -> int:
    """Print or write the schema; return the exit status."""
    import json

    from converter_match.library.schema import json_schema

    schema = json_schema(args.kind)
    if args.out:
        text = json.dumps(schema, indent=2, ensure_ascii=True) + "\n"
        options.write_text(args.out, text, overwrite=args.overwrite, option="--out")
    else:
        options.print_json(schema)
    return 0
