"""Defocus: pictures blurred as a lens blurs them, in linear light, by passes on the graphics side.

The wall is known everywhere, also behind set and people, so it is blurred alone, each place by its own
distance; whatever virtual depth it shows does not matter. Set and people are taken apart into sheets by how
large their discs are and on which side of the plane in focus they lie. Each sheet is blurred by itself, what
a nearer sheet hides counting as unknown, and the sheets are laid over one another and over the wall. So what
is sharp keeps its edge before a blurred wall, and what is blurred has a soft, half transparent edge.

Large discs are drawn on halved pictures (``preview.raster.blur``). Even weights over a pixel lattice have no
noise and no rings. Measured on two processor cores, 1920x1080, a camera that moves: 0.2 to 0.3 s more with
discs of 5 to 20 pixels, up to 0.4 s with 30; about half for a second picture of the same view.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from preview.picture.display import Display
from preview.raster.blur import LEVELS, SHARP_PX, TILE_PX, Sheet, levels_for, ramp_px, sheets_of
from preview.raster.gl.composite import set_display
from preview.raster.gl.context import GL
from preview.raster.gl.program import Program
from preview.raster.gl.readback import start_read
from preview.raster.gl.stage import SoftView
from preview.raster.gl.target import Target, resolve
from preview.raster.gl.texture import delete_textures, edit, empty_texture

_SAMPLES = 3  # outputs of tiles.frag
Size = tuple[int, int]


class Defocus:
    """Blur passes for pictures of one size.

    Parameters
    ----------
    picture_px : width and height
    vertex_array : an empty one, to draw whole targets with
    """

    def __init__(self, picture_px: Size, vertex_array: int) -> None:
        self._px, self._vertex_array = picture_px, vertex_array
        self._programs: dict[object, Program] = {}
        self._kept: dict[object, tuple[Target, list[int]]] = {}

    def level_px(self, level: int) -> Size:
        """Width and height of a level, rounded up."""
        width, height = (-(-side // 2**level) for side in self._px)
        return width, height

    def soften(self, set_layer: int, circles: int) -> SoftView:
        """Find out what is out of focus and blur the set.

        Parameters
        ----------
        set_layer : texture as drawn through the lens; taken over: the answer holds it or replaces it
        circles : texture of signed disc diameters, as in ``SoftView``
        """
        near, far, wall_px = self._tiles(set_layer, circles)
        set_px = float(max(near[..., 3].max(), far[..., 3].max()))
        sheets = sheets_of(near, True, self._px) + sheets_of(far, False, self._px)
        if sheets:
            soft = self._soft_set(set_layer, circles, sheets)
            delete_textures(set_layer)
            set_layer = soft
        return SoftView(set_layer, circles, set_px, wall_px)

    def develop(
        self,
        walls: Sequence[int],
        soft: SoftView,
        target: Target,
        display: Display,
        linear: bool,
        geometry: Mapping[str, Any],
    ) -> None:
        """Finish pictures: one attachment of ``target`` for each wall.

        Parameters
        ----------
        walls : textures of wall light times share on the wall, and share off it, 32-bit float
        geometry : uniforms ``stage_from_gl``, ``tangents``, ``marked`` and, of a distorting lens, ``lens``
        """
        levels = levels_for(soft.wall_px)
        for attachment, wall in enumerate(walls):
            above = self._wall_levels(wall, soft, levels)
            defines: dict[str, int | str] = {"LEVEL": 0, "SHARP": repr(SHARP_PX)}
            defines |= {"ABOVE": 1} if above else {}
            defines |= {"LINEAR": 1} if linear else {}
            defines |= {"DISTORTED": 1} if "lens" in geometry else {}
            program = self._wall_program(defines, wall, soft, 0, above)
            for name, value in geometry.items():
                (program.set_array if name == "lens" else program.set)(name, value)
            set_display(program, display)
            program.bind("set_layer", 3, GL.GL_TEXTURE_2D, soft.set_layer)
            target.bind()
            target.draw_to(attachment)
            self._draw()
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, target.framebuffer)
        target.draw_to(*range(len(walls)))

    def release(self) -> None:
        """Free everything on the graphics side."""
        for target, textures in self._kept.values():
            target.release()
            delete_textures(*textures)
        for program in self._programs.values():
            program.release()
        self._kept.clear()
        self._programs.clear()

    # ---- the wall ----

    def _wall_levels(self, wall: int, soft: SoftView, levels: int) -> int:
        """Blur the wall on the levels above the picture's own; texture of the first of them, 0 for none."""
        halves = [wall]
        for level in range(1, levels):
            target, (half,) = self._target(("half", level), self.level_px(level), (GL.GL_RGBA32F,))
            program = self._program("halve.frag", {})
            program.use(depth=0.0, size=self.level_px(level - 1))
            program.bind("image", 0, GL.GL_TEXTURE_2D, halves[-1])
            target.bind()
            self._draw()
            halves.append(half)
        above = 0
        for level in range(levels - 1, 0, -1):
            defines: dict[str, int | str] = {"LEVEL": level}
            defines |= {"ABOVE": 1} if above else {}
            target, (blurred,) = self._target(("wall", level), self.level_px(level), (GL.GL_RGBA32F,), True)
            program = self._wall_program(defines, halves[level], soft, level, above)
            program.set("least", ramp_px(level)[0] * 0.85)
            target.bind()
            self._draw()
            above = blurred
        return above

    def _wall_program(
        self, defines: dict[str, int | str], wall: int, soft: SoftView, level: int, above: int
    ) -> Program:
        program = self._program("wall_blur.frag", defines)
        program.use(depth=0.0, leave=_ramp(level + 1), size=self.level_px(level), picture_size=self._px)
        program.bind("wall", 0, GL.GL_TEXTURE_2D, wall)
        program.bind("circles", 1, GL.GL_TEXTURE_2D, soft.circles)
        if above:
            program.bind("above", 2, GL.GL_TEXTURE_2D, above)
        return program

    # ---- set and people ----

    def _tiles(self, set_layer: int, circles: int) -> tuple[np.ndarray, np.ndarray, float]:
        """Sums over tiles of what is near and far, (rows, columns, 4) each, and the wall's widest disc."""
        width, height = (-(-side // TILE_PX) for side in self._px)
        target, _ = self._target("tiles", (width, height), (GL.GL_RGBA32F,) * _SAMPLES)
        program = self._program("tiles.frag", {"TILE": TILE_PX, "SHARP": repr(ramp_px(0)[0])})
        program.use(depth=0.0, picture_size=self._px)
        program.bind("set_layer", 0, GL.GL_TEXTURE_2D, set_layer)
        program.bind("circles", 1, GL.GL_TEXTURE_2D, circles)
        target.bind()
        self._draw()
        near, far, wall = (start_read(target, i, "linear").array() for i in range(_SAMPLES))
        return near, far, float(wall[..., 1].max())

    def _soft_set(self, set_layer: int, circles: int, sheets: Sequence[Sheet]) -> int:
        """Blur every sheet and lay them over one another; the finished texture."""
        blurred: dict[tuple[str, int], int] = {}
        for level in sorted({sheet.level for sheet in sheets}):
            here = [sheet for sheet in sheets if sheet.level == level]
            apart = self._take_apart(set_layer, circles, level, here)
            for sheet in here:
                side = "near" if sheet.near else "far"
                blurred[side, level] = self._blur(sheet, apart, 0 if sheet.near else 1, side)
                if sheet.near:
                    blurred["rest", level] = self._blur(sheet, apart, 2, "rest")
        program = self._program("soft_set.frag", {"FIRST_RAMP": _vec2(_ramp(0))}, _over(sheets))
        program.use(depth=0.0)
        program.bind("set_layer", 0, GL.GL_TEXTURE_2D, set_layer)
        program.bind("circles", 1, GL.GL_TEXTURE_2D, circles)
        for unit, ((side, level), texture) in enumerate(blurred.items(), start=2):
            program.bind(f"{side}_{level}", unit, GL.GL_TEXTURE_2D, texture)
        soft = empty_texture(*self._px, GL.GL_RGBA16F, linear=False)
        target = Target.build(*self._px, colors=(("texture", soft),))
        sharp = Target.build(*self._px, colors=(("texture", set_layer),))
        resolve(sharp, 0, target)
        target.bind()
        boxes = np.array([sheet.box for sheet in sheets])
        self._draw((*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist()))
        sharp.release()
        target.release()
        return soft

    def _take_apart(self, set_layer: int, circles: int, level: int, sheets: Sequence[Sheet]) -> list[int]:
        """Textures of a level: near and far sheet, all behind the near one, and shares not hidden."""
        size = self.level_px(level)
        target, textures = self._target(("apart", level), size, (GL.GL_RGBA16F,) * 4, True)
        program = self._program("sheets.frag", {"LEVEL": level})
        program.use(depth=0.0, picture_size=self._px, enter=_ramp(level), leave=_ramp(level + 1))
        program.bind("set_layer", 0, GL.GL_TEXTURE_2D, set_layer)
        program.bind("circles", 1, GL.GL_TEXTURE_2D, circles)
        target.bind()
        # What sheets gather reaches past where they end up, by as much again.
        reach = int(min(ramp_px(level + 1)[1], 24 * 2**level) + 4 * 2**level)
        boxes = np.array([sheet.box for sheet in sheets])
        low, high = boxes[:, :2].min(axis=0) - reach, boxes[:, 2:].max(axis=0) + reach
        self._draw((int(low[0]), int(low[1]), int(high[0]), int(high[1])), level)
        return textures

    def _blur(self, sheet: Sheet, apart: Sequence[int], channel: int, name: str) -> int:
        level = sheet.level
        storage = (GL.GL_RGBA16F,)
        target, (texture,) = self._target((name, level), self.level_px(level), storage, level > 0)
        rows, columns = sheet.diameter_px.shape
        diameters = empty_texture(columns, rows, GL.GL_RG32F)
        edit(GL.GL_TEXTURE_2D, diameters)
        data = np.stack([sheet.diameter_px, sheet.reached], axis=-1).astype(np.float32)
        GL.glTexSubImage2D(GL.GL_TEXTURE_2D, 0, 0, 0, columns, rows, GL.GL_RG, GL.GL_FLOAT, data)
        program = self._program("sheet_blur.frag", {"LEVEL": level})
        program.use(
            depth=0.0,
            which=np.eye(4)[channel],
            tiles_px=(columns * TILE_PX, rows * TILE_PX),
            range=(ramp_px(level)[0], min(ramp_px(level + 1)[1], 1e4)),
            size=self.level_px(level),
        )
        program.bind("sheet", 0, GL.GL_TEXTURE_2D, apart[channel])
        program.bind("known", 1, GL.GL_TEXTURE_2D, apart[3])
        program.bind("diameters", 2, GL.GL_TEXTURE_2D, diameters)
        target.bind()
        GL.glClearBufferfv(GL.GL_COLOR, 0, np.zeros(4, dtype=np.float32))
        self._draw(sheet.box, level)
        delete_textures(diameters)
        return texture

    # ---- drawing ----

    def _program(
        self, fragment: str, defines: Mapping[str, int | str], extra: Mapping[str, str] | None = None
    ) -> Program:
        key = (fragment, tuple(sorted(defines.items())), tuple(sorted((extra or {}).items())))
        if key not in self._programs:
            self._programs[key] = Program("screen.vert", fragment, defines, extra)
        return self._programs[key]

    def _target(
        self, name: object, size: Size, storages: tuple[int, ...], smooth: bool = False
    ) -> tuple[Target, list[int]]:
        if name not in self._kept:
            textures = [empty_texture(*size, storage, linear=smooth) for storage in storages]
            colors = tuple(("texture", texture) for texture in textures)
            self._kept[name] = (Target.build(*size, colors=colors), textures)
        return self._kept[name]

    def _draw(self, box: tuple[int, int, int, int] | None = None, level: int = 0) -> None:
        """Run the program in use over the bound target, or over a box given in picture pixels."""
        GL.glDisable(GL.GL_BLEND)
        GL.glDisable(GL.GL_CULL_FACE)
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glBindVertexArray(self._vertex_array)
        if box is not None:
            left, top = (max(0, side // 2**level) for side in box[:2])
            right, bottom = (-(-side // 2**level) for side in box[2:])
            GL.glEnable(GL.GL_SCISSOR_TEST)
            GL.glScissor(left, top, max(0, right - left), max(0, bottom - top))
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        GL.glDisable(GL.GL_SCISSOR_TEST)


def _ramp(level: int) -> tuple[float, float]:
    """Start and 1 / width of the ramp on to a level, as ``past`` in disc.glsl wants it."""
    low, high = ramp_px(level)
    return low, 1.0 / (high - low)


def _vec2(pair: tuple[float, float]) -> str:
    return f"vec2({pair[0]!r}, {pair[1]!r})"


def _over(sheets: Sequence[Sheet]) -> dict[str, str]:
    """Splices of soft_set.frag: far sheets from the farthest on, near ones towards the nearest."""
    names: list[str] = []
    far: list[str] = []
    near: list[str] = []
    for level in range(LEVELS):
        if any(sheet.level == level and not sheet.near for sheet in sheets):
            names.append(f"far_{level}")
            far.insert(
                0, f"sheet = enlarged(far_{level}, {2.0**level!r}); soft = sheet + (1.0 - sheet.a) * soft;"
            )
        if any(sheet.level == level and sheet.near for sheet in sheets):
            names += [f"near_{level}", f"rest_{level}"]
            share = f"past({_vec2(_ramp(level))}, size)"
            near.append(
                f"hidden = min(1.0, 2.0 * front.a * ahead * {share});\n"
                f"    soft = mix(soft, enlarged(rest_{level}, {2.0**level!r}), hidden);\n"
                f"    sheet = enlarged(near_{level}, {2.0**level!r}); soft = sheet + (1.0 - sheet.a) * soft;"
            )
    return {
        "SHEETS": "\n".join(f"uniform sampler2D {name};" for name in names),
        "FAR": "\n    ".join(far),
        "NEAR": "\n    ".join(near),
    }
