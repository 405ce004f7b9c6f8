"""A plug-in of pytest for `mutation.py`: single tests asked for become their files, each once.

Tests that are asked for one by one, shortest first, would go from file to file and set up what a
file shares again and again.
"""

from __future__ import annotations

import pytest


def pytest_configure(config: pytest.Config) -> None:
    """Replace what is asked for, before anything is collected."""
    config.args[:] = dict.fromkeys(arg.partition("::")[0] for arg in config.args)
