"""For every test: how Hypothesis runs."""

from __future__ import annotations

from hypothesis import settings

# No test may fail because the machine is busy: an example may take as long as it takes.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
