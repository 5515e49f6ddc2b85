"""The same examples in every run: what fails here fails for everybody."""

from __future__ import annotations

import gc

from hypothesis import settings

gc.set_threshold(50_000, 20, 100)  # looking for garbage among all that is loaded is dear
settings.register_profile("same", derandomize=True, deadline=None)
settings.load_profile("same")
