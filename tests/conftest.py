"""What every test shares: property tests are not timed, and kept pictures stay out of the user's folder."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile

from hypothesis import settings

# How long an example takes says nothing about whether it is right.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

if "PREVIEW_KEPT" not in os.environ:
    os.environ["PREVIEW_KEPT"] = tempfile.mkdtemp(prefix="kept-")
    atexit.register(shutil.rmtree, os.environ["PREVIEW_KEPT"], ignore_errors=True)
