"""Render targets: framebuffers over textures, and the multisampled buffers that drawing goes through."""

from __future__ import annotations

from dataclasses import dataclass, field

from preview.errors import GraphicsError
from preview.raster.gl.context import GL
from preview.raster.gl.texture import delete_textures, empty_multisample


@dataclass
class Target:
    """A framebuffer and the renderbuffers it owns (textures attached to it belong to the caller)."""

    width: int
    height: int
    framebuffer: int
    renderbuffers: list[int] = field(default_factory=list)

    @classmethod
    def build(
        cls,
        width: int,
        height: int,
        *,
        colors: tuple[tuple[str, int], ...] = (),
        samples: int = 0,
        depth: bool | int = False,
    ) -> Target:
        """A framebuffer with colour attachments and, if asked, 32-bit float depth.

        Parameters
        ----------
        colors : ("texture", id), ("multisample", id), ("shared", renderbuffer of another target) or
            ("buffer", storage format) each
        depth : True for one of its own, or a multisample depth texture
        samples : of the renderbuffers; 0 for single-sampled

        Raises
        ------
        GraphicsError : the driver cannot make it; names the size.
        """
        limit = int(GL.glGetIntegerv(GL.GL_MAX_RENDERBUFFER_SIZE))
        if max(width, height) > limit:
            raise GraphicsError(
                f"a picture of {width}x{height} is larger than this driver's limit of {limit}; "
                "ask for a smaller --size"
            )
        framebuffer = int(GL.glGenFramebuffers(1))
        target = cls(width, height, framebuffer)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
        for index, (kind, value) in enumerate(colors):
            where = GL.GL_COLOR_ATTACHMENT0 + index
            if kind == "buffer":
                target._renderbuffer(where, value, samples)
            elif kind == "shared":
                GL.glFramebufferRenderbuffer(GL.GL_FRAMEBUFFER, where, GL.GL_RENDERBUFFER, value)
            else:
                shape = GL.GL_TEXTURE_2D if kind == "texture" else GL.GL_TEXTURE_2D_MULTISAMPLE
                GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, where, shape, value, 0)
        if depth is True:
            target._renderbuffer(GL.GL_DEPTH_ATTACHMENT, GL.GL_DEPTH_COMPONENT32F, samples)
        elif depth:
            shape = GL.GL_TEXTURE_2D_MULTISAMPLE
            GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, GL.GL_DEPTH_ATTACHMENT, shape, depth, 0)
        target.draw_to(*range(len(colors)))
        if colors or depth:  # without attachments the caller adds its own and checks
            target.check()
        return target

    def _renderbuffer(self, where: int, storage: int, samples: int) -> None:
        buffer = int(GL.glGenRenderbuffers(1))
        self.renderbuffers.append(buffer)
        GL.glBindRenderbuffer(GL.GL_RENDERBUFFER, buffer)
        if samples:
            GL.glRenderbufferStorageMultisample(GL.GL_RENDERBUFFER, samples, storage, self.width, self.height)
        else:
            GL.glRenderbufferStorage(GL.GL_RENDERBUFFER, storage, self.width, self.height)
        GL.glFramebufferRenderbuffer(GL.GL_FRAMEBUFFER, where, GL.GL_RENDERBUFFER, buffer)

    def check(self) -> None:
        """Raise GraphicsError unless the driver accepts the framebuffer."""
        status = GL.glCheckFramebufferStatus(GL.GL_FRAMEBUFFER)
        if status != GL.GL_FRAMEBUFFER_COMPLETE:
            raise GraphicsError(
                f"the OpenGL driver refuses a {self.width}x{self.height} float picture "
                f"(status {int(status):#x}); it must offer OpenGL 4.1 with float render targets"
            )

    def window(self, width: int, height: int) -> Target:
        """The same framebuffer used only up to ``width`` x ``height``; not to be released."""
        return Target(width, height, self.framebuffer)

    def bind(self) -> None:
        """Draw into it, over its whole size."""
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.framebuffer)
        GL.glViewport(0, 0, self.width, self.height)

    def draw_to(self, *attachments: int) -> None:
        """Choose which attachments the bound framebuffer's outputs 0, 1, ... go to (-1: none)."""
        names = [GL.GL_COLOR_ATTACHMENT0 + index if index >= 0 else GL.GL_NONE for index in attachments]
        GL.glDrawBuffers(len(names) or 1, names or [GL.GL_NONE])

    def release(self) -> None:
        """Free the framebuffer and its renderbuffers."""
        if self.framebuffer:
            GL.glDeleteFramebuffers(1, [self.framebuffer])
            if self.renderbuffers:
                GL.glDeleteRenderbuffers(len(self.renderbuffers), self.renderbuffers)
            self.framebuffer, self.renderbuffers = 0, []


class SampleBuffers:
    """The one multisampled colour and depth buffer that everything is drawn in, as large as was needed.

    Parameters
    ----------
    samples : per pixel
    limit : largest side the driver takes
    """

    def __init__(self, samples: int, limit: int) -> None:
        self.samples, self._limit = samples, limit
        self._target: Target | None = None
        self.depth = 0
        """Texture of the depth samples that ``room`` draws with; replaced with it."""

    def room(self, width: int, height: int) -> Target:
        """A target of at least that size: half-float RGBA in attachment 0, 32-bit float depth.

        It may be replaced by the next call; its content lasts until then.
        """
        have = self._target
        if have is None or have.width < width or have.height < height:
            # Rounded up, so that a zoom through a distorting lens does not allocate at every frame.
            room = [min(self._limit, -(-side // 128) * 128) for side in (width, height)]
            wide, high = max(room[0], width), max(room[1], height)
            if have is not None:
                wide, high = max(wide, have.width), max(high, have.height)
                self.release()
            color = (("buffer", GL.GL_RGBA16F),)
            self.depth = empty_multisample(wide, high, GL.GL_DEPTH_COMPONENT32F, self.samples)
            self._target = Target.build(wide, high, colors=color, samples=self.samples, depth=self.depth)
        assert self._target is not None
        return self._target

    def release(self) -> None:
        """Free the buffers."""
        if self._target is not None:
            self._target.release()
            delete_textures(self.depth)
            self._target, self.depth = None, 0


def resolve(
    source: Target, attachment: int, destination: Target, box: tuple[int, int, int, int] | None = None
) -> None:
    """Average the samples of one colour attachment into a single-sampled target of the same size, all of
    it or inside ``box`` (left, top, right, bottom)."""
    GL.glBindFramebuffer(GL.GL_READ_FRAMEBUFFER, source.framebuffer)
    GL.glReadBuffer(GL.GL_COLOR_ATTACHMENT0 + attachment)
    GL.glBindFramebuffer(GL.GL_DRAW_FRAMEBUFFER, destination.framebuffer)
    box = box or (0, 0, source.width, source.height)
    GL.glBlitFramebuffer(*box, *box, GL.GL_COLOR_BUFFER_BIT, GL.GL_NEAREST)
