"""What a check is: one file of this folder with one class that registers itself.

``all_checks()`` imports every file here and hands the classes out in order. The list of checks in the
README is tested against it.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from pkgutil import iter_modules
from typing import ClassVar, Literal, TypeVar

import numpy as np
import numpy.typing as npt

import preview.checks
from preview.checks.look import Look, Plan
from preview.checks.result import CheckResult, Finding, Value

Lever = Literal[
    "focal length", "overscan", "position", "arm", "other framing", "picture delay", "focus", "stop",
    "edge line", "stage light", "wall level",
]  # fmt: skip
"""What can be turned to mend a finding; ``preview.suggest`` knows how each is tried."""


@dataclass(frozen=True, eq=False)
class Mark:
    """What to outline in a camera's picture of a finding's worst frame.

    Attributes
    ----------
    camera : whose picture
    mask : (h, w) bool on the sight's grid
    label : a few words beside it
    """

    camera: str
    mask: npt.NDArray[np.bool_]
    label: str


@dataclass(frozen=True, eq=False)
class Curve:
    """Values over the rundown, to plot.

    Attributes
    ----------
    title, unit : what is plotted, and in what
    frames : (n,) frames looked at, rising
    values : by name of the line, (n,) values; NaN where there is none
    limit : where the check speaks up, None for nowhere
    limit_is : whether values are to stay "below" or "above" it
    """

    title: str
    unit: str
    frames: Sequence[int]
    values: Mapping[str, Sequence[float]]
    limit: float | None = None
    limit_is: Literal["below", "above"] = "below"


class Check(ABC):
    """One check over a stretch of the rundown: sees every frame once, then says what it found.

    Class attributes: ``name`` as users write it; ``question`` it answers; ``assumptions`` it makes;
    ``caution`` printed with it where work can hurt; ``order`` its place in lists; ``draws`` whether it
    needs colour pictures (``Look.studio``); ``every_frame`` whether it has to see every frame also where
    the others look at each n-th; ``levers`` what may mend its findings, best first.

    Every finding's measures hold ``worst_frame`` (int), ``worst_timecode`` and ``where`` (words for the
    place in the picture, "" for none).
    """

    name: ClassVar[str]
    question: ClassVar[str]
    assumptions: ClassVar[tuple[str, ...]] = ()
    caution: ClassVar[str] = ""
    order: ClassVar[int]
    draws: ClassVar[bool] = False
    every_frame: ClassVar[bool] = False
    levers: ClassVar[tuple[Lever, ...]] = ()

    def __init__(self, plan: Plan) -> None:
        self.plan = plan

    @abstractmethod
    def see(self, look: Look) -> None:
        """Take in one frame; frames come in rising order. What is kept must not grow with the pictures."""

    @abstractmethod
    def result(self) -> CheckResult:
        """What was found in the frames seen."""

    def curves(self) -> tuple[Curve, ...]:
        """Values over the rundown, for plots."""
        return ()

    def tables(self) -> Mapping[str, Sequence[Mapping[str, Value]]]:
        """More tables than the findings, by name: rows of equal columns."""
        return {}

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """What to outline in the pictures of a finding's worst frame, which ``look`` is of."""
        return ()

    def answer(self, findings: Sequence[Finding]) -> CheckResult:
        """Findings in running order, as this check's result."""
        ordered = tuple(sorted(findings, key=lambda finding: (finding.frames, finding.cameras)))
        return CheckResult(self.name, self.question, ordered, self.assumptions)


@dataclass
class _Registry:
    found: dict[str, type[Check]] = field(default_factory=dict)


_REGISTRY = _Registry()
AnyCheck = TypeVar("AnyCheck", bound=type[Check])


def register(check: AnyCheck) -> AnyCheck:
    """Class decorator: this check runs with all others.

    Raises
    ------
    ValueError : another check has its name.
    """
    have = _REGISTRY.found.setdefault(check.name, check)
    if have is not check and have.__module__ != check.__module__:
        raise ValueError(f"two checks are called {check.name!r}: {have.__module__} and {check.__module__}")
    return check


def all_checks() -> tuple[type[Check], ...]:
    """Every check, in order. Each file of this folder is imported; those without a check add none."""
    for module in iter_modules(preview.checks.__path__):
        import_module(f"preview.checks.{module.name}")
    return tuple(sorted(_REGISTRY.found.values(), key=lambda check: (check.order, check.name)))


def stretches(frames: Sequence[int], every: int = 1) -> list[tuple[int, int]]:
    """First and last of each run in a rising sequence that has gaps of at most ``every``.

    >>> stretches([0, 5, 10, 30], every=5)
    [(0, 10), (30, 30)]
    """
    found: list[tuple[int, int]] = []
    for frame in frames:
        if found and frame - found[-1][1] <= every:
            found[-1] = (found[-1][0], frame)
        else:
            found.append((frame, frame))
    return found
