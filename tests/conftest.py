"""What every test shares: property tests are not timed."""

from __future__ import annotations

from hypothesis import settings

# How long an example takes says nothing about whether it is right.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
