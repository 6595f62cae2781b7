"""Generated compositing programs: one fragment shader run writes a picture for each stack.

A stack's GLSL is spliced in as straight calls, so the driver sees no dynamic sampler indexing.
Programs are kept by shape: the number of layers, and which of them each stack holds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from preview.picture.display import Display, knee_curve
from preview.raster.gl.context import GL
from preview.raster.gl.program import Program
from preview.raster.request import Layer, SceneImage, Stack

FACETS_UNIT, IDS_UNIT, SET_UNIT, OUTER_UNIT, LAYER_UNIT = 0, 1, 2, 3, 4

Shape = tuple[tuple[int, ...], ...]
"""For each stack, its layers' numbers from bottom to top."""


def stack_shape(stacks: Sequence[Stack]) -> tuple[list[Layer], Shape]:
    """Distinct layers of all stacks, and each stack as numbers into them."""
    layers: list[Layer] = []
    shape = []
    for stack in stacks:
        for layer in stack:
            if layer not in layers:
                layers.append(layer)
        shape.append(tuple(layers.index(layer) for layer in stack))
    return layers, tuple(shape)


def splices(count: int, shape: Shape, linear: bool) -> dict[str, str]:
    """GLSL for ``count`` layers and stacks of the given shape."""
    lines = []
    for i in range(count):
        lines.append(
            f"uniform sampler2D layer_image_{i};\nuniform mat4 layer_uv_{i};\nuniform vec4 layer_sides_{i}[4];\n"
            f"uniform vec4 layer_edge_{i};\nuniform float layer_dim_{i};"
        )
    for k, stack in enumerate(shape):
        body = ["    vec3 light = vec3(0.0);", "    float seen = 1.0;", "    vec2 cover;"]
        for i in reversed(stack):
            body.append(
                f"    cover = layer_cover(p, layer_sides_{i}, layer_edge_{i}.w);\n"
                f"    for (float share = seen * cover.x; share > 0.0; share = 0.0)\n"
                f"        light += share * mix(layer_edge_{i}.rgb, layer_dim_{i} * layer_light(p, layer_image_{i}, "
                f"layer_uv_{i}), layer_edge_{i}.w > 0.0 ? min(cover.y / cover.x, 1.0) : 1.0);\n"
                f"    seen *= 1.0 - cover.x;"
            )
        body.append("    for (float share = seen; share > 0.0; share = 0.0) light += share * outer_light(p);")
        body.append("    return min(light, vec3(p.headroom));")
        lines.append(f"vec3 stack_{k}(Point p) {{\n" + "\n".join(body) + "\n}")
        lines.append(f"layout(location = {k}) out vec4 picture_{k};")
    indices = range(len(shape))
    encode = "light_{0}" if linear else "display_code(light_{0})"
    write = [
        f"vec3 light_{k} = front.rgb + open * (wall_{k} + off_wall * marker); "
        f"picture_{k} = vec4({encode.format(k)}, open * off_wall);"
        for k in indices
    ]
    return {
        "LAYERS": "\n".join(lines),
        "CLEAR": " ".join(f"vec3 wall_{k} = vec3(0.0);" for k in indices),
        "ADD": " ".join(f"wall_{k} += weight * stack_{k}(p);" for k in indices),
        "WRITE": "\n    ".join(write),
    }


def set_display(program: Program, display: Display) -> None:
    """Set the uniforms of display.glsl."""
    curvature, scale = knee_curve(display.knee_point, display.knee_range_stops)
    program.set("exposure_gain", display.gain)
    program.set("knee", (display.knee_point, curvature, scale))


def set_layers(
    program: Program,
    layers: Sequence[Layer],
    textures: Mapping[SceneImage, int],
    picture_px: tuple[int, int],
) -> None:
    """Set and bind everything the spliced layers read."""
    for i, layer in enumerate(layers):
        program.set(f"layer_uv_{i}", layer.image.uv_from_stage(picture_px))
        program.set_array(f"layer_sides_{i}", layer.image.border_planes(picture_px))
        width = layer.edge_width_m if layer.edge_rgb is not None else 0.0
        program.set(f"layer_edge_{i}", (*(layer.edge_rgb or (0.0, 0.0, 0.0)), width))
        program.set(f"layer_dim_{i}", layer.dim)
        program.bind(f"layer_image_{i}", LAYER_UNIT + i, GL.GL_TEXTURE_2D, textures[layer.image])
