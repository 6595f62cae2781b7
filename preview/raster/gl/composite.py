"""Generated compositing programs: one fragment shader run writes a picture for each stack.

A stack's GLSL is spliced in as straight calls, so the driver sees no dynamic sampler indexing.
Programs are kept by shape: their layers, and which of them each stack holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from preview.picture.display import Display, knee_curve
from preview.raster.gl.context import GL
from preview.raster.gl.program import Program
from preview.raster.request import Layer, SceneImage, Stack

FACETS_UNIT, IDS_UNIT, SET_UNIT, OUTER_UNIT, LAYER_UNIT = 0, 1, 2, 3, 4

Shape = tuple[tuple[int, ...], ...]
"""For each stack, its layers' numbers from bottom to top."""


@dataclass(frozen=True)
class Recipe:
    """What a generated program depends on.

    Attributes
    ----------
    edges : for each layer, whether it draws an edge line
    aligned : for each layer, whether its image's pixels coincide with the picture's
    shape : the distinct stacks
    pictures : for each picture, the stacks whose light it adds up
    linear : write linear light instead of code values
    wall_alone : write the wall's light, set and marker left out, and the share off the wall
    """

    edges: tuple[bool, ...]
    aligned: tuple[bool, ...]
    shape: Shape
    pictures: Shape
    linear: bool
    wall_alone: bool = False


def stack_shape(stacks: Iterable[Stack]) -> tuple[list[Layer], Shape]:
    """Distinct layers of all stacks, and each stack as numbers into them."""
    layers: list[Layer] = []
    shape = []
    for stack in stacks:
        for layer in stack:
            if layer not in layers:
                layers.append(layer)
        shape.append(tuple(layers.index(layer) for layer in stack))
    return layers, tuple(shape)


def splices(recipe: Recipe, top_only: bool) -> dict[str, str]:
    """GLSL for a recipe.

    ``top_only`` writes the quick first pass: each stack's top layer alone, and ``complete`` false where
    that is not all there is to see. The second pass visits only those pixels and does everything.
    """
    lines = []
    for i, edged in enumerate(recipe.edges):
        lines.append(
            f"uniform sampler2D layer_image_{i};\nuniform mat4 layer_uv_{i};\nuniform float layer_dim_{i};\n"
            f"uniform ivec2 layer_margin_{i};"
        )
        if edged:
            lines.append(f"uniform vec4 layer_sides_{i}[4];\nuniform vec4 layer_edge_{i};")
    for k, stack in enumerate(recipe.shape):
        body = ["    vec3 light = vec3(0.0);", "    float seen = 1.0, share;", "    Landing l;"]
        for i in list(reversed(stack))[: 1 if top_only else None]:
            if recipe.aligned[i]:
                shown = f"texelFetch(layer_image_{i}, ivec2(gl_FragCoord.xy) + layer_margin_{i}, 0).rgb"
                body.append(f"    light += seen * layer_dim_{i} * {shown};\n    seen = 0.0;")
                break
            shown = f"layer_dim_{i} * layer_light(l, layer_image_{i})"
            if recipe.edges[i]:
                line = f"off_edge_line(p, layer_sides_{i}, layer_edge_{i}.w)"
                shown = f"mix(layer_edge_{i}.rgb, {shown}, {line})"
            body.append(
                f"    l = land(p, layer_uv_{i}, vec2(textureSize(layer_image_{i}, 0)));\n"
                f"    share = seen * l.cover;\n"
                f"    light += share * {shown};\n"
                f"    seen -= share;"
            )
        if top_only and stack:
            body.append("    complete = complete && seen <= 0.0;")
        elif not any(recipe.aligned[i] for i in stack):
            body.append("    light += seen * outer_light(p);")
        body.append("    return min(light, vec3(p.headroom));")
        lines.append(f"vec3 stack_{k}(Point p) {{\n" + "\n".join(body) + "\n}")
    for k, numbers in enumerate(recipe.pictures):
        lines.append(f"layout(location = {k}) out vec4 picture_{k};")
        lines.append(f"uniform float shares_{k}[{len(numbers)}];")
    indices = range(len(recipe.pictures))
    used = sorted({number for numbers in recipe.pictures for number in numbers})
    add = [f"vec3 seen_{number} = stack_{number}(p);" for number in used]
    for k, numbers in enumerate(recipe.pictures):
        terms = [f"shares_{k}[{place}] * seen_{number}" for place, number in enumerate(numbers)]
        add.append(f"wall_{k} += {' + '.join(terms) if len(numbers) > 1 else f'seen_{numbers[0]}'};")
    encode = "light_{0}" if recipe.linear else "display_code(light_{0})"
    write = [
        f"vec3 light_{k} = front.rgb + open * (wall_{k} + off_wall * marker); "
        f"picture_{k} = vec4({encode.format(k)}, open * off_wall);"
        for k in indices
    ]
    if recipe.wall_alone:
        write = [f"picture_{k} = vec4(wall_{k}, off_wall);" for k in indices]
    return {
        "LAYERS": "\n".join(lines),
        "CLEAR": " ".join(f"vec3 wall_{k} = vec3(0.0);" for k in indices),
        "ADD": " ".join(add),
        "SHARE": " ".join(f"wall_{k} *= weight;" for k in indices),
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
        if layer.edge_rgb is not None:
            program.set_array(f"layer_sides_{i}", layer.image.border_planes(picture_px))
            program.set(f"layer_edge_{i}", (*layer.edge_rgb, layer.edge_width_m))
        program.set(f"layer_dim_{i}", layer.dim)
        drawn = layer.image.drawn_size(picture_px)
        program.set(f"layer_margin_{i}", [(drawn[0] - picture_px[0]) // 2, (drawn[1] - picture_px[1]) // 2])
        program.bind(f"layer_image_{i}", LAYER_UNIT + i, GL.GL_TEXTURE_2D, textures[layer.image])
