"""Which tests make the fast run: python -m pytest -m fast."""

from __future__ import annotations

from pathlib import Path

HERE = Path(__file__).parent
# Folders and files that are slow by what they do: they start a browser, a kernel, Sphinx or the
# program itself again and again, wait for a disk, or search at random.
SLOW = (
    "browser",
    "cli/test_accept.py",  # draws a study for every test
    "cli/test_on_a_cluster.py",  # starts a cluster
    "cli/test_study_goes_on.py",  # writes a report for each way a machine can fail
    "cli/test_study_kept.py",  # runs studies again and again
    "cli/test_us_units.py",  # runs every verb
    "docs/test_build.py",
    "docs/test_pages.py",
    "faults",
    "judgement/evidence/test_acceptance.py",  # the same
    "judgement/evidence/test_possible.py",
    "judgement/motor/test_motor_cycle.py",  # goes through a cycle for every test
    "judgement/uncertainty/test_outside_draws.py",  # a Monte Carlo of its own
    "library/intake/test_scan_read.py",  # reads pictures, where the package is there
    "notebooks",
    "physics/haul/test_march.py",  # compiles
    "physics/haul/test_route_grip.py",  # integrates in time
    "physics/haul/test_route_step.py",  # ten times finer steps
    "physics/wheels/test_every_balance.py",  # integrates in time, and scans by brute force
    "physics/wheels/test_grip_heat.py",  # integrates in time
    "present/figures/test_load_lines.py",  # draws for every test
    "present/figures/test_present_and_candidate.py",  # the same
    "present/figures/test_read_back.py",  # draws everything, in both systems
    "present/figures/test_read_back_curves.py",  # the same, in the same process
    "present/lab/test_readings_form.py",  # weighs readings for every test
    "present/lesson/test_handout.py",  # writes a handout for every test
    "present/pages/test_what_if_page.py",  # measures a table for every test
    "present/report/test_odd_about_the_data.py",  # searches a catalogue for every test
    "present/test_documents.py",  # writes reports in both systems
    "present/test_documents_rows.py",  # the same, in the same process
    "properties",
    "tasks/test_cluster.py",  # starts a cluster
    "test_benchmarks.py",
)
# Examples in docstrings, which take no marker: a report, a route again and again.
SLOW_EXAMPLES = (
    "converter_match.api.acceptance.AcceptanceTest",
    "converter_match.api.acceptance.acceptance",
    "converter_match.api.notebook.readings_form",
    "converter_match.api.sizing.size_on_route",
    "converter_match.api.studies.report",
    "converter_match.api.studies.run_study",
    "converter_match.api.studies.uncertainty",
    "converter_match.present.notebook.report.section",
)


def is_slow(path: Path, name: str = "") -> bool:
    """Return whether a test is slow by where it stands, or an example by its name."""
    return name in SLOW_EXAMPLES or any(path.is_relative_to(HERE / place) for place in SLOW)


# Places whose tests share what is dear or what they gather: a browser, the rows of a page.
TOGETHER = (
    "tests/browser/",
    "tests/published/",
    "tests/present/figures/test_read_back",
    "tests/present/test_documents",
)


def together(file: str) -> str:
    """Return the name of the tests that one process runs: those of a file, or of what shares."""
    return next((place for place in TOGETHER if file.startswith(place)), file)
