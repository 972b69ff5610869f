"""For the tests of the console: no example is judged by how long it took on a busy machine."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("console", deadline=None)
settings.load_profile("console")
