"""Which pictures show a finding best, and the address of a moment on the page.

An address ends ``#f=123&camera=jib&pair=as-shot:return&view=wipe``: a frame, a camera, two pictures, and how
the viewer puts them. A picture is named by its kind; ``kind@subject`` names one that is not ``camera``'s.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal
from urllib.parse import urlencode

from preview.page.model import Finding, PageData

View = Literal["one", "side", "wipe", "difference"]

CAMERA_KINDS = ("as-shot", "return")
"""Kinds of which there is one a camera."""

_BEST: dict[str, tuple[str, str, View]] = {
    "bleed": ("as-shot", "return", "wipe"),
    "coverage": ("as-shot", "return", "wipe"),
    "cuts": ("programme-as-shot", "programme", "wipe"),
    "edge-lines": ("programme-as-shot", "programme", "wipe"),
    "flashing": ("programme-as-shot", "programme", "one"),
}
"""A check and the pictures in which its findings show; of other checks, the camera's return."""

_OTHERWISE: tuple[str, str, View] = ("return", "as-shot", "one")


@dataclass(frozen=True)
class Moment:
    """A frame as the viewer shows it: ``camera`` may be ""; ``first`` and ``second`` are pictures' names."""

    frame: int
    camera: str
    first: str
    second: str
    view: View

    @property
    def hash(self) -> str:
        """The end of the page's address, from "#" on."""
        words = {"f": str(self.frame)}
        if self.camera:
            words["camera"] = self.camera
        words |= {"pair": f"{self.first}:{self.second}", "view": self.view}
        return "#" + urlencode(words, safe=":@-")


def pictures_of(data: PageData) -> frozenset[tuple[str, str]]:
    """Kind and subject of every picture that has a clip or a still."""
    clips = {(clip.kind, clip.subject) for clip in data.clips}
    return frozenset(clips | {(still.kind, still.subject) for still in data.stills})


def moment_of(finding: Finding, there: Collection[tuple[str, str]]) -> Moment:
    """Where to look at a finding: its worst frame, in the pictures that show it best of those there are."""
    first, second, view = _BEST.get(finding.check, _OTHERWISE)
    camera = next(
        (name for name in finding.cameras if ("return", name) in there or ("as-shot", name) in there),
        finding.cameras[0] if finding.cameras else "",
    )

    def has(kind: str) -> bool:
        return (kind, camera if kind in CAMERA_KINDS else "") in there

    wanted = [kind for kind in (first, second) if has(kind)]
    others = ("return", "as-shot", "programme-as-shot", "programme", "multiview")
    spare = [kind for kind in others if has(kind) and kind not in wanted]
    if len(wanted) < 2:
        view = "one"
    found = [*wanted, *spare, first, second]
    return Moment(finding.worst_frame, camera, found[0], found[1], view)


def opening(data: PageData) -> Moment:
    """What the viewer shows before anybody asks: the first frame, programme if there is one."""
    there = pictures_of(data)
    frame = data.frames[0]
    camera = next(
        (shot.camera for shot in data.shots if shot.frames[0] <= frame <= shot.frames[1]),
        data.cameras[0].name if data.cameras else "",
    )
    kinds = ("programme-as-shot", "programme", "as-shot", "return", "multiview", "wall")
    names = [kind for kind in kinds if any(kind == k and subject in ("", camera) for k, subject in there)]
    names += [f"{kind}@{subject}" for kind, subject in sorted(there) if subject and subject != camera]
    names += ["programme", "programme-as-shot"]
    return Moment(frame, camera, names[0], names[1], "one")
