"""The pinned versions are those that pyproject.toml asks for, each with its checksums."""

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PINNED = ROOT / ".ci" / "constraints"
_LINE = re.compile(r"([\w.-]+)==(\S+)(?: ; ([^\\\n]+?))? \\")
_HASH = re.compile(r"    --hash=sha256:[0-9a-f]{64}(?: \\)?")


def canonical(name):
    """Return the one spelling of a package's name (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def release(version):
    """Return the numbers of a version, without trailing zeros."""
    numbers = [int(part) for part in re.match(r"\d+(?:\.\d+)*", version)[0].split(".")]
    while numbers and numbers[-1] == 0:
        numbers.pop()
    return numbers


def pins(name):
    """Return {package: [version]} of a file of pins; every line is a pin or a checksum of one."""
    found, hashes = {}, []
    for line in (PINNED / f"{name}.txt").read_text(encoding="utf-8").splitlines():
        if pin := _LINE.fullmatch(line):
            found.setdefault(canonical(pin[1]), []).append(pin[2])
            hashes.append(0)
        else:
            assert _HASH.fullmatch(line), line
            hashes[-1] += 1
    assert found
    assert min(hashes) > 0  # pip takes none of the file where one is missing
    return found


def asked(*extras):
    """Return {package: lowest version} of what the project asks for, extras of extras included."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    lines = list(project["dependencies"])
    for extra in extras:
        lines += project["optional-dependencies"][extra]
    found = {}
    for line in lines:
        if inner := re.fullmatch(r"converter-match\[(\w+)\]", line):
            found |= asked(inner[1])
        else:
            name, floor = line.split(">=")
            found[canonical(name)] = floor
    return found


@pytest.mark.parametrize(
    ("name", "extras"), [("run", ()), ("test", ("test",)), ("lowest", ("test",))]
)
def test_pins_cover_what_is_asked_for_within_its_bounds(name, extras):
    pinned = pins(name)
    for package, floor in asked(*extras).items():
        assert package in pinned, f"run .ci/pin: {package} is pinned nowhere"
        for version in pinned[package]:
            assert release(version) >= release(floor), f"run .ci/pin: {package}=={version}"


def test_lowest_pins_are_the_floors():
    pinned = pins("lowest")
    above = {
        package: (pinned[package], floor)
        for package, floor in asked("test").items()
        if release(floor) not in map(release, pinned[package])
        # a stub's or patch's last number has no release of its own
        and not any(release(each)[: len(release(floor))] == release(floor)
                    for each in pinned[package])
    }  # fmt: skip
    assert above == {}


def test_program_and_tests_are_pinned_to_the_same_releases():
    tests = pins("test")
    assert {name: versions for name, versions in pins("run").items()
            if tests.get(name) != versions} == {}  # fmt: skip
