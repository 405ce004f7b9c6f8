"""Which tests make the fast run: python -m pytest -m fast."""

from __future__ import annotations

from pathlib import Path

HERE = Path(__file__).parent
# Folders and files that are slow by what they do: they start a browser, a kernel, Sphinx or the
# program itself again and again, wait for a disk, or search at random.
SLOW = (
    "browser",
    "cli/test_study_goes_on.py",  # writes a report for each way a machine can fail
    "cli/test_us_units.py",  # runs every verb
    "docs/test_build.py",
    "docs/test_pages.py",
    "faults",
    "notebooks",
    "properties",
    "test_benchmarks.py",
)


def is_slow(path: Path) -> bool:
    """Return whether a test file is slow by where it stands."""
    return any(path.is_relative_to(HERE / name) for name in SLOW)
