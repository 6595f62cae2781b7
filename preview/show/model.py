"""The show file's typed model: what a TOML show file may say, with units in the key names.

Every class refuses unknown keys. Values are frozen. Cross references between parts (a shot's
camera, a framing's name) are checked in ``preview.show.load`` on the raw document, so that a user
sees all problems in one round. Docstrings under the fields become the JSON Schema's descriptions.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from preview.show.table import Finite, NotNegative, Positive, Table
from preview.show.thresholds import Checks

Point = tuple[float, float, float]
ViewingAngle = Annotated[float, Field(gt=0, lt=180)]
Color = Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")]
Name = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9 _.-]*$", max_length=40)]
Units = Literal["m", "cm", "mm", "in", "ft"]
FrameRate = Literal[
    "24", "24000/1001", "25", "30", "30000/1001", "48", "48000/1001", "50", "60", "60000/1001"
]


class ShowInfo(Table):
    """What the show is and how it counts frames."""

    title: str = Field(min_length=1)
    """Shown on sheets and in file metadata."""
    frame_rate: FrameRate
    """Frames per second, exact: "25", "30000/1001" (29.97), "60000/1001" (59.94)."""
    start_timecode: str = "10:00:00:00"
    """Timecode of the rundown's first frame; ";" before the frames for drop-frame."""
    picture_size_px: tuple[Annotated[int, Field(ge=16)], Annotated[int, Field(ge=16)]] = (1920, 1080)
    """Width and height of every camera picture, square pixels."""


class PictureSettings(Table):
    """How linear light becomes the signal: exposure, knee, then the BT.709 curve."""

    exposure_stops: Finite = 0.0
    """Applied to every camera picture; +1 doubles the light."""
    knee_point: Annotated[float, Field(gt=0, le=1)] = 0.8
    """Linear level where highlights start to be compressed; 1 switches the knee off."""
    knee_range_stops: Annotated[float, Field(ge=0, le=8)] = 3.0
    """Stops above 100 % that the knee still brings under 100 %."""
    key_percent: Annotated[float, Field(gt=0, le=100)] = 18.0
    """Reflectance of the card from which exposure tables count stops: 18 grey, 90 white."""
    defocus: bool = True
    """Draw what a camera's lens leaves out of focus blurred: wall, set, people and equipment each by its own
    distance. false draws every camera picture sharp throughout, which is quicker."""


class Tile(Table):
    """One LED tile (catalogue entry)."""

    tile_size_mm: tuple[Positive, Positive]
    """Width and height."""
    pixel_pitch_mm: Positive
    """Distance between LED pixel centres."""
    peak_luminance_cd_m2: Positive = 1500.0
    refresh_hz: Positive = 3840.0
    reflectance: Annotated[float, Field(ge=0, le=1)] = 0.04
    """Share of stage light that the dark surface sends back."""
    viewing_angle_deg: tuple[ViewingAngle, ViewingAngle] = (160.0, 140.0)
    """Full angle, across and up and down, inside which a tile gives at least half of what it gives straight
    on, as data sheets state it."""
    viewing_angle_of: Literal["luminance", "intensity"] = "luminance"
    """What is half at those angles: luminance, or luminous intensity (which falls with the cosine even where
    luminance does not fall at all)."""
    emitter_share: Annotated[float, Field(gt=0, le=1)] = 0.4
    """Side of the shining part of an LED pixel over its pitch; value from memory, measure it on a tile."""
    emitter_shape: Literal["square", "round"] = "square"


class Surface(Table):
    """One LED wall, floor or ceiling. Unplaced it stands upright, bottom edge middle at the origin,
    facing -Y (towards a camera that looks along +Y); then tilt, yaw and position are applied."""

    name: Name
    kind: Literal["wall", "floor", "ceiling"] = "wall"
    tile: str | None = None
    """Name of a tile in the equipment catalogue; keys written here win over it."""
    tile_size_mm: tuple[Positive, Positive] | None = None
    pixel_pitch_mm: Positive | None = None
    columns: Annotated[int, Field(ge=1, le=2000)] | None = None
    rows: Annotated[int, Field(ge=1, le=2000)] | None = None
    joint_angle_deg: Finite | tuple[Finite, ...] | None = None
    """Turn at each column joint; positive wraps towards the viewer. One number, or columns - 1."""
    radius_m: Positive | None = None
    """Inside radius of a regular curve, instead of joint_angle_deg."""
    position_m: Point = (0.0, 0.0, 0.0)
    """Middle of the bottom (near) edge."""
    yaw_deg: Finite = 0.0
    """Turn about Z; 0 faces -Y, positive turns the face towards +X (seen from above, anticlockwise)."""
    tilt_deg: Finite | None = None
    """Positive faces up. Default: wall 0, floor 90, ceiling -90."""
    mesh: str | None = None
    """UV-mapped mesh file instead of tiles: texture coordinates span the canvas."""
    canvas_px: tuple[Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)]] | None = None
    """Canvas size of a mesh surface, in LED pixels."""
    units: Units = "m"
    """Length unit of the mesh file."""
    up: Literal["y", "z"] | None = None
    """Up axis of the mesh file. Default: y for glTF, z for the others."""
    scale: Positive = 1.0
    peak_luminance_cd_m2: Positive | None = None
    refresh_hz: Positive | None = None
    reflectance: Annotated[float, Field(ge=0, le=1)] | None = None
    viewing_angle_deg: tuple[ViewingAngle, ViewingAngle] | None = None
    viewing_angle_of: Literal["luminance", "intensity"] | None = None
    emitter_share: Annotated[float, Field(gt=0, le=1)] | None = None
    emitter_shape: Literal["square", "round"] | None = None


class SetPiece(Table):
    """A physical mesh on the stage."""

    name: Name
    mesh: str
    position_m: Point = (0.0, 0.0, 0.0)
    pan_deg: Finite = 0.0
    scale: Positive = 1.0
    units: Units = "m"
    up: Literal["y", "z"] | None = None


class Person(Table):
    """A stand-in for a presenter or guest, built in."""

    name: Name
    posture: Literal["standing", "seated"] = "standing"
    position_m: Point = (0.0, 0.0, 0.0)
    """Point on the floor under the person (under the seat for a seated one); Z lifts onto a riser."""
    pan_deg: Finite = 180.0
    """Where the person faces: 0 along +Y (away from the cameras), 180 towards them."""
    height_m: Annotated[float, Field(ge=1.0, le=2.3)] = 1.72
    seat_height_m: Annotated[float, Field(ge=0.25, le=1.0)] = 0.48
    skin_color: Color = "#b98a6b"
    hair_color: Color = "#3a2a20"
    top_color: Color = "#34586b"
    trousers_color: Color = "#2b2f36"


class StageLight(Table):
    """Light on set pieces and people, relative to stage white."""

    key_level: NotNegative = 0.9
    """Radiance of a white matt card facing the key light (1.0 = stage white)."""
    fill_level: NotNegative = 0.25
    ambient_level: NotNegative = 0.12
    key_pan_deg: Finite = -35.0
    """Where the key comes from, seen from the set: 0 from the camera side (-Y), positive from +X."""
    key_height_deg: Annotated[float, Field(ge=-90, le=90)] = 40.0
    key_color: Color = "#fff4e6"


class HouseView(Table):
    """A person on the studio floor who looks past the cameras."""

    position_m: Point = (0.0, -9.0, 1.7)
    look_at_m: Point = (0.0, 4.0, 1.6)
    horizontal_angle_deg: Annotated[float, Field(gt=1, lt=170)] = 75.0


class Stage(Table):
    """The physical studio: LED surfaces, set, people."""

    eye_point_m: Point = (0.0, 0.0, 1.6)
    """Where the shared outer image is drawn from."""
    white_cd_m2: Positive | None = None
    """Luminance all walls are lined up to; 1.0 in every linear picture. Default: the lowest peak."""
    surfaces: tuple[Surface, ...] = Field(min_length=1)
    set: tuple[SetPiece, ...] = ()
    people: tuple[Person, ...] = ()
    light: StageLight = StageLight()
    equipment: bool = True
    """Draw the other cameras, their stands, arms and operators where they come into a picture."""
    house: HouseView = HouseView()


class SkySettings(Table):
    """Behind the virtual scene."""

    zenith_color: Color = "#4f86c6"
    horizon_color: Color = "#cfe0ee"
    ground_color: Color = "#6b6658"
    level: NotNegative = 1.0
    """Multiplies the colours; 1.0 shows #ffffff as stage white."""
    ambient_level: NotNegative = 0.5
    """How much of it lights the scene."""
    image: str | None = None
    """Equirectangular picture instead of the gradient (PNG, JPEG, HDR or EXR)."""
    pan_deg: Finite = 0.0


class Sun(Table):
    """The virtual scene's sun."""

    pan_deg: Finite = 30.0
    """Where it stands: 0 at +Y, positive towards -X (as a camera pans)."""
    height_deg: Annotated[float, Field(ge=-90, le=90)] = 40.0
    level: NotNegative = 1.5
    """Radiance of a white matt card facing it."""
    color: Color = "#ffedd2"
    softness_deg: Annotated[float, Field(ge=0, le=20)] = 1.5
    """Apparent diameter; the real sun has 0.53."""
    shadow: bool = True


class VirtualLight(Table):
    """A point or spot light added to the virtual scene, in stage coordinates."""

    name: Name
    kind: Literal["point", "spot"] = "point"
    position_m: Point
    look_at_m: Point | None = None
    level: NotNegative
    """Radiance of a white matt card facing it at 1 m."""
    color: Color = "#ffffff"
    cone_deg: Annotated[float, Field(gt=0, lt=180)] = 60.0
    """Full angle of a spot."""


class Screen(Table):
    """A named screen in the virtual scene that shows a remote guest."""

    name: Name
    """Node (or material) name in the scene mesh."""
    picture: str | None = None
    clip: str | None = None
    level: NotNegative = 1.0
    """White of the picture, relative to stage white."""


class Virtual(Table):
    """The virtual scene whose picture goes on the wall."""

    mesh: str
    position_m: Point = (0.0, 0.0, 0.0)
    pan_deg: Finite = 0.0
    scale: Positive = 1.0
    units: Units = "m"
    up: Literal["y", "z"] | None = None
    """Up axis of the file. Default: y for glTF, z for OBJ, PLY and STL."""
    exposure_stops: Finite = 0.0
    light_scale: Positive = 1.0
    """Multiplies lights that come in the mesh file."""
    use_file_lights: bool = True
    sky: SkySettings | None = None
    sun: Sun | None = None
    lights: tuple[VirtualLight, ...] = ()
    screens: tuple[Screen, ...] = ()


class Sensor(Table):
    """Active area of a sensor (catalogue entry)."""

    size_mm: tuple[Positive, Positive]
    """Active width and height."""
    photosites: tuple[Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)]]
    """Across and down."""
    color_filter: Literal["three-chip", "bayer"] = "three-chip"
    photosite_aperture: Annotated[float, Field(gt=0, le=1)] = 1.0
    """Side of a photosite's light-sensitive area over its pitch; with microlenses about 1."""
    lowpass_photosites: Annotated[float, Field(ge=0, le=4)] = 0.0
    """Distance of the spots of an optical low-pass filter, in photosites; 0 is none."""


class Lens(Table):
    """A lens. Focal length is the pinhole (projection) distance with focus at infinity."""

    focal_length_mm: tuple[Positive, Positive]
    """Shortest and longest; equal for a prime."""
    t_stop: Positive = 2.8
    """Widest opening; the working one of a camera that does not say."""
    minimum_focus_m: NotNegative = 0.6
    entrance_pupil_offset_m: Finite = 0.0
    """From the sensor towards the subject."""
    breathing: Annotated[float, Field(ge=0, le=1)] = 0.0
    """0: angle of view does not change with focus; 1: thin-lens extension, f (1 + f / (s - f))."""
    k1: Finite = 0.0
    """Brown-Conrady, OpenCV's order and units: undistorted to distorted, normalised by focal length."""
    k2: Finite = 0.0
    p1: Finite = 0.0
    p2: Finite = 0.0
    k3: Finite = 0.0


class Mount(Table):
    """What carries the camera."""

    kind: Literal["pedestal", "tripod", "free", "jib"] = "free"
    pivot_m: Point | None = None
    """Jib: the arm's pivot (Z is its height)."""
    arm_m: Positive | None = None
    """Jib: pivot to head."""
    head_offset_m: Point = (0.0, 0.0, 0.0)
    """Jib: arm end to sensor at zero pan and tilt: right, forward, up. The head stays level."""
    height_range_m: tuple[NotNegative, NotNegative] | None = None
    """Lowest and highest lens height this mount allows."""
    boom_range_deg: tuple[Finite, Finite] | None = None
    """Jib: lowest and highest boom angle."""
    tail_m: Positive | None = None
    """Jib: pivot to the middle of the counterweight. Default: a third of arm_m."""
    arm_width_m: Positive | None = None
    """Jib: width of the arm with rods and cables. Default: 0.20."""
    counterweight_size_m: Positive | None = None
    """Jib: side of the counterweight, a cube. Default: 0.45."""
    base_width_m: Positive | None = None
    """How wide it stands on the floor. Default: pedestal 0.90, tripod 1.10, jib 1.40."""


class Framing(Table):
    """One named framing: where the camera is, where it looks, what the lens does."""

    name: Name
    position_m: Point | None = None
    """Sensor position; default: the camera's position_m. Not for a jib."""
    swing_deg: Finite | None = None
    """Jib: arm turn about Z, 0 along +Y, positive to the left."""
    boom_deg: Finite | None = None
    """Jib: arm angle above horizontal."""
    pan_deg: Finite | None = None
    tilt_deg: Finite | None = None
    roll_deg: Finite = 0.0
    look_at: str | Point | None = None
    """Instead of pan and tilt: a stage point in metres, or the name of a person or set piece."""
    focal_length_mm: Positive
    focus_m: Positive | None = None
    """Focus distance from the sensor; default: the distance to look_at, else 5 m or the minimum."""


class Move(Table):
    """A move between two framings of one camera."""

    name: Name
    start: Name
    """Framing it leaves from."""
    end: Name
    """Framing it arrives at."""
    duration_s: Positive
    ease: Literal["linear", "smooth", "slow-start", "slow-end"] = "smooth"


class CameraDelays(Table):
    """What is late in one camera's chain; what it does not say is the show's."""

    tracking_frames: NotNegative | None = None
    """How old the pose is that the wall draws this camera's frustum from; fractions interpolate."""
    tracking_ms: NotNegative | None = None
    """The same in milliseconds; write one of the two."""
    picture_frames: Annotated[int, Field(ge=0, le=100)] | None = None
    """Frames the mixer holds a cut to this camera back behind the cue that switches the wall."""
    return_frames: Annotated[int, Field(ge=0, le=100)] | None = None
    """How late this operator's return arrives."""


class Delays(Table):
    """What is late between cameras, wall and mixer. Rundown times are when the cue is given."""

    tracking_frames: NotNegative | None = None
    """How old the poses are that the wall draws frustums from; fractions interpolate."""
    tracking_ms: NotNegative | None = None
    """The same in milliseconds; write one of the two."""
    wall_switch_frames: Annotated[int, Field(ge=0, le=100)] = 0
    """Frames after the cue at which the wall changes."""
    picture_frames: Annotated[int, Field(ge=0, le=100)] = 0
    """Frames the mixer holds its cut back behind the cue, to match the wall."""
    return_frames: Annotated[int, Field(ge=0, le=100)] = 0
    """How late returns arrive at the operators."""


class Sensitivity(Table):
    """How a data sheet states a camera's sensitivity: the aperture at which a white card, shutter off,
    gives 100 % video."""

    f_number: Positive
    illuminance_lx: Positive = 2000.0
    """Light on the card (3200 K)."""
    card_percent: Annotated[float, Field(gt=0, le=100)] = 89.9
    """Reflectance of the card."""
    exposure_s: Positive = 0.02
    """Shutter off: the whole time of a picture, here one of 50 a second."""


class Body(Table):
    """The camera as a thing on the studio floor: what other cameras see of it and what it may hit. Sizes left
    out are typical of its mount, from memory."""

    width_m: Positive | None = None
    """Camera with viewfinder. Default: pedestal 0.32, jib 0.18, tripod 0.18, free 0.18."""
    height_m: Positive | None = None
    """Default: pedestal 0.42, jib 0.26, tripod 0.30, free 0.28."""
    behind_m: Positive | None = None
    """From the sensor to the camera's back. Default: pedestal 0.45, jib 0.28, tripod 0.32, free 0.32."""
    lens_m: Positive | None = None
    """From the sensor to the front of the lens with its hood. Default: pedestal 0.50, jib 0.28, tripod 0.30,
    free 0.28."""
    lens_width_m: Positive | None = None
    """Width and height of lens and hood. Default: pedestal 0.26, jib 0.15, tripod 0.15, free 0.14."""
    operated: bool = True
    """Somebody stands at the camera, or at a jib's tail. false: it is driven from elsewhere."""
    operator_height_m: Annotated[float, Field(ge=1.0, le=2.3)] = 1.75


class Camera(Table):
    """One studio camera."""

    name: Name
    number: Annotated[int, Field(ge=1, le=99)]
    """Tally number."""
    operator: str = ""
    sensor: str | Sensor
    """Catalogue name or a table."""
    lens: str | Lens
    """Catalogue name or a table."""
    mount: Mount = Mount()
    body: Body = Body()
    position_m: Point | None = None
    """Where it stands, for framings that do not say."""
    t_stop: Positive | None = None
    """What the lens is set to; default: wide open."""
    shutter_angle_deg: Annotated[float, Field(gt=0, le=360)] = 180.0
    iso: Positive = 800.0
    """Exposure index the camera is used at."""
    sensitivity: Sensitivity | None = None
    """Instead of iso: what the camera's data sheet states."""
    overscan_percent: Annotated[float, Field(ge=0, le=100)] = 5.0
    """Extra picture on each side of the inner frustum image."""
    delays: CameraDelays = CameraDelays()
    framings: tuple[Framing, ...] = Field(min_length=1)
    moves: tuple[Move, ...] = ()


class CameraCue(Table):
    """What one camera does in a shot: hold a framing, or make a move."""

    framing: str | None = None
    move: str | None = None
    after_s: NotNegative = 0.0
    """Seconds after the shot starts at which the move starts."""


class Shot(Table):
    """One line of the rundown. What it does not say is inherited from the shot before."""

    name: Name
    on_air: str | None = None
    """Camera name."""
    start: str | None = None
    """Timecode; default: where the shot before ends."""
    duration: str | Positive | None = None
    """Timecode length HH:MM:SS:FF or seconds; needed unless the next shot has a start."""
    transition: Literal["cut", "mix"] = "cut"
    mix_frames: Annotated[int, Field(ge=1)] | None = None
    """Length of the mix, which begins on this shot's first frame."""
    cameras: dict[str, CameraCue] = Field(default_factory=dict)
    """Cues by camera name."""
    note: str = ""


class Drive(Table):
    """How the wall is driven."""

    mode: Literal["switched", "shared", "interleaved"] = "switched"
    """switched: the frustum of the camera on air alone; shared: all at once; interleaved: each frame is
    divided into equal slots, one a camera, and each camera's shutter is open in its own."""
    edge_line: bool = True
    """Draw a line along each frustum's edge in shared mode (switched: off air has no frustum)."""
    edge_color: Color = "#37d67a"
    """Edge line of the frustum on air."""
    off_air_edge_color: Color = "#f2b134"
    edge_width_mm: NotNegative = 20.0
    off_air_dim: Annotated[float, Field(ge=0, le=1)] = 0.6
    """Light left in frustums off air in shared mode; 1 does not dim."""
    order: tuple[str, ...] = ()
    """Shared: off-air stacking from bottom to top by camera name, on air is on top; interleaved: the
    order of the slots. Default: camera order."""
    crosstalk: Annotated[float, Field(ge=0, le=1)] = 0.0
    """Interleaved: share of the light in a camera's slot that belongs to the other slots."""
    slot_shutter_percent: Annotated[float, Field(gt=0, le=100)] = 100.0
    """Interleaved: how much of its slot a shutter is open."""
    mix_switch: Literal["start", "middle", "end"] = "middle"
    """When in a mix the wall changes to the incoming camera."""


class ShowFile(Table):
    """A whole show."""

    format: Literal[1]
    """Version of this file layout."""
    catalogue: str | None = None
    """The show's own equipment catalogue, relative to this file; wins over the shared one by name."""
    show: ShowInfo
    picture: PictureSettings = PictureSettings()
    stage: Stage
    virtual: Virtual
    cameras: tuple[Camera, ...] = Field(min_length=1)
    drive: Drive = Drive()
    delays: Delays = Delays()
    checks: Checks = Checks()
    rundown: tuple[Shot, ...] = Field(min_length=1)
