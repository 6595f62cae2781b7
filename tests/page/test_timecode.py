"""Law: the page's script labels frames as preview/timeline/timecode.py does, and finds them again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import preview.page
from preview.timeline.rate import Rate
from preview.timeline.timecode import day_frames, format_timecode

SCRIPT = (Path(preview.page.__file__).parent / "scripts" / "timecode.js").read_text(encoding="utf-8")


def frames_of_interest(rate, drop):
    """Both sides of every minute of two hours, of the day's end, and a spread of others."""
    day = day_frames(rate, drop)
    minute = 60 * rate.nominal
    near = {n * minute + d for n in range(121) for d in range(-5, 6)}
    if drop:
        near |= {n * (minute - rate.nominal // 15) + d for n in range(121) for d in range(-22, 23)}
    spread = set(range(0, day, 7919))
    return sorted(n for n in near | spread | set(range(day - 9, day)) if 0 <= n < day)


@pytest.mark.parametrize(
    ("text", "drop"),
    [("25", False), ("24000/1001", False), ("30000/1001", True), ("60000/1001", True), ("50", False)],
)
def test_labels_and_back(browser, text, drop):
    rate = Rate(text)
    frames = frames_of_interest(rate, drop)
    told = {"numerator": rate.fps.numerator, "denominator": rate.fps.denominator, "nominal": rate.nominal,
            "drop": drop, "firstCount": 0}  # fmt: skip
    page = browser.new_page()
    labels, back = page.evaluate(
        f"(() => {{ {SCRIPT}; const rate = {json.dumps(told)}; const frames = {json.dumps(frames)};"
        "const labels = frames.map((n) => timecodeLabel(n, rate));"
        "return [labels, labels.map((label) => frameOfLabel(label, rate))]; })()"
    )
    page.close()
    assert labels == [format_timecode(frame, rate, drop) for frame in frames]
    assert back == frames


def test_labels_that_no_frame_carries(browser):
    """SMPTE ST 12-1's drop-frame count has no 00:01:00;00 and ;01; the rest is malformed."""
    rate = {"numerator": 30000, "denominator": 1001, "nominal": 30, "drop": True, "firstCount": 0}
    wrong = ["00:01:00;00", "00:01:00;01", "24:00:00;00", "00:60:00;00", "00:00:00;30", "x", "", "00:00:10"]
    page = browser.new_page()
    found = page.evaluate(
        f"(() => {{ {SCRIPT}; return {json.dumps(wrong)}"
        f".map((one) => frameOfLabel(one, {json.dumps(rate)})); }})()"
    )
    page.close()
    assert found == [None] * len(wrong)
