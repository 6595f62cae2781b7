"""Delays as written: one unit each."""

from __future__ import annotations

from preview.show.entry import Findings
from preview.show.wording import shown


def check_delays(findings: Findings) -> None:
    """Note a tracking delay that is written in frames and in milliseconds, show-wide or of one camera.

    A camera may use the other unit than the show: its own value wins whichever way it is written.
    """
    top = findings.top
    for owner in (top, *top.tables("cameras")):
        delays = owner.table("delays")
        if delays.has("tracking_frames") and delays.has("tracking_ms"):
            frames, ms = (shown(delays.data[key]) for key in ("tracking_frames", "tracking_ms"))
            found = f"tracking_frames = {frames} and tracking_ms = {ms} are both written"
            findings.add(delays.at("tracking_ms"), found, "keep one of the two")
