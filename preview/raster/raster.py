"""The door to drawing: scene images, composites and sightlines, each drawn once and kept while it fits."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from preview.camera.extent import undistorted_extent
from preview.camera.view import CameraView
from preview.conventions import Array
from preview.errors import PreviewError
from preview.picture.display import Display
from preview.raster.blur import SHARP_PX, blur_of
from preview.raster.gl.composite import (
    FACETS_UNIT,
    IDS_UNIT,
    LAYER_UNIT,
    OUTER_UNIT,
    SET_UNIT,
    Recipe,
    set_display,
    set_layers,
    splices,
    stack_shape,
)
from preview.raster.gl.context import GL, Context
from preview.raster.gl.defocus import Defocus
from preview.raster.gl.images import NEAR_M, SceneImages
from preview.raster.gl.program import Program
from preview.raster.gl.readback import Pending, start_read
from preview.raster.gl.scene import Eye, GlScene
from preview.raster.gl.stage import Foreground, GlStage, SoftView, eye_of
from preview.raster.gl.target import SampleBuffers, Target
from preview.raster.gl.texture import (
    delete_textures,
    empty_texture,
)
from preview.raster.request import (
    Body,
    CameraPicture,
    CanvasPicture,
    Layer,
    OuterPicture,
    Request,
    SceneImage,
    shares_of,
    stacks_of,
)
from preview.stage.mesh import SceneMesh
from preview.stage.surface import LedSurface

MAX_STACKS = 8
"""Pictures of one view drawn at once: OpenGL 4.1 has at least 8 colour attachments."""
MAX_LAYERS = 16 - LAYER_UNIT
"""A fragment shader samples at least 16 textures; the stage and the outer image take the first."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """A drawn picture.

    Attributes
    ----------
    pixels : (h, w, 3) uint8 BT.709 code values, or float32 linear light where 1.0 is stage white
    off_wall : share of the picture that sees neither LED surface nor set; 0 where that has no meaning
    """

    pixels: np.ndarray
    off_wall: float


@dataclass(frozen=True, eq=False)
class Sightlines:
    """What each picture pixel sees along its middle's sightline; unblended float32.

    At a pixel that two facets share, the facet is that of the pixel's first sample, its plane met by the
    middle's sightline.

    Attributes
    ----------
    surface : (h, w) int32, place of the LED surface in the stage's list, -1 for none (or a back)
    canvas : (h, w, 2) canvas coordinates on it, LED pixels
    distance_m : (h, w) from the entrance pupil
    facing : (h, w) cosine of the angle between the sightline and the surface's normal
    set_cover : (h, w) share of the pixel covered by set and people
    """

    surface: np.ndarray
    canvas: np.ndarray
    distance_m: np.ndarray
    facing: np.ndarray
    set_cover: np.ndarray


class Raster:
    """Draws one stage and one virtual scene. Owns the OpenGL context; use it in one thread.

    Parameters
    ----------
    surfaces, headroom : LED surfaces, and the peak of each over stage white
    stage_set : set, people and the light on them
    virtual : the virtual scene
    outer_eye_m : stage eye point
    display : display transform
    picture_px : width and height of camera pictures
    samples : per pixel, for edges
    """

    def __init__(
        self,
        surfaces: Sequence[LedSurface],
        headroom: Sequence[float],
        stage_set: SceneMesh,
        virtual: SceneMesh,
        outer_eye_m: Array,
        display: Display,
        picture_px: tuple[int, int],
        samples: int = 4,
        outer_face_px: int | None = None,
    ) -> None:
        self.context = Context()
        GL.glEnable(GL.GL_TEXTURE_CUBE_MAP_SEAMLESS)
        self.picture_px = picture_px
        self._display = display
        self._buffers = SampleBuffers(min(samples, self.context.max_samples), self.context.max_size)
        self._surfaces = tuple(surfaces)
        GL.glBindVertexArray(GL.glGenVertexArrays(1))
        self._images = SceneImages(
            virtual,
            np.asarray(outer_eye_m, dtype=np.float64),
            picture_px,
            outer_face_px or min(2048, max(64, picture_px[0] * 4 // 5)),
            self._buffers,
        )
        self._outer_needed = self._images.faces_seen(surfaces)
        self._set = GlScene(stage_set, backdrop=False)
        self._stage = GlStage(surfaces, headroom, self._set, self._buffers)
        self._empty_array = int(GL.glGenVertexArrays(1))
        self._defocus = Defocus(picture_px, self._empty_array)
        self._programs: dict[object, Program] = {}
        self._targets: dict[tuple[object, ...], tuple[Target, list[int]]] = {}
        self._pictures: OrderedDict[tuple[Request, bool], Drawn] = OrderedDict()

    def __enter__(self) -> Raster:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def set_screens(self, frames: Mapping[str, np.ndarray]) -> None:
        """Show new pictures on the virtual scene's screens, (h, w, 3) uint8 sRGB-coded; kept pictures that
        may show one of them are forgotten."""
        if not frames:
            return
        self.context.make_current()
        stale, faces = self._images.set_screens(frames)
        for request, linear in list(self._pictures):
            images = {layer.image for stack in stacks_of(request) for layer in stack} | {request}
            around = faces if isinstance(request, OuterPicture) else faces & self._outer_needed
            if images & stale or (around and not isinstance(request, SceneImage)):
                del self._pictures[request, linear]

    def forget(self) -> None:
        """Drop every kept image and picture, so that the next request draws it anew."""
        self.context.make_current()
        self._images.forget()
        self._pictures.clear()

    def draw(self, requests: Sequence[Request], linear: bool = False) -> list[Drawn]:
        """Draw pictures; equal requests and pictures kept from the call before are drawn once.

        Parameters
        ----------
        requests : in any order
        linear : float32 linear light instead of code values

        Returns
        -------
        list of Drawn, in the order of ``requests``
        """
        self.context.make_current()
        wanted = list(OrderedDict.fromkeys(requests))
        # Images that this call does not use give way to the ones it has to draw.
        needed = {layer.image for r in wanted for stack in stacks_of(r) for layer in stack}
        self._images.needed = needed | {r for r in wanted if isinstance(r, SceneImage)}
        todo = [request for request in wanted if (request, linear) not in self._pictures]
        pending: dict[Request, Pending] = {}
        by_view: OrderedDict[object, list[CameraPicture]] = OrderedDict()
        for request in todo:
            if isinstance(request, CameraPicture):
                alike = (request.view, request.bodies, request.marked, request.defocus)
                by_view.setdefault(alike, []).append(request)
            elif isinstance(request, CanvasPicture):
                pending[request] = self._canvas(request, linear)
            elif isinstance(request, SceneImage):
                pending[request] = self._flat(request, linear)
            else:
                pending[request] = self._all_round(linear)
        for pictures in by_view.values():
            for start in range(0, len(pictures), MAX_STACKS):
                batch = pictures[start : start + MAX_STACKS]
                pending |= self._camera_pictures(batch, linear)
        for request, read in pending.items():
            pixels, off_wall = read.picture()
            self._pictures[request, linear] = Drawn(pixels, off_wall)
        drawn = [self._pictures[request, linear] for request in requests]
        keep = {(request, linear) for request in wanted}
        for key in [key for key in self._pictures if key[1] == linear and key not in keep]:
            del self._pictures[key]
        return drawn

    def _program(
        self, vertex: str, fragment: str, defines: Mapping[str, int | str], recipe: Recipe | None = None
    ) -> Program:
        name = (vertex, fragment, tuple(sorted(defines.items())), recipe)
        if name not in self._programs:
            extra = splices(recipe, "TOP_ONLY" in defines) if recipe is not None else {}
            self._programs[name] = Program(vertex, fragment, defines, extra)
        return self._programs[name]

    def _output(
        self, size: tuple[int, int], storages: tuple[int, ...], depth: bool = False, name: str = ""
    ) -> tuple[Target, list[int]]:
        key = (size, storages, depth, name)
        if key not in self._targets:
            textures = [empty_texture(*size, storage, linear=False) for storage in storages]
            colors = tuple(("texture", texture) for texture in textures)
            self._targets[key] = (Target.build(*size, colors=colors, depth=depth), textures)
        return self._targets[key]

    def _fill(self, target: Target, kept_depth: str = "") -> None:
        """Run the program in use over the whole target.

        ``kept_depth``: "write" lets the program set depth; "unfinished" visits only pixels where it set 1.
        """
        target.bind()
        GL.glDisable(GL.GL_BLEND)
        GL.glDisable(GL.GL_CULL_FACE)
        if kept_depth:
            GL.glEnable(GL.GL_DEPTH_TEST)
            GL.glDepthFunc(GL.GL_ALWAYS if kept_depth == "write" else GL.GL_LESS)
            GL.glDepthMask(GL.GL_TRUE if kept_depth == "write" else GL.GL_FALSE)
        else:
            GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glBindVertexArray(self._empty_array)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        GL.glDepthMask(GL.GL_TRUE)

    def _flat(self, image: SceneImage, linear: bool) -> Pending:
        texture = self._images.flat(image)
        program = self._program("screen.vert", "show.frag", {"LINEAR": 1} if linear else {})
        width, height = self.picture_px
        shrink = image.drawn_size(self.picture_px)[0] / width
        lod = float(max(0.0, np.log2(shrink))) if shrink > 1.5 else 0.0
        program.use(depth=0.0, picture_size=(width, height), lod=lod)
        set_display(program, self._display)
        program.bind("image", 0, GL.GL_TEXTURE_2D, texture)
        target, _ = self._output(self.picture_px, (_storage(linear),))
        self._fill(target)
        return start_read(target, 0, "linear" if linear else "code")

    def _all_round(self, linear: bool) -> Pending:
        texture = self._images.outer(range(6))
        defines = {"ALL_ROUND": 1} | ({"LINEAR": 1} if linear else {})
        program = self._program("screen.vert", "show.frag", defines)
        size = (self.picture_px[0], self.picture_px[0] // 2)
        lod = float(max(0.0, np.log2(4 * self._images.outer_px / size[0])))
        program.use(depth=0.0, picture_size=size, lod=lod)
        set_display(program, self._display)
        program.bind("image", 0, GL.GL_TEXTURE_CUBE_MAP, texture)
        target, _ = self._output(size, (_storage(linear),))
        self._fill(target)
        return start_read(target, 0, "linear" if linear else "code")

    def _prepare_wall(
        self, program: Program, layers: Sequence[Layer], pictures: Sequence[CameraPicture | CanvasPicture]
    ) -> None:
        """Set what every program that evaluates wall light reads."""
        textures = {layer.image: self._images.flat(layer.image) for layer in layers}
        program.set("outer_eye", self._images.outer_eye)
        program.set("outer_size", float(self._images.outer_px))
        outer = self._images.outer(self._outer_needed)
        program.bind("outer_image", OUTER_UNIT, GL.GL_TEXTURE_CUBE_MAP, outer)
        program.bind("facets", FACETS_UNIT, GL.GL_TEXTURE_BUFFER, self._stage.facet_table)
        set_layers(program, layers, textures, self.picture_px)
        set_display(program, self._display)
        for number, picture in enumerate(pictures):
            if picture.ghosts:
                program.set_array(f"shares_{number}", np.array(shares_of(picture))[:, None])

    def _recipe(
        self, pictures: Sequence[CameraPicture | CanvasPicture], linear: bool, view: CameraView | None
    ) -> tuple[Recipe, list[Layer]]:
        """Draw the scene images that the pictures show; what program composites them, and its layers."""
        stacks = list(dict.fromkeys(stack for picture in pictures for stack in stacks_of(picture)))
        layers, shape = stack_shape(stacks)
        if len(layers) > MAX_LAYERS:
            raise PreviewError(
                f"{len(layers)} frustum layers at once; at most {MAX_LAYERS} can be on the wall: "
                "ask for fewer cameras"
            )
        for layer in layers:
            self._images.flat(layer.image)
        self._images.outer(self._outer_needed)
        edges = tuple(layer.edge_rgb is not None for layer in layers)
        aligned = tuple(
            view is not None and not view.distortion and layer.image.view == view and not edge
            for layer, edge in zip(layers, edges, strict=True)
        )
        shown = tuple(tuple(stacks.index(stack) for stack in stacks_of(picture)) for picture in pictures)
        return Recipe(edges, aligned, shape, shown, linear), layers

    def _camera_pictures(self, pictures: Sequence[CameraPicture], linear: bool) -> dict[Request, Pending]:
        """Pictures that differ in what the wall shows alone."""
        view, bodies, marked = pictures[0].view, pictures[0].bodies, pictures[0].marked
        recipe, layers = self._recipe(pictures, linear, view)
        # First, because it asks more of the foreground.
        soft = self._soft_view(view, bodies) if pictures[0].defocus else None
        geometry = self._foreground(view, bodies)
        if soft is not None:
            recipe = replace(recipe, wall_alone=True)
        storage = GL.GL_RGBA32F if soft is not None else _storage(linear)
        target, walls = self._output(self.picture_px, (storage,) * len(pictures), depth=True)
        for top_only in (True, False):
            program = self._view_program(view, geometry, {"TOP_ONLY": 1} if top_only else {}, recipe)
            self._prepare_wall(program, layers, pictures)
            program.set("marked", float(marked))
            self._fill(target, "write" if top_only else "unfinished")
        if soft is not None:
            target, _ = self._output(self.picture_px, (_storage(linear),) * len(pictures), name="developed")
            lens: dict[str, object] = {"stage_from_gl": view.stage_from_gl[:3, :3]}
            lens |= {"tangents": view.half_tangents, "marked": float(marked)}
            lens |= {} if marked else _distortion(view)  # only the hall asks where sightlines run
            self._defocus.develop(walls, soft, target, self._display, linear, lens)
        form = "linear" if linear else "code"
        return {picture: start_read(target, i, form) for i, picture in enumerate(pictures)}

    def _foreground(
        self, view: CameraView, bodies: tuple[Body, ...] = ()
    ) -> tuple[Foreground, tuple[float, float]]:
        """Facet numbers and set layer of a view, and the tangents they span."""
        eye, size, _ = self._eye(view)
        return self._stage.foreground((view, bodies), eye, size, bodies), eye.tangents

    def _eye(self, view: CameraView) -> tuple[Eye, tuple[int, int], float]:
        """A view's eye, the size of its undistorted raster, and the farthest distance drawn."""
        tangents, size = raster_extent(view, self.picture_px)
        far = self._stage.reach_m * 4 + float(np.abs(view.pupil_m).max()) + 10
        return eye_of(view.stage_from_gl, tangents, NEAR_M, far), size, far

    def _soft_view(self, view: CameraView, bodies: tuple[Body, ...]) -> SoftView | None:
        """What is out of focus in a view; None where everything is sharp."""
        blur = blur_of(view, self.picture_px)
        if blur is None:
            return None
        eye, size, far_m = self._eye(view)
        if blur.at_infinity_px <= SHARP_PX:
            ahead = view.pose.rotation[:, 1]
            if self._stage.nearest_m(eye, ahead, bodies) >= blur.nearest_sharp_m():
                return None
        foreground = self._stage.foreground((view, bodies), eye, size, bodies, depth=True)
        if foreground.soft is None:
            program = self._view_program(view, (foreground, eye.tangents), {"CIRCLES": 1}, None)
            program.set("depth_range", (NEAR_M, far_m))
            program.set("blur", (blur.at_infinity_px, blur.focus_m))
            program.bind("facets", FACETS_UNIT, GL.GL_TEXTURE_BUFFER, self._stage.facet_table)
            program.bind("nearest_depth", LAYER_UNIT, GL.GL_TEXTURE_2D, foreground.nearest)
            storages = (GL.GL_RGBA16F, GL.GL_RG16F)
            textures = [empty_texture(*self.picture_px, storage, linear=False) for storage in storages]
            target = Target.build(*self.picture_px, colors=tuple(("texture", t) for t in textures))
            self._fill(target)
            target.release()
            foreground.keep_soft(self._defocus.soften(*textures))
        soft = foreground.soft
        assert soft is not None
        return soft if max(soft.set_px, soft.wall_px) > SHARP_PX else None

    def _view_program(
        self,
        view: CameraView,
        geometry: tuple[Foreground, tuple[float, float]],
        extra: Mapping[str, int | str],
        recipe: Recipe | None,
    ) -> Program:
        """The composite program in use, with the view's geometry set."""
        foreground, tangents = geometry
        defines: dict[str, int | str] = {"SAMPLES": self._buffers.samples, **extra}
        if view.distortion:
            defines["DISTORTED"] = 1
        program = self._program("screen.vert", "composite.frag", defines, recipe)
        program.use(
            depth=0.0,
            raster_size=foreground.size,
            raster_tangents=tangents,
            pupil=view.pupil_m,
            stage_from_gl=view.stage_from_gl[:3, :3],
            tangents=view.half_tangents,
            picture_size=self.picture_px,
        )
        for name, value in _distortion(view).items():
            program.set_array(name, value)
        program.bind("facet_ids", IDS_UNIT, GL.GL_TEXTURE_2D_MULTISAMPLE, foreground.facet_ids)
        program.bind("set_layer", SET_UNIT, GL.GL_TEXTURE_2D, foreground.set_layer)
        return program

    def _canvas(self, request: CanvasPicture, linear: bool) -> Pending:
        recipe, layers = self._recipe([request], linear, None)
        program = self._program("canvas.vert", "canvas.frag", {}, recipe)
        program.use(canvas_size=self._surfaces[request.surface].canvas_px)
        self._prepare_wall(program, layers, [request])
        target, _ = self._output(self.canvas_size(request.surface), (_storage(linear),))
        target.bind()
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glDisable(GL.GL_BLEND)
        GL.glDisable(GL.GL_CULL_FACE)
        GL.glClearColor(0, 0, 0, 0)
        GL.glClear(GL.GL_COLOR_BUFFER_BIT)
        self._stage.draw_facets(request.surface)
        return start_read(target, 0, "linear" if linear else "code")

    def canvas_size(self, surface: int) -> tuple[int, int]:
        """Drawn size of a canvas: its LED pixels, scaled down to fit twice the picture's width."""
        width, height = self._surfaces[surface].canvas_px
        limit = min(self.context.max_size, 2 * self.picture_px[0])
        scale = min(1.0, limit / max(width, height))
        return max(2, 2 * round(width * scale / 2)), max(2, 2 * round(height * scale / 2))

    def sightlines(self, view: CameraView, bodies: tuple[Body, ...] = ()) -> Sightlines:
        """What every pixel's middle sees from ``view``, at the picture's size; bodies count as set."""
        self.context.make_current()
        program = self._view_program(view, self._foreground(view, bodies), {"SIGHTLINES": 1}, None)
        program.bind("facets", FACETS_UNIT, GL.GL_TEXTURE_BUFFER, self._stage.facet_table)
        target, _ = self._output(self.picture_px, (GL.GL_RGBA32F, GL.GL_RG32I))
        self._fill(target)
        lines = start_read(target, 0, "linear").array()
        numbers = start_read(target, 1, "integer").array()
        surface = np.where(numbers[..., 0] > 0, numbers[..., 0] - 1, -1)
        return Sightlines(
            surface=surface,
            canvas=lines[..., :2],
            distance_m=lines[..., 2],
            facing=lines[..., 3],
            set_cover=(numbers[..., 1] / 65535).astype(np.float32),
        )

    def close(self) -> None:
        """Free everything on the graphics side. The raster cannot be used afterwards."""
        self.forget()  # also makes this raster's context current
        for target, textures in self._targets.values():
            target.release()
            delete_textures(*textures)
        for program in self._programs.values():
            program.release()
        self._defocus.release()
        self._stage.release()
        self._buffers.release()
        self._set.release()
        self._images.release()
        self.context.close()


def raster_extent(
    view: CameraView, picture_px: tuple[int, int]
) -> tuple[tuple[float, float], tuple[int, int]]:
    """Tangents and size of the undistorted raster that holds everything a distorted picture shows,
    drawn finely enough for the place where distortion magnifies most."""
    if not view.distortion:
        return view.half_tangents, picture_px
    extent = undistorted_extent(view)
    sides = zip(picture_px, extent.tangents, view.half_tangents, extent.finest_step, strict=True)
    width, height = (int(np.ceil(side * reach / tan / min(1.0, step))) for side, reach, tan, step in sides)
    return extent.tangents, (width, height)


def _distortion(view: CameraView) -> dict[str, Array]:
    """What lens.glsl reads of a view: nothing where the lens does not distort."""
    d = view.distortion
    return {"lens": np.array([[d.k1], [d.k2], [d.p1], [d.p2], [d.k3]])} if d else {}


def _storage(linear: bool) -> int:
    return int(GL.GL_RGBA32F if linear else GL.GL_RGBA8)
