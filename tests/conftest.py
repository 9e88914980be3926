"""Shared test settings.

Property tests draw the same examples in every run, so that a run says something about the code and
not about its luck; ``pytest --hypothesis-profile=search`` draws new ones.
"""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("fixed", derandomize=True, deadline=None)
settings.register_profile("search", derandomize=False, deadline=None, print_blob=True)
settings.load_profile("fixed")
