"""Examples in docstrings are run, and public functions say what they do."""

import ast
import doctest
import importlib
from pathlib import Path

import numpy as np
import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "preview"
FILES = [path for path in sorted(PACKAGE.rglob("*.py")) if not {"_assets", "_shared"} & set(path.parts)]
WITH_EXAMPLES = [path for path in FILES if ">>> " in path.read_text(encoding="utf-8")]


def module_name(path):
    return ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__")


@pytest.mark.parametrize("path", WITH_EXAMPLES, ids=module_name)
def test_examples_give_what_they_say(path):
    # A library that other tests import makes numpy print as it did ten years ago.
    with np.printoptions(legacy=False):
        result = doctest.testmod(importlib.import_module(module_name(path)))
    assert result.attempted > 0
    assert result.failed == 0


def test_there_are_examples():
    assert len(WITH_EXAMPLES) > 5


@pytest.mark.parametrize("path", FILES, ids=module_name)
def test_modules_and_public_functions_say_what_they_do(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    if tree.body:
        assert ast.get_docstring(tree), "the module says nothing"
    for node in tree.body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            assert ast.get_docstring(node), f"{node.name} in line {node.lineno} says nothing"
