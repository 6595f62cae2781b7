"""The rundown as written: cameras, cues, times and mixes of every shot."""

from __future__ import annotations

from preview.show.entry import Entry, Findings
from preview.show.model import ShowInfo
from preview.show.names import check_known, names_in
from preview.show.wording import shown
from preview.timeline.rate import Rate
from preview.timeline.timecode import (
    TimecodeError,
    day_frames,
    format_timecode,
    is_drop_frame,
    parse_duration,
    parse_timecode,
)

_FIRST = ShowInfo.model_fields["start_timecode"].default


def check_rundown(findings: Findings) -> None:
    """Note every unknown name, bad label, gap, overlap, missing length and impossible mix."""
    shots = list(findings.top.tables("rundown"))
    _check_cameras(findings, shots)
    lengths = _Clock(findings).lengths(shots)
    _check_mixes(findings, shots, lengths)


def _check_cameras(findings: Findings, shots: list[Entry]) -> None:
    cameras: dict[str | None, Entry] = {}
    for camera in findings.top.tables("cameras"):
        cameras.setdefault(camera.text("name"), camera)
    known = names_in(findings.top, "cameras")
    if shots and shots[0].path == ("rundown", 0) and not shots[0].has("on_air"):
        fix = "name the camera that the show starts on"
        findings.add(shots[0].at("on_air"), "required in the first shot, but missing", fix)
    for shot in shots:
        check_known(findings, shot.at("on_air"), shot.text("on_air"), known, "camera")
        for name in shot.table("cameras").data:
            check_known(findings, shot.at("cameras", name), name, known, "camera")
        for name, cue in shot.named_tables("cameras"):
            _check_cue(findings, cue, name, cameras.get(name))


def _check_cue(findings: Findings, cue: Entry, name: str, camera: Entry | None) -> None:
    if cue.has("framing") and cue.has("move"):
        findings.add(cue.at("move"), "framing and move are both written", "keep one of the two")
    elif not cue.has("framing") and not cue.has("move"):
        fix = "write framing or move, or leave the camera out"
        findings.add(cue.path, "neither a framing nor a move is written", fix)
    elif cue.has("framing") and (cue.number("after_s") or 0) > 0:
        fix = "delete it, or cue a move: a framing begins with its shot"
        findings.add(cue.at("after_s"), "only for a move", fix)
    if camera is None:
        return  # its name has a problem already
    for key in ("framing", "move"):
        known = names_in(camera, f"{key}s")
        check_known(findings, cue.at(key), cue.text(key), known, f"{key} of {name}")


class _Clock:
    """Reads the rundown's times in the show's way of counting."""

    def __init__(self, findings: Findings):
        self.findings = findings
        self.rate: Rate | None = None
        self.first: int | None = None
        self.drop = False
        show = findings.top.table("show")
        label = show.data.get("start_timecode", _FIRST)
        if not findings.clean(show.at("frame_rate")) or not isinstance(show.data.get("frame_rate"), str):
            return
        self.rate = Rate(show.data["frame_rate"])
        if not isinstance(label, str):
            return
        self.drop = is_drop_frame(label)
        try:
            self.first = parse_timecode(label, self.rate)
        except TimecodeError as error:
            findings.add(show.at("start_timecode"), error.found, error.fix)

    def lengths(self, shots: list[Entry]) -> list[int | None]:
        """Frames in every shot, None where they cannot be told."""
        durations = [self._duration(shot) for shot in shots]
        starts = [self._start(shot) for shot in shots]
        lengths: list[int | None] = []
        begin: int | None = 0  # frames since the first shot's start; None when it cannot be told
        for index, shot in enumerate(shots):
            following = shots[index + 1] if index + 1 < len(shots) else None
            length = durations[index]
            if index == 0:
                self._check_first(shot, starts[0])
            due = self._after(begin, starts[index + 1]) if following else None
            if not shot.has("duration"):
                length = None if due is None or begin is None else due - begin
                self._check_end(shot, following, begin, length)
            elif due is not None and begin is not None and length is not None and following:
                self._check_join(shot, following, begin, length, due)
            lengths.append(length if length is None or length > 0 else None)
            # A start that is written holds, whatever came before it: later shots are judged by it.
            begin = due if due is not None else None if begin is None or length is None else begin + length
        return lengths

    def _duration(self, shot: Entry) -> int | None:
        text = shot.text("duration")
        length = shot.number("duration") if text is None else text
        if length is None or self.rate is None or not self.findings.clean(shot.at("duration")):
            return None
        try:
            return parse_duration(length, self.rate)
        except TimecodeError as error:
            self.findings.add(shot.at("duration"), error.found, error.fix)
            return None

    def _start(self, shot: Entry) -> int | None:
        """Frame that the start's label names, counted from 00:00:00:00."""
        label = shot.text("start")
        if label is None or self.rate is None:
            return None
        try:
            frame = parse_timecode(label, self.rate)
        except TimecodeError as error:
            self.findings.add(shot.at("start"), error.found, error.fix)
            return None
        if self.first is not None and is_drop_frame(label) != self.drop:
            ours, theirs = (";", ":") if self.drop else (":", ";")
            found = f'"{label}" has "{theirs}" before its frames, and show.start_timecode has "{ours}"'
            self.findings.add(shot.at("start"), found, f'write "{label[:8]}{ours}{label[9:]}"')
            return None
        return frame

    def _after(self, begin: int | None, label_frame: int | None) -> int | None:
        """A label as frames since the first shot's start, counted on from ``begin``, where the shot
        before it starts (or from the show's start, when that cannot be told).

        Labels come round after 24 h; one more than 12 h ahead is taken as one before ``begin``.
        """
        if label_frame is None or self.first is None or self.rate is None:
            return None
        begin = begin or 0
        day = day_frames(self.rate, self.drop)
        ahead = (label_frame - self.first - begin) % day
        return begin + (ahead - day if ahead > day // 2 else ahead)

    def _check_first(self, shot: Entry, start: int | None) -> None:
        if start is not None and self.first is not None and start != self.first:
            found = f"{shown(shot.text('start'))} is not the show's start, {self._label(0)}"
            fix = "leave it out, or change show.start_timecode"
            self.findings.add(shot.at("start"), found, fix)

    def _check_end(self, shot: Entry, following: Entry | None, begin: int | None, length: int | None) -> None:
        name = shown(shot.text("name") or "")
        if following is None or not following.has("start"):
            fix = "add a duration" + (", or a start to the shot after it" if following else "")
            self.findings.add(shot.at("duration"), f"the end of shot {name} is not known", fix)
        elif begin is not None and length is not None and length <= 0:
            label = shown(following.text("start"))
            found = f"{label} is not after the start of shot {name} ({self._label(begin)})"
            self.findings.add(following.at("start"), found, "put the shots in order of time")

    def _check_join(self, shot: Entry, following: Entry, begin: int, length: int, due: int) -> None:
        end = begin + length
        if due == end:
            return
        what = f"{abs(due - end)} frames {'before' if due < end else 'after'}"
        trouble = "they overlap" if due < end else "there is a gap"
        name = shown(shot.text("name") or "")
        self.findings.add(
            following.at("start"),
            f"{shown(following.text('start'))} is {what} shot {name} ends ({self._label(end)}): {trouble}",
            f"leave this start out, or the duration of {name}",
        )

    def _label(self, frame: int) -> str:
        assert self.rate is not None and self.first is not None
        return format_timecode(self.first + frame, self.rate, self.drop)


def _check_mixes(findings: Findings, shots: list[Entry], lengths: list[int | None]) -> None:
    on_air: str | None = None
    for shot, length in zip(shots, lengths, strict=True):
        before, on_air = on_air, shot.text("on_air") or on_air
        mix, frames = shot.text("transition") == "mix", shot.whole("mix_frames")
        if not mix:
            if shot.has("mix_frames") and findings.clean(shot.at("transition")):
                fix = 'write transition = "mix", or delete mix_frames'
                findings.add(shot.at("mix_frames"), "a cut has no length", fix)
            continue
        if shot.path == ("rundown", 0):
            fix = 'write transition = "cut"'
            findings.add(shot.at("transition"), "the first shot has nothing to mix from", fix)
        elif before is not None and before == on_air:
            fix = "cut, or put another camera on air"
            findings.add(shot.at("transition"), f"{on_air} cannot mix to itself", fix)
        if not shot.has("mix_frames"):
            fix = "add mix_frames: the length of the mix in frames"
            findings.add(shot.at("mix_frames"), "required for a mix, but missing", fix)
        elif frames is not None and length is not None and frames > length:
            name = shown(shot.text("name") or "")
            found = f"a mix of {frames} frames is longer than shot {name}, {length} frames"
            findings.add(shot.at("mix_frames"), found, "shorten the mix or lengthen the shot")
