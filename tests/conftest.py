"""Tests keep their jobs and coupons in a folder of their own, never in the user's."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

# The same cases every time, so that main is green for a reason; `make deep` sets HYPOTHESIS_PROFILE=anew for new ones.
settings.register_profile("same", derandomize=True)
settings.register_profile("anew", derandomize=False, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))


@pytest.fixture(autouse=True, scope="session")
def own_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Point every door, subprocesses included, at an empty data folder."""
    before = os.environ.get("LAGLINE_HOME")
    os.environ["LAGLINE_HOME"] = str(tmp_path_factory.mktemp("home"))
    yield
    os.environ.pop("LAGLINE_HOME")
    if before is not None:
        os.environ["LAGLINE_HOME"] = before
