"""Checks of these tests' own, so that the report is tested whatever the real ones find."""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Curve, Lever, Mark
from preview.checks.result import Finding


def finding(plan: Plan, grade, first, last, cameras=("CAM2",), shot="", sentence="It is seen.", **measures):
    timecode = plan.timeline.timecode
    told = {"worst_frame": first, "worst_timecode": timecode(first), "where": "the left side", **measures}
    labels = timecode(first), timecode(last)
    return Finding(grade, shot, cameras, (first, last), labels, sentence, "", told)


class Stripe(Check):
    """Finds a stripe on the left of CAM2's picture: a fault in frames 30 to 39, compromises elsewhere."""

    name = "stripe"
    question = "Is there a stripe on the left?"
    assumptions = ("A stripe is a fifth of the picture.",)
    caution = "Stripes can be tripped over: follow local codes."
    order = 10
    levers: ClassVar[tuple[Lever, ...]] = ("position", "focal length")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self.frames: list[int] = []

    def see(self, look: Look) -> None:
        assert look.bare("CAM2").lit.any()
        self.frames.append(look.frame)

    def result(self):
        plan, last = self.plan, self.plan.frames[-1]
        found = [
            finding(plan, "fine", 0, last, ("CAM1",)),
            finding(plan, "compromise", 2, 6, shot="Wide", sentence="CAM2 shows a stripe off air."),
            finding(plan, "fault", 30, 39, shot="Whip pan", sentence="CAM2 shows a stripe, so to say."),
        ]
        return self.answer(found)

    def curves(self):
        values = {"CAM1": [0.0] * len(self.frames), "CAM2": [20.0] * len(self.frames)}
        return (Curve("Stripe", "% of the picture", self.frames, values, 5.0),)

    def tables(self):
        return {"stripe": [{"frame": frame, "percent": 20.0} for frame in self.frames]}

    def marks(self, look: Look, finding: Finding):
        mask = np.zeros(look.bare("CAM2").lit.shape, dtype=bool)
        mask[:, : mask.shape[1] // 5] = True
        return (Mark("CAM2", mask, "the stripe"),)


class Clean(Stripe):
    """Finds nothing wrong and has nothing more to say."""

    name = "clean"
    question = "Is all well?"
    caution = ""
    order = 20

    def result(self):
        return self.answer([finding(self.plan, "fine", 0, self.plan.frames[-1], ("CAM1",))])

    def curves(self):
        return ()

    def tables(self):
        return {}


class Drawn(Clean):
    """Looks at pictures, every frame, and finds one thing that concerns no place."""

    name = "drawn"
    question = "Do pictures differ?"
    order = 30
    draws = True
    every_frame = True

    def see(self, look: Look) -> None:
        assert look.studio is not None
        self.frames.append(look.frame)

    def result(self):
        return self.answer([finding(self.plan, "compromise", 50, 59, ("CAM1", "CAM2"), "Whip pan")])

    def marks(self, look: Look, finding: Finding):
        assert look.studio is not None and not look.studio.closed
        return ()


ALL = (Stripe, Clean, Drawn)
