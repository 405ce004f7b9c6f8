"""``python -m converter_match`` is the command line."""

import sys

from converter_match.cli import main

if __name__ == "__main__":  # not where a process of a sweep loads it again
    sys.exit(main())
