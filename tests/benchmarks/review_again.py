"""How long a review page takes: the first time, again, and after one framing was changed.

    python -m tests.benchmarks.review_again [--every 25] [--show SHOW]

Of the starter show, or of another one, with all checks but flashing and no remedies; pictures are kept in a
folder that is new. Ratios are against the first run.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from preview.dossier.asked import demo_asked
from preview.dossier.run import DossierReport, write_dossier
from preview.kept.pictures import chosen_store
from preview.show.load import Show, load_show
from preview.timeline.timeline import Timeline
from tests.starter_show import starter_path

STILL_PX = (960, 540)


def main() -> None:
    """Run it three times and print what each took and reused."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--every", type=int, default=25)
    parser.add_argument("--show", type=Path, default=starter_path())
    asked = parser.parse_args()
    show = load_show(asked.show)
    with tempfile.TemporaryDirectory() as home:
        first = 0.0
        for what, one in (("first", show), ("again", show), ("one framing changed", _changed(show))):
            wanted = replace(
                demo_asked(Timeline(one), STILL_PX, ""), every=asked.every, check_every=asked.every
            )
            started = time.perf_counter()
            store = chosen_store(Path(home) / "kept", False)
            report = write_dossier(one, Path(home) / "out", wanted, store)
            seconds = time.perf_counter() - started
            first = first or seconds
            print(f"{what}: {seconds:.1f} s ({seconds / first:.3f}); {_told(report)}", flush=True)


def _told(report: DossierReport) -> str:
    return str(report.data["reuse"])


def _changed(show: Show) -> Show:
    """The last framing on programme a tenth longer."""
    timeline = Timeline(show)
    moment = timeline.at(timeline.frame_count - 1)
    name = moment.camera(moment.on_air).framing.split(" > ")[-1]
    cameras = []
    for camera in show.file.cameras:
        framings = tuple(
            one.model_copy(update={"focal_length_mm": one.focal_length_mm * 1.1})
            if camera.name == moment.on_air and one.name == name
            else one
            for one in camera.framings
        )
        cameras.append(camera.model_copy(update={"framings": framings}))
    return replace(show, file=show.file.model_copy(update={"cameras": tuple(cameras)}))


if __name__ == "__main__":
    main()
