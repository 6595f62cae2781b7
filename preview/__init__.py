"""Offline return-feed compositing preview for multi-camera LED stages.

From Python, one frame's pictures::

    from preview import Studio, Wanted, load_show

    show = load_show("show.toml")
    with Studio(show, size_px=(960, 540)) as studio:
        wanted = Wanted(kinds=("return", "programme"), cameras=("CAM1",))
        for picture in studio.pictures(studio.timeline.frame_of("10:00:04:12"), wanted):
            print(picture.kind, picture.subject, picture.code.shape, picture.off_wall)
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from preview.errors import (
        AssetError,
        GraphicsError,
        OutputError,
        PreviewError,
        RequestError,
        ShowError,
    )
    from preview.frame import KINDS, Picture, Studio, Wanted
    from preview.job import Job, StillFrame
    from preview.run import Summary, render
    from preview.show.load import Show, load_show
    from preview.timeline.timeline import Timeline

__version__ = "0.1.0"

_HOME = {
    "AssetError": "errors",
    "GraphicsError": "errors",
    "OutputError": "errors",
    "PreviewError": "errors",
    "RequestError": "errors",
    "ShowError": "errors",
    "KINDS": "frame",
    "Picture": "frame",
    "Studio": "frame",
    "Wanted": "frame",
    "Job": "job",
    "StillFrame": "job",
    "Summary": "run",
    "render": "run",
    "Show": "show.load",
    "load_show": "show.load",
    "Timeline": "timeline.timeline",
}

__all__ = [
    "KINDS",
    "AssetError",
    "GraphicsError",
    "Job",
    "OutputError",
    "Picture",
    "PreviewError",
    "RequestError",
    "Show",
    "ShowError",
    "StillFrame",
    "Studio",
    "Summary",
    "Timeline",
    "Wanted",
    "__version__",
    "load_show",
    "render",
]


def __getattr__(name: str) -> Any:
    # Drawing needs system libraries; reading a show, or asking the version, must work without them.
    if name in _HOME:
        return getattr(import_module(f"preview.{_HOME[name]}"), name)
    raise AttributeError(f"module 'preview' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME])
