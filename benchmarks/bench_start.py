"""How soon the tool answers: importing it, `--help`, and a `solve` from a cold start.

Each is a process of its own, in turns with the processes that it is compared with.
"""

from __future__ import annotations

from measuring import Effort, Row, in_turns, python, ratio, seconds

from converter_match.library.shipped import find

# What the first two lines of a session load: reading parts, and matching them.
_SESSION = (
    "from converter_match import read, solve; import converter_match.library.read, "
    "converter_match.judgement.match.solve"
)


def rows(effort: Effort) -> list[Row]:
    pair = (
        "--engine",
        str(find("engines", "six-cylinder-7l-185kw")),
        "--converter",
        str(find("converters", "single-stage-345mm-tight")),
    )
    tool = ("-m", "converter_match")
    times = in_turns(
        {
            "numpy": python("-c", "import numpy"),
            "import": python("-c", "import converter_match"),
            "names": python("-c", _SESSION),
            "scipy": python("-c", "import numpy, scipy.interpolate"),
            "help": python(*tool, "--help"),
            "solve": python(*tool, "solve", *pair),
            "json": python(*tool, "solve", *pair, "--json"),
        },
        effort.repeats(10),
        children=True,
    )
    scipy = "import numpy, scipy.interpolate"
    return [
        ratio("import converter_match / import numpy", times["import"], times["numpy"], most=1.5),
        ratio("  and the names to read and solve / import numpy", times["names"], times["numpy"]),
        ratio(f"solve, cold / {scipy}", times["solve"], times["scipy"], most=1.5),
        ratio("  with --json", times["json"], times["scipy"]),
        seconds("solve, cold", times["solve"]),
        seconds("--help, cold", times["help"]),
    ]
