"""What goes into the archive and the wheel: files under version control, and nothing else."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

# Where a file of the checkout stands in the wheel; what is not named stays out of it.
_IN_THE_WHEEL = {
    "converter_match/": "converter_match/",
    "data/": "converter_match/_data/",
    "notebooks/": "converter_match/_notebooks/",
}


class TrackedFiles(BuildHookInterface):  # type: ignore[type-arg, misc]
    """Name every file that is packed, so that no stray one of a checkout is published."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Add the files of this build; an editable installation copies none."""
        if version == "editable":
            return
        for name in _files(Path(self.root)):
            if self.target_name == "sdist":
                build_data["force_include"][name] = name
            else:
                for folder, home in _IN_THE_WHEEL.items():
                    if name.startswith(folder):
                        build_data["force_include"][name] = home + name.removeprefix(folder)


def _files(root: Path) -> list[str]:
    """Return what git knows; outside a checkout, as in an unpacked archive, all that is there."""
    if not (root / ".git").exists():
        paths = (path for path in root.rglob("*") if path.is_file() and path.suffix != ".pyc")
        return sorted(path.relative_to(root).as_posix() for path in paths)
    listed = subprocess.run(
        ["git", "-C", str(root), "ls-files", "-z"], capture_output=True, check=True
    )
    names = listed.stdout.decode("utf-8").split("\0")
    return sorted(name for name in names if name and (root / name).is_file())
