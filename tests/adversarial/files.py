"""The files of a nasty study: shipped ones, with what the case changes."""

from converter_match.library.shipped import find
from tests.library.sheets import printed_once

FILES = {
    "engine.toml": ("engines", "six-cylinder-7l-185kw"),
    "old.toml": ("engines", "six-cylinder-10l5-138kw"),
    "converter.toml": ("converters", "single-stage-345mm-tight"),
    "driveline.toml": ("drivelines", "four-speed-loader"),
    "machine.toml": ("machines", "wheel-loader-17t"),
    "site.toml": ("sites", "harbour-cold-morning"),
    "study.toml": ("studies", "loader-nothing-to-measure"),
}
TABLES = {"[[removed]]": "accessory", "[removed_limits]": "limits"}


def texts():
    found = {
        name: printed_once(find(*where).read_text(encoding="utf-8"))
        for name, where in FILES.items()
    }
    for name, (_, shipped) in FILES.items():
        found["study.toml"] = found["study.toml"].replace(f'"{shipped}"', f'"{name}"')
    return found


def without_removed(text):
    """Leave out the tables whose heads a case has struck."""
    kept, out = [], False
    for line in text.splitlines():
        if line.startswith("["):
            out = line in TABLES
        if not out:
            kept.append(line)
    return "\n".join(kept) + "\n"


def written(case, folder):
    """Write the files of a case into a folder, and return the study's."""
    files = texts()
    for name, old, new in case.changes:
        assert old in files[name], old
        files[name] = files[name].replace(old, new)
    for name, text in files.items():
        (folder / name).write_text(without_removed(text), encoding="utf-8")
    return folder / "study.toml"
