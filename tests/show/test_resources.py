"""Where the program finds the folders that travel with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from preview.errors import AssetError
from preview.show import resources


def test_a_checkout_has_its_folders_beside_the_package() -> None:
    package = Path(resources.__file__).parent.parent
    assert resources.shared_dir() == package.parent / "shared"
    assert (resources.shared_dir() / "catalogue.toml").is_file()


@pytest.mark.parametrize(
    ("find", "name"), [(resources.shared_dir, "shared"), (resources.asset_dir, "assets")]
)
def test_an_installed_package_carries_them_inside_and_they_win(
    find: object, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert callable(find)
    package = tmp_path / "site-packages" / "preview"
    (package / f"_{name}").mkdir(parents=True)
    (package.parent / name).mkdir()  # somebody else's package of that name
    monkeypatch.setattr(resources, "_PACKAGE", package)
    assert find() == package / f"_{name}"


def test_a_broken_install_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resources, "_PACKAGE", tmp_path / "preview")
    with pytest.raises(AssetError) as caught:
        resources.shared_dir()
    assert str(caught.value) == (
        f"{tmp_path}/preview/_shared: the program's shared folder is missing "
        f"(also looked at {tmp_path}/shared); install the package again, or run from a complete checkout"
    )
