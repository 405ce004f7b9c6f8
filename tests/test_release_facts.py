"""What the package says about itself in several places is the same in all of them."""

import re
import tomllib
from pathlib import Path

import converter_match

ROOT = Path(__file__).resolve().parents[1]


def read(name):
    return (ROOT / name).read_text(encoding="utf-8")


def test_version_is_the_same_in_package_citation_and_change_log():
    cited = re.findall(r"^version: ([\w.]+)", read("CITATION.cff"), re.MULTILINE)
    logged = re.findall(r"^## (\S+)", read("CHANGELOG.md"), re.MULTILINE)
    assert cited == [converter_match.__version__]
    assert logged[0] == converter_match.__version__


def test_citation_has_a_date_once_the_version_is_released_and_not_before():
    first = next(line for line in read("CHANGELOG.md").splitlines() if line.startswith("## "))
    dated = re.search(r"^date-released: ", read("CITATION.cff"), re.MULTILINE)
    assert bool(dated) != first.endswith("(not released yet)")


def test_systems_claimed_are_those_that_the_readme_says_it_was_run_on():
    claimed = tomllib.loads(read("pyproject.toml"))["project"]["classifiers"]
    said = re.search(r"^Run on (\w+) so far: (.*?)\.\s(?=[A-Z])", read("README.md"),
                     re.MULTILINE | re.DOTALL)  # fmt: skip
    assert said
    systems = [line.split(" :: ")[-1] for line in claimed if line.startswith("Operating System")]
    assert systems == [said[1]]
    versions = {found[1] for line in claimed if (found := re.search(r"Python :: (3\.\d+)$", line))}
    assert versions == set(re.findall(r"3\.\d+", said[2]))
