"""Imports point one way, and printing, OpenGL and the command line stay where they belong.

Read from the import statements themselves, type-checking-only ones included.
"""

import ast
from collections import defaultdict
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "preview"
FILES = sorted(PACKAGE.rglob("*.py"))

KNOWS_NOTHING_OF = {
    "conventions": {"*"},
    "errors": {"*"},
    "colour": {"*"},
    "camera": {"timeline", "stage", "raster", "wall", "picture", "frame", "review"},
    "show": {"raster", "wall", "picture", "frame", "review"},
    "timeline": {"raster", "wall", "picture", "frame", "review"},
    "stage": {"raster", "wall", "picture", "frame", "review"},
    "raster": {"show", "timeline", "wall", "frame", "review"},
    "wall": {"picture", "frame", "review", "stage"},
    "picture": {"frame", "review", "stage"},
    "kept": {"review", "frame", "job", "run", "checks", "timeline", "show", "stage", "wall", "picture"},
    "frame": {"review", "job", "run"},
    "checks": {
        "dossier",
        "page",
        "sheets",
        "moire",
        "report",
        "review",
        "suggest",
        "cuts",
        "compare",
        "job",
        "run",
    },
    "suggest": {
        "dossier",
        "page",
        "sheets",
        "report",
        "review",
        "plan",
        "moire",
        "cuts",
        "compare",
        "job",
        "run",
    },
    "report": {"dossier", "page", "sheets", "cuts", "compare", "job", "run", "starter"},
    "review": {"checks", "suggest", "cuts", "compare", "report", "show", "stage", "raster", "wall", "picture"}
    | {"frame", "floor", "plan", "moire", "optics", "sheets", "multiview", "page", "dossier"},
    "optics": {
        "show",
        "timeline",
        "raster",
        "wall",
        "picture",
        "frame",
        "review",
        "checks",
        "suggest",
        "report",
    },
    "floor": {"review", "suggest", "report", "cuts", "compare", "plan", "moire", "job", "run", "starter"},
    "plan": {"report", "cuts", "compare", "job", "run", "frame", "starter"},
    "moire": {"cuts", "report", "job", "run", "starter", "suggest", "plan"},
    "starter": {"frame", "raster", "show", "stage"},
    "compare": {"stage", "raster", "wall", "picture", "run", "starter"},
    "page": {"show", "stage", "raster", "wall", "picture", "frame", "suggest", "report", "floor", "plan"}
    | {"moire", "cuts", "compare", "job", "run", "starter", "sheets", "multiview", "dossier"},
    "sheets": {"report", "cuts", "compare", "moire", "plan", "floor", "suggest", "raster", "job", "run"}
    | {"starter", "page", "multiview", "dossier"},
    "multiview": {"checks", "report", "cuts", "compare", "moire", "floor", "suggest", "job", "run"}
    | {"starter", "page", "sheets", "dossier"},
    "dossier": {"cuts", "compare", "job", "run", "starter", "raster"},
}
"""Each part, and the parts it may not import. Nothing but the command line knows the command line."""

COMMAND_LINE = {
    "cli",
    "terminal",
    "__main__",
    "commands_optics",
    "commands_floor",
    "commands_kept",
    "commands_review",
    "commands_sheets",
    "commands_dossier",
    "commands_render",
    "commands_checks",
    "options",
}
DRAWING = {"OpenGL", "pyrender", "pyglet"}
TRADE_WORDS = ("programme", "return_", "on_air", "rundown", "operator")


def module_name(path):
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(path):
    """Full dotted names imported by a file; ``from a import b`` counts as a.b where b is a module."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                package = module_name(path).split(".")
                package = package if path.name == "__init__.py" else package[:-1]
                base = ".".join([*package[: len(package) - node.level + 1], *([base] if base else [])])
            for alias in node.names:
                name = f"{base}.{alias.name}"
                is_module = (PACKAGE.parent / (name.replace(".", "/") + ".py")).exists() or (
                    PACKAGE.parent / name.replace(".", "/")
                ).is_dir()
                found.add(name if is_module else base)
    return found


def part(module):
    """``preview.raster.gl.scene`` is of the part raster; the package itself is of none."""
    names = module.split(".")
    return names[1] if len(names) > 1 else ""


ARROWS = {
    module_name(path): {name for name in imports(path) if name.split(".")[0] == "preview"} for path in FILES
}


def test_the_reader_sees_imports_at_all():
    assert "preview.errors" in ARROWS["preview.run"]
    assert "preview.frame" in ARROWS["preview.cli"], "imports inside functions count"
    assert len(FILES) > 40


@pytest.mark.parametrize("name", sorted(KNOWS_NOTHING_OF))
def test_a_part_does_not_know_what_stands_above_it(name):
    forbidden = KNOWS_NOTHING_OF[name]
    members = [module for module in ARROWS if part(module) == name]
    assert members, f"there is no preview/{name}"
    for module in members:
        others = {part(target) for target in ARROWS[module]} - {name, ""}
        wrong = others if "*" in forbidden else others & (forbidden | COMMAND_LINE)
        if name in ("colour",):
            wrong -= {"errors", "conventions"}
        assert not wrong, f"{module} imports from {sorted(wrong)}"


def test_no_module_imports_itself_round_a_corner():
    """A cycle would mean that two parts cannot be read, or tested, apart."""
    state = defaultdict(int)
    path = []

    def visit(module):
        if state[module] == 2:
            return
        assert state[module] == 0, "cycle: " + " -> ".join([*path[path.index(module) :], module])
        state[module] = 1
        path.append(module)
        for target in sorted(ARROWS.get(module, ())):
            if target != "preview":  # the package's own page of names imports nothing until asked
                visit(target)
        path.pop()
        state[module] = 2

    for module in sorted(set(ARROWS) - {"preview"}):
        visit(module)


def test_only_the_command_line_prints():
    for path in FILES:
        if path.stem in COMMAND_LINE:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
        printed = [
            c.lineno for c in calls if isinstance(c.func, ast.Name) and c.func.id in ("print", "input")
        ]
        assert not printed, f"{path}: prints in line {printed}"
        streams = [
            node.lineno
            for node in ast.walk(tree)
            if isinstance(node, ast.Attribute)
            and node.attr in ("stdout", "stderr", "exit")
            and isinstance(node.value, ast.Name)
            and node.value.id == "sys"
        ]
        assert not streams, f"{path}: uses sys's streams or exit in line {streams}"
        assert not {name.split(".")[0] for name in imports(path)} & {"typer", "rich"}, (
            f"{path} knows the terminal"
        )


def test_only_the_graphics_side_knows_opengl():
    for path in FILES:
        drawing = {name.split(".")[0] for name in imports(path)} & DRAWING
        if not path.is_relative_to(PACKAGE / "raster" / "gl"):
            assert not drawing, f"{path} imports {sorted(drawing)}"


def test_shaders_know_no_word_of_the_trade():
    shaders = sorted((PACKAGE / "raster" / "gl" / "shaders").iterdir())
    assert shaders
    for shader in shaders:
        text = shader.read_text(encoding="utf-8").lower()
        assert not [word for word in TRADE_WORDS if word in text], shader
