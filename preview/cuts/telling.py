"""What was found about cuts, as data for tables and in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

from preview.checks.cut import Cut, proof_frames
from preview.checks.proof import FrameProof
from preview.checks.result import CheckResult, Finding, count, runs, span
from preview.cuts.drawing import OnPixels, Rounds
from preview.show.load import Show
from preview.suggest.picture_delay import DelaySuggestion
from preview.timeline.delay import camera_delay
from preview.timeline.timeline import Timeline


def with_proofs(
    result: CheckResult,
    cuts: Sequence[Cut],
    proofs: Mapping[int, FrameProof],
    delay: DelaySuggestion,
    frame_count: int,
) -> CheckResult:
    """The cuts' findings with what drawing them showed, and the remedy."""

    def told(finding: Finding, cut: Cut) -> Finding:
        own = [proofs[frame] for frame in proof_frames(cut, frame_count) if frame in proofs]
        odd = [proof for proof in own if proof.verdict != "as told"]
        label = {proof.frame: proof.timecode for proof in own}
        words = finding.sentence
        for verdict in dict.fromkeys(proof.verdict for proof in odd):
            stretches = runs([proof.frame for proof in odd if proof.verdict == verdict])
            labels = ", ".join(span(label[first], label[last]) for first, last in stretches)
            words += {
                "not visible": f" Drawn, nothing of it can be seen at {labels}.",
                "differs otherwise": f" Drawn, programme as shot differs for another reason at {labels}.",
            }[verdict]
        drawn = {
            "drawn_frames": len(own),
            "as_told_frames": len(own) - len(odd),
            "largest_difference_code": max((proof.largest_difference for proof in own), default=None),
        }
        remedy = ""
        if cut.wall_late_frames and delay.changes:
            remedy = (
                f"hold the mixer back {count(delay.picture_frames, 'frame')} "
                f"(delays.picture_frames = {delay.picture_frames})"
            )
        number = {"shot_number": cut.shot_index + 1}
        return replace(
            finding, sentence=words, remedy=remedy, measures={**number, **finding.measures, **drawn}
        )

    pairs = zip(result.findings, cuts, strict=True)
    return replace(result, findings=tuple(told(finding, cut) for finding, cut in pairs))


def show_data(show: Show, timeline: Timeline) -> dict[str, Any]:
    """The show, its drive and its delays in frames."""
    """What the report says of the show and its delays, as JSON takes it."""
    late = {c.name: camera_delay(show.file, c, timeline.rate) for c in show.file.cameras}
    return {
        "title": show.file.show.title,
        "path": str(show.path),
        "sha256": show.sha256,
        "frame_rate": str(timeline.rate),
        "frames": timeline.frame_count,
        "drive": show.file.drive.mode,
        "mix_switch": show.file.drive.mix_switch,
        "wall_switch_frames": show.file.delays.wall_switch_frames,
        "picture_frames": {name: delay.picture for name, delay in late.items()},
        "tracking_frames": {name: delay.tracking for name, delay in late.items()},
    }


def frames_data(
    cuts: Sequence[Cut], proofs: Mapping[int, FrameProof], frame_count: int
) -> list[dict[str, Any]]:
    """Every frame drawn, by cut: what the timeline says of it and what drawing it showed."""
    return [
        {
            "shot": cut.shot,
            "frame": frame,
            "timecode": proofs[frame].timecode,
            "state": proofs[frame].state,
            "largest_difference_code": proofs[frame].largest_difference,
            "differing_percent": round(100 * proofs[frame].differing_share, 4),
            "verdict": proofs[frame].verdict,
        }
        for cut in cuts
        for frame in proof_frames(cut, frame_count)
        if frame in proofs
    ]


def advice(delay: DelaySuggestion, suggested: Rounds, counted: OnPixels) -> list[str]:
    """What to set, a sentence each, and what was done to be sure of it."""
    odd = sum(proof.verdict != "as told" for proof in suggested.proofs.values())
    left = delay.best.wrong_frames
    proved = "told by the timeline, not drawn"
    if suggested.proofs:
        proved = f"{count(len(suggested.proofs), 'frame')} drawn with it, "
        proved += f"{odd} of them not as told" if odd else "all as told"
    apart = {name: frames for name, frames in delay.by_camera.items() if frames != delay.picture_frames}
    if not delay.changes:
        told = f"picture delay: keep {count(delay.picture_frames, 'frame')}, {count(left, 'wrong frame')}"
    else:
        told = f"picture delay: hold every cut back {count(delay.picture_frames, 'frame')} "
        told += f"(picture_frames = {delay.picture_frames}); {count(left, 'wrong frame')} left; {proved}"
    if apart:
        own = ", ".join(f"to {name} {count(frames, 'frame')}" for name, frames in apart.items())
        told += f"; best for the cuts {own}"
    advice = [told]
    for one in counted.overscan:
        if one.suggested_percent is None:
            advice.append(f"overscan of {one.camera}: none covers {one.worst_timecode}; slow the move down")
        elif not one.enough:
            advice.append(
                f"overscan of {one.camera}: {one.suggested_percent:g} % instead of {one.given_percent:g} % "
                f"(rounded up to 0.1 %; needed at {one.worst_timecode})"
            )
        elif one.needed_percent:
            advice.append(
                f"overscan of {one.camera}: {one.given_percent:g} % is enough, "
                f"{one.suggested_percent:g} % would be"
            )
    if counted.looked_at and not counted.lines:
        advice.append(f"edge lines: none seen in {count(len(counted.looked_at), 'frame')} looked at")
    return advice + [f"edge lines: {remedy.sentence}" for remedy in counted.remedies]


def delay_data(
    delay: DelaySuggestion, changed: Sequence[Cut], suggested: Rounds, frame_count: int
) -> dict[str, Any]:
    """The picture delays tried and the one suggested, as JSON takes them."""
    proofs = suggested.proofs.values()
    return {
        "now_frames": dict(delay.now),
        "suggested_frames": delay.picture_frames,
        "by_camera_frames": dict(delay.by_camera),
        "changes": delay.changes,
        "wrong_frames": delay.best.wrong_frames,
        "tries": [asdict(one) for one in delay.tries],
        "drawn_frames": len(proofs),
        "as_told_frames": sum(proof.verdict == "as told" for proof in proofs),
        "frames": frames_data(changed, suggested.proofs, frame_count),
    }
