"""Shader programs: small GLSL files beside this module, assembled by include, define and splice."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from preview.errors import GraphicsError
from preview.raster.gl.context import GL

_FOLDER = Path(__file__).parent / "shaders"
_VERSION = "#version 410 core\n"
_UNIFORM = re.compile(r"^\s*uniform\s+(\w+)\s+(\w+)", re.MULTILINE)

_SIZES = {"float": 1, "int": 1, "bool": 1, "vec2": 2, "vec3": 3, "vec4": 4, "ivec2": 2, "mat3": 9, "mat4": 16}
_FLOAT_SETTERS = (GL.glUniform1fv, GL.glUniform2fv, GL.glUniform3fv, GL.glUniform4fv)
_INT_SETTERS = (GL.glUniform1iv, GL.glUniform2iv, GL.glUniform3iv, GL.glUniform4iv)


@cache
def _read(name: str) -> str:
    text = (_FOLDER / name).read_text()
    return re.sub(r'^#include "([^"]+)"$', lambda match: _read(match[1]), text, flags=re.MULTILINE)


class Program:
    """A linked vertex and fragment shader.

    Parameters
    ----------
    vertex, fragment : file names in shaders/
    defines : preprocessor names to values
    splices : ``//@NAME@`` lines in the fragment shader to replace by generated lines

    Raises
    ------
    GraphicsError : the driver refuses the source; holds its log.
    """

    def __init__(
        self,
        vertex: str,
        fragment: str,
        defines: Mapping[str, int | str] | None = None,
        splices: Mapping[str, str] | None = None,
    ) -> None:
        head = _VERSION + "".join(f"#define {key} {value}\n" for key, value in (defines or {}).items())
        source = _read(fragment)
        for key, text in (splices or {}).items():
            source = source.replace(f"//@{key}@", text)
        texts = {GL.GL_VERTEX_SHADER: head + _read(vertex), GL.GL_FRAGMENT_SHADER: head + source}
        self._name = f"{vertex} + {fragment}"
        self._types = {name: kind for kind, name in _UNIFORM.findall("\n".join(texts.values()))}
        self._locations: dict[str, int] = {}
        self._units: dict[str, int] = {}
        self._set: dict[str, Any] = {}
        self.id = GL.glCreateProgram()
        for kind, text in texts.items():
            shader = GL.glCreateShader(kind)
            GL.glShaderSource(shader, text)
            GL.glCompileShader(shader)
            if not GL.glGetShaderiv(shader, GL.GL_COMPILE_STATUS):
                raise GraphicsError(f"{self._name} does not compile: {GL.glGetShaderInfoLog(shader)!r}")
            GL.glAttachShader(self.id, shader)
            GL.glDeleteShader(shader)
        GL.glLinkProgram(self.id)
        if not GL.glGetProgramiv(self.id, GL.GL_LINK_STATUS):
            raise GraphicsError(f"{self._name} does not link: {GL.glGetProgramInfoLog(self.id)!r}")

    def use(self, **uniforms: Any) -> None:
        """Make this the current program and set uniforms by name."""
        GL.glUseProgram(self.id)
        for name, value in uniforms.items():
            self.set(name, value)

    def _location(self, name: str) -> int:
        if name not in self._locations:
            if name not in self._types:
                raise KeyError(f"{self._name} declares no uniform {name}")
            self._locations[name] = GL.glGetUniformLocation(self.id, name)
        return self._locations[name]

    def set(self, name: str, value: Any) -> None:
        """Set a scalar, vector or matrix uniform of the current program; its declared type decides how.

        Matrices are (3, 3) or (4, 4), row by row as numpy prints them. A value that is the very object
        set last, or an equal number, is not sent again: do not change arrays in place.

        Raises
        ------
        KeyError : the source declares no such uniform.
        """
        where = self._location(name)
        if where < 0 or self._unchanged(name, value):
            return  # declared but not read by this variant, or already there
        kind = self._types[name]
        integer = kind in ("int", "bool", "ivec2")
        data = np.ascontiguousarray(value, dtype=np.int32 if integer else np.float32)
        if data.size != _SIZES[kind]:
            raise ValueError(f"{self._name}: {name} is {kind}, got shape {data.shape}")
        if kind.startswith("mat"):
            setter = GL.glUniformMatrix3fv if kind == "mat3" else GL.glUniformMatrix4fv
            setter(where, 1, GL.GL_TRUE, data)
        else:
            (_INT_SETTERS if integer else _FLOAT_SETTERS)[data.size - 1](where, 1, data)

    def _unchanged(self, name: str, value: Any) -> bool:
        last = self._set.get(name)
        self._set[name] = value
        return last is value or (isinstance(value, float) and isinstance(last, float) and last == value)

    def set_array(self, name: str, value: Any) -> None:
        """Set an array uniform from (n, c): n vectors of c floats; (n, 1) for plain floats."""
        where = self._location(name)
        if where < 0 or self._unchanged(name, value):
            return
        data = np.ascontiguousarray(value, dtype=np.float32)
        _FLOAT_SETTERS[data.shape[1] - 1](where, len(data), data)

    def bind(self, name: str, unit: int, target: int, texture: int) -> None:
        """Bind ``texture`` to a unit and point the sampler ``name`` of the current program at it."""
        where = self._location(name)
        if where < 0:
            return
        GL.glActiveTexture(GL.GL_TEXTURE0 + unit)
        GL.glBindTexture(target, texture)
        if self._units.get(name) != unit:
            GL.glUniform1i(where, unit)
            self._units[name] = unit

    def release(self) -> None:
        """Free the program."""
        if self.id:
            GL.glDeleteProgram(self.id)
            self.id = 0
