"""What is suggested for a framing, in a crew's words and as data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from preview.checks.result import capital, count
from preview.show.load import Show
from preview.suggest.elsewhere import Change, Subject
from preview.suggest.trial import Verdict
from preview.suggest.way import way

Outcome = Literal["needless", "clear", "no faults", "nothing helps"]


@dataclass(frozen=True)
class Tried:
    """What came of one kind of change: its name, shows tried, and the checks that the best of them leaves."""

    what: str
    shows: int
    leaves: tuple[str, ...]

    def data(self) -> dict[str, Any]:
        """The same as JSON takes it."""
        return {"what": self.what, "shows": self.shows, "leaves": list(self.leaves)}


@dataclass(frozen=True, eq=False)
class Suggestion:
    """What is suggested for a framing.

    Attributes
    ----------
    at : the framing as it is
    outcome : "needless" when nothing spoke up; "clear" when nothing does any more; "no faults" when only
        compromises are left; "nothing helps"
    before, after : what checks find as it is, and with the change; after is None without one
    change : what to change; None without one
    show : the show with it; the one at hand without one
    tried : what was tried, in order
    synthetic : whether checks looked at a shot made up, as the framing is never held on programme
    exhausted : whether MOST_TRIES ended it
    """

    at: Subject
    outcome: Outcome
    before: Verdict
    after: Verdict | None
    change: Change | None
    show: Show
    tried: tuple[Tried, ...]
    synthetic: bool
    exhausted: bool

    @property
    def sentence(self) -> str:
        """What to do, what it costs and what it was tried on."""
        name = f"{self.at.camera.name} on {self.at.framing.name}"
        where = _looked_at(self.before, self.synthetic)
        if self.outcome == "needless":
            return f"{name}: nothing to mend; {where}, nothing found{self._others}."
        if self.change is None or self.after is None:
            shows = sum(one.shows for one in self.tried)
            kinds = ", ".join(one.what for one in self.tried)
            more = "; not all that there is" if self.exhausted else ""
            least = min(self.tried, key=lambda one: len(one.leaves), default=None)
            still = ""
            if least is not None and set(least.leaves) < set(self.before.checks()):
                left = _and(least.leaves) or "nothing there, but trouble in other frames"
                still = f" {capital(least.what)} leaves least: {left}."
            return (
                f"{name}: nothing tried takes away all that {_and(self.before.checks())} found. "
                f"Tried {kinds}: {count(shows, 'changed show')}{more}.{still}"
            )
        left = f"nothing found{self._others}"
        if not self.after.clean:
            left = f"no faults; {_and(self.after.checks())} still to be lived with"
        cost, where = _cost_words(self.at.costs(self.change)), _looked_at(self.after, self.synthetic)
        return f"{self.words}: {cost}; {where}, {left}."

    @property
    def _others(self) -> str:
        return f" but what none of this mends ({_and(self.left_alone)})" if self.left_alone else ""

    @property
    def left_alone(self) -> tuple[str, ...]:
        """Checks that speak up about what nothing turned here mends, before or after."""
        found = (*self.before.left_alone, *(self.after.left_alone if self.after else ()))
        return tuple(dict.fromkeys(name for name, _ in found))

    @property
    def words(self) -> str:
        """What to do; "" without a change."""
        change, at = self.change, self.at
        if change is None:
            return ""
        name, parts = f"camera {at.camera.number} ({at.camera.name})", []
        if change.position_m is not None:
            keys = at.keys(change)
            x, y, z = change.position_m
            place = f"x {x:.2f}, y {y:.2f}, sensor {z:.2f} m high"
            if "swing_deg" in keys:
                place = f"swing {keys['swing_deg']:.1f}, boom {keys['boom_deg']:.1f} degrees; {place}"
            parts.append(f"move {name} {way(at.here_m, at.subject_m, change.position_m)} ({place})")
        if change.focal_length_mm is not None:
            parts.append(f"go to {change.focal_length_mm:.1f} mm")
        if change.focus_m is not None:
            kept = "stay in focus" if "focus" not in change.levers else "focus"
            parts.append(f"{kept} at {change.focus_m:.2f} m")
        if change.t_stop is not None:
            parts.append(f"open to T{change.t_stop:g}")
        text = _and(parts)
        lead = "" if change.position_m is not None else f" with {name}"
        return f"{capital(text)}{lead}, on {at.framing.name}"

    @property
    def facts(self) -> tuple[str, ...]:
        """Lines for beside a drawing: what it costs, what was found before and after, and what to write."""
        lines = [] if self.change is None else [capital(_cost_words(self.at.costs(self.change))) + "."]
        lines.append(capital(_looked_at(self.after or self.before, self.synthetic)) + ".")
        for when, verdict in (("Before", self.before), ("After", self.after)):
            if verdict is not None:
                lines.append(f"{when}: {', '.join(verdict.checks()) or 'nothing to mend'}.")
        if self.left_alone:
            lines.append(f"Left alone, as none of this mends it: {_and(self.left_alone)}.")
        if self.change is not None:
            lines.append("Write in the show file:")
            lines += [line.partition(": ")[2] for line in self.at.toml(self.change)]
        else:
            lines += [f"Tried {one.what}: leaves {', '.join(one.leaves) or 'nothing'}." for one in self.tried]
        return tuple(lines)

    def data(self) -> dict[str, Any]:
        """The same as JSON types."""
        change = self.change
        return {
            "camera": self.at.camera.name,
            "framing": self.at.framing.name,
            "outcome": self.outcome,
            "sentence": self.sentence,
            "change": None if change is None else {
                "levers": list(change.levers),
                "from_m": list(self.at.here_m),
                "to_m": list(change.position_m or self.at.here_m),
                "show_file": list(self.at.toml(change)),
                "costs": self.at.costs(change),
            },
            "before": _verdict_data(self.before),
            "after": None if self.after is None else _verdict_data(self.after),
            "synthetic": self.synthetic,
            "tried": [one.data() for one in self.tried],
            "exhausted": self.exhausted,
        }  # fmt: skip


def _cost_words(costs: dict[str, Any]) -> str:
    parts = []
    if costs["moved_m"]:
        parts.append(f"moved {costs['moved_m']:.2f} m")
    (before, after), size = costs["focal_length_mm"], costs["subject_size_percent"]
    if after != before:
        parts.append(f"{before:g} to {after:g} mm")
    parts.append(
        "the subject stays as large" if abs(size - 100) < 1 else f"the subject is {size:.0f} % as large"
    )
    (near, far), (near_after, far_after) = costs["depth_of_field_m"]
    if (near, far) != (near_after, far_after):
        parts.append(f"sharp from {_span(near, far)} before, {_span(near_after, far_after)} after")
    if costs["subject_blur_photosites"] >= 0.1:
        parts.append(f"the subject is blurred over {costs['subject_blur_photosites']:.1f} photosites")
    if costs["light_stops"]:
        parts.append(
            f"{costs['light_stops']:.1f} stops more light in all its shots, to be taken off by an ND filter"
        )
    return ", ".join(parts)


def _span(near: float, far: float | None) -> str:
    return f"{near:.2f} m on" if far is None else f"{near:.2f} to {far:.2f} m"


def _looked_at(verdict: Verdict, synthetic: bool) -> str:
    frames = count(verdict.looked_at, "frame")
    if synthetic:
        return f"tried on {frames} of a shot made up, as it is never held on programme"
    more = f" and {verdict.elsewhere} with it off air or under way" if verdict.elsewhere else ""
    return f"tried on {frames} on programme{more}"


def _verdict_data(verdict: Verdict) -> dict[str, Any]:
    def told(found: Sequence[tuple[str, Any]]) -> list[dict[str, Any]]:
        return [{"check": name, "grade": one.grade, "sentence": one.sentence} for name, one in found]

    return {
        "faults": told(verdict.faults),
        "compromises": told(verdict.compromises),
        "new_elsewhere": told(verdict.fresh),
        "left_alone": told(verdict.left_alone),
        "frames": verdict.looked_at,
        "frames_elsewhere": verdict.elsewhere,
    }


def _and(parts: Sequence[str]) -> str:
    """
    >>> _and(["one", "two", "three"])
    'one, two and three'
    """
    return " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1]))) if parts else ""
