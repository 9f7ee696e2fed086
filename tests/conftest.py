"""One profile for every test: the same examples each run; HYPOTHESIS_PROFILE=search looks further."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("repeatable", max_examples=40, deadline=None, derandomize=True)
settings.register_profile("search", max_examples=400, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))
