"""Settings for all tests: Hypothesis measures no time, since a loaded machine is no fault."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("evenloop", deadline=None, print_blob=True)
settings.load_profile("evenloop")
