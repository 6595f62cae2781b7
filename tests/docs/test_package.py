"""An installed package carries the demo, the catalogue, shaders and starter, and its own public names."""

import ast
import re
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

import preview

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel_names(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


@pytest.mark.parametrize("folder, inside", [("assets", "_assets"), ("shared", "_shared")])
def test_demo_and_catalogue_travel_inside(wheel_names, folder, inside):
    files = [
        path for path in (ROOT / folder).rglob("*") if path.is_file() and "__pycache__" not in path.parts
    ]
    assert files
    expected = {f"preview/{inside}/{path.relative_to(ROOT / folder).as_posix()}" for path in files}
    assert expected <= wheel_names


def test_everything_in_the_package_travels(wheel_names):
    files = [path for path in (ROOT / "preview").rglob("*") if path.is_file() and path.suffix != ".pyc"]
    assert {path.relative_to(ROOT).as_posix() for path in files} <= wheel_names
    assert not [name for name in wheel_names if name.startswith(("tests/", "renders/", ".ci/"))]


def test_every_public_name_can_be_had():
    for name in preview.__all__:
        assert getattr(preview, name) is not None, name
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = preview.nothing


def test_every_package_that_is_imported_is_declared():
    """A dependency that only comes along with another one may leave with it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["draco"]]
    declared = {re.split(r"[^\w.-]", requirement)[0].lower().replace("_", "-") for requirement in wanted}
    homes = packages_distributions()
    for path in (ROOT / "preview").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and not node.level:
                names.append(node.module)
            for top in {name.split(".")[0] for name in names} - set(sys.stdlib_module_names) - {"preview"}:
                owners = {home.lower().replace("_", "-").removesuffix("-headless") for home in homes[top]}
                assert owners & declared, f"{path} imports {top} of {homes[top]}"


def test_the_version_has_one_home():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["tool"]["hatch"]["version"]["path"] == "preview/__init__.py"
    assert project["project"]["scripts"] == {"preview": "preview.cli:main"}
