"""A small page to test with: clips whose frames carry their number as a colour, stills, maps, findings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from PIL import Image

from preview.page.model import (
    Camera,
    Checked,
    Clip,
    Download,
    Figure,
    Finding,
    Line,
    PageData,
    Plot,
    Rate,
    Shot,
    Still,
    Table,
)
from preview.review.clips import open_clip
from preview.timeline.rate import Rate as ShowRate
from preview.timeline.timecode import format_timecode, is_drop_frame, parse_timecode

FRAMES = 50
SIZE = (64, 36)
STEP = 26


def page_rate(text="25", first="10:00:00:00"):
    rate = ShowRate(text)
    return Rate(
        rate.fps.numerator,
        rate.fps.denominator,
        rate.nominal,
        is_drop_frame(first),
        first,
        parse_timecode(first, rate),
    )


def label(frame, rate):
    exact = ShowRate(f"{rate.numerator}/{rate.denominator}")
    return format_timecode(rate.first_count + frame, exact, rate.drop_frame)


def color(frame, blue):
    """The colour of a frame: its number to base 8 in red and green, STEP apart; the clip's own blue."""
    return (20 + STEP * (frame % 8), 20 + STEP * (frame // 8), blue)


BLUE = {
    ("programme", ""): 40,
    ("programme-as-shot", ""): 90,
    ("as-shot", "left"): 140,
    ("return", "left"): 190,
    ("as-shot", "jib"): 60,
    ("return", "jib"): 120,
    ("multiview", ""): 220,
}


def write_clip(path, rate, blue, frames=FRAMES, size=SIZE):
    with open_clip(path, size, Fraction(rate.numerator, rate.denominator), rate.first_timecode) as clip:
        for frame in range(frames):
            clip.write(np.full((size[1], size[0], 3), color(frame, blue), np.uint8))


def write_picture(path, rgb, size=SIZE):
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.new("RGB", size, rgb).save(path)


def finding(check, grade, shot, cameras, frames, worst, sentence, rate, figure=None, remedy=""):
    labels = (label(frames[0], rate), label(frames[1], rate))
    return Finding(check, grade, shot, cameras, frames, labels, worst, sentence, remedy, figure)


def make_site(folder, rate=None):
    """Files in ``folder`` and the page that names them: two shots and cameras, seven clips, four findings."""
    rate = rate or page_rate()
    last = FRAMES - 1
    write_picture(folder / "poster.png", (90, 90, 90))
    clips = []
    for (kind, subject), blue in BLUE.items():
        name = f"{kind}{'-' + subject if subject else ''}.mp4"
        write_clip(folder / name, rate, blue)
        words = f"{kind.replace('-', ' ')}{', ' + subject if subject else ''}"
        clips.append(Clip(kind, subject, words, name, SIZE, (0, last), None, "poster.png"))
    for name in ("still one.png", "map.png", "plan.png", "outlined.png"):
        write_picture(folder / name, (200, 180, 90), (320, 180))
    (folder / "findings.csv").write_text("check\n")

    def figure(name, alt):
        return Figure(name, (320, 180), alt, alt)

    shots = (
        Shot(1, "Opening", "left", (0, 24), (label(0, rate), label(24, rate)), "cut", "Wide", ""),
        Shot(
            2,
            "Answer",
            "jib",
            (25, last),
            (label(25, rate), label(last, rate)),
            "mix of 5 frames",
            "Close",
            "Slow.",
        ),
    )
    findings = (
        finding("off-wall", "fine", "Opening", ("left",), (0, 24), 3, "left stays on the wall.", rate),
        finding(
            "bleed",
            "compromise",
            "Answer",
            ("jib", "left"),
            (25, 40),
            33,
            "jib shows left's frustum.",
            rate,
            remedy="Work by the return.",
        ),
        finding(
            "crossing",
            "fault",
            "Opening",
            ("left",),
            (10, 20),
            17,
            "The jib's arm is in left's picture.",
            rate,
            figure("outlined.png", "The arm at the top, outlined"),
        ),
        finding(
            "cuts", "compromise", "", ("left", "jib"), (25, 29), 26, "Mix over the wrong background.", rate
        ),
    )
    frames = tuple(range(FRAMES))
    plots = (
        Plot(
            "bleed",
            "Another camera's frustum",
            "%",
            (
                Line("left", frames, tuple(float(n % 7) for n in frames)),
                Line("jib", frames, tuple(None if 20 <= n < 30 else 3.0 for n in frames)),
            ),
            2.0,
            "Up to 6 % on left.",
        ),
    )
    return PageData(
        title="The Test Hour",
        rate=rate,
        frames=(0, last),
        frame_count=FRAMES,
        verdict="One fault: the jib's arm is in shot 1.",
        verdict_grade="fault",
        told=("All 50 frames looked at.",),
        cameras=(
            Camera(
                1, "left", "Pedestal, 20 to 120 mm", (1,), None, (figure("plan.png", "Shot sheet of left"),)
            ),
            Camera(2, "jib", "Jib, 18 to 80 mm", (2,), None, ()),
        ),
        shots=shots,
        clips=tuple(clips),
        stills=(Still("programme", "", "Programme", 12, figure("still one.png", "Programme in shot 1")),),
        checks=(
            Checked("bleed", "Does it bleed?", "compromise", "1 finding", ("More than 1 %.",), ""),
            Checked("crossing", "Is anybody in shot?", "fault", "1 finding", (), ""),
            Checked("cuts", "Are cuts clean?", "compromise", "1 finding", (), ""),
            Checked("off-wall", "Past the wall?", "fine", "Nothing to say", (), ""),
            Checked("flashing", "Does it flash?", None, "", (), "not asked for"),
        ),
        findings=findings,
        plots=plots,
        wall_maps=(figure("map.png", "Overlap on the wall: 3 m2 in both frustums"),),
        floor_maps=(figure("map.png", "Clear zone of the close-up"),),
        plans=(figure("plan.png", "The studio from above"),),
        tables=(Table("Lenses", ("Camera", "Lens"), (("left", "20 to 120 mm"), ("jib", "18 to 80 mm"))),),
        downloads=(Download("findings.csv", "all findings"),),
        cautions=("Jib arms move weight over people: keep the swing area clear, trained operators decide.",),
        provenance=("Show file test.toml, SHA-256 0123",),
    )


HOSTILE = (
    '</script><img src=x onerror="document.title=1"> & \'q\' "d" \u2028 \U0001f3a5 \u05e9\u05dc\u05d5\u05dd'
)


def hostile(data):
    """The same page with every name and sentence one that would break out of a careless page."""
    cameras = tuple(replace(camera, name=f"{camera.name}{HOSTILE}", told=HOSTILE) for camera in data.cameras)
    names = {old.name: new.name for old, new in zip(data.cameras, cameras, strict=True)}
    return replace(
        data,
        title=HOSTILE,
        verdict=HOSTILE,
        cameras=cameras,
        shots=tuple(
            replace(one, name=f"{one.name}{HOSTILE}", camera=names[one.camera], note=HOSTILE, framing=HOSTILE)
            for one in data.shots
        ),
        clips=tuple(
            replace(one, subject=names.get(one.subject, one.subject), label=f"{one.label}{HOSTILE}")
            for one in data.clips
        ),
        findings=tuple(
            replace(
                one,
                sentence=HOSTILE,
                remedy=HOSTILE,
                shot=one.shot and f"{one.shot}{HOSTILE}",
                cameras=tuple(names[name] for name in one.cameras),
            )
            for one in data.findings
        ),
        plots=tuple(
            replace(
                plot,
                title=HOSTILE,
                told=HOSTILE,
                lines=tuple(replace(line, label=HOSTILE) for line in plot.lines),
            )
            for plot in data.plots
        ),
        tables=(Table(HOSTILE, (HOSTILE, "b"), ((HOSTILE, HOSTILE),)),),
        cautions=(HOSTILE,),
        provenance=(HOSTILE,),
    )


@dataclass(frozen=True)
class Many:
    """A page of an hour with many shots and findings and no pictures."""

    shots: int = 500
    findings: int = 2000
    frames: int = 90_000

    def data(self):
        rate = page_rate()
        size = self.frames // self.shots
        shots = tuple(
            Shot(
                n + 1,
                f"Shot number {n + 1}",
                ("left", "jib")[n % 2],
                (n * size, (n + 1) * size - 1),
                (label(n * size, rate), label((n + 1) * size - 1, rate)),
                "cut",
                "Wide",
                "",
            )
            for n in range(self.shots)
        )
        spread = self.frames // self.findings
        findings = tuple(
            finding(
                ("bleed", "crossing", "moire")[n % 3],
                ("fault", "compromise", "compromise", "fine")[n % 4],
                shots[min(n * spread // size, self.shots - 1)].name,
                (("left", "jib")[n % 2],),
                (n * spread, n * spread + 20),
                n * spread + 5,
                f"Sentence {n}: something is seen.",
                rate,
            )
            for n in range(self.findings)
        )
        frames = tuple(range(0, self.frames, 5))
        return PageData(
            "An Hour",
            rate,
            (0, self.frames - 1),
            self.frames,
            "Many findings.",
            "fault",
            (),
            (Camera(1, "left", "Pedestal", (), None, ()), Camera(2, "jib", "Jib", (), None, ())),
            shots,
            (),
            (),
            tuple(Checked(name, "?", "fault", "many", (), "") for name in ("bleed", "crossing", "moire")),
            findings,
            (
                Plot(
                    "bleed",
                    "Long",
                    "%",
                    (Line("left", frames, tuple(float(n % 11) for n in frames)),),
                    None,
                    "Long.",
                ),
            ),
            (),
            (),
            (),
            (),
            (),
            (),
            (),
        )
