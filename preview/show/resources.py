"""Folders that travel with the program: demo assets and the equipment catalogue.

In a checkout they stand beside the package; an installed package carries copies inside itself.
"""

from __future__ import annotations

from pathlib import Path

from preview.errors import AssetError

_PACKAGE = Path(__file__).resolve().parent.parent


def asset_dir() -> Path:
    """Folder of the demo show and the generic set pieces.

    Raises
    ------
    AssetError : neither the checkout's nor the installed folder exists
    """
    return _folder("assets", _PACKAGE)


def shared_dir() -> Path:
    """Folder of ``catalogue.toml`` and ``show.schema.json``.

    Raises
    ------
    AssetError : neither the checkout's nor the installed folder exists
    """
    return _folder("shared", _PACKAGE)


def _folder(name: str, package: Path) -> Path:
    installed, checkout = package / f"_{name}", package.parent / name
    # An installed package first: whatever stands beside it in site-packages is somebody else's.
    for folder in (installed, checkout):
        if folder.is_dir():
            return folder
    raise AssetError(
        installed,
        f"the program's {name} folder is missing (also looked at {checkout})",
        "install the package again, or run from a complete checkout",
    )
