"""The show file: read, checked and filled in."""

from preview.show.load import Show, load_show

__all__ = ["Show", "load_show"]
