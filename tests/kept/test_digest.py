"""Laws of digests: the same value always, another value never."""

import enum
import math
import subprocess
import sys
from dataclasses import dataclass, fields, replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.kept.digest import DIGEST_BYTES, Digester, digest
from preview.raster.request import CameraPicture, Layer, SceneImage


class Light(enum.Enum):
    SUN = 1
    SPOT = 2


class Lamp(enum.IntEnum):
    SUN = 1


NUMBERS = st.sampled_from([0, 1, -1, 2**70, True, False, 0.0, -0.0, 1.0, math.inf, math.nan, 5e-324])
ARRAYS = st.builds(
    lambda shape, dtype, level: np.full(shape, level, dtype),
    st.sampled_from([(), (0,), (2,), (1, 2), (2, 1), (0, 3)]),
    st.sampled_from(["<f4", ">f4", "<f8", "<i4", "u1", "?"]),
    st.sampled_from([0, 1, -0.0]),
)
LEAVES = st.one_of(
    st.none(),
    NUMBERS,
    st.floats(),
    st.text(max_size=3),
    st.binary(max_size=3),
    st.sampled_from([*Light, *Lamp, Fraction(1, 3), Fraction(3), Fraction(30000, 1001)]),
    ARRAYS,
)
HASHABLE = st.one_of(st.none(), st.booleans(), st.integers(-2, 2), st.text(max_size=2))
VALUES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.lists(inner, max_size=3).map(tuple),
        st.dictionaries(HASHABLE, inner, max_size=3),
        st.frozensets(HASHABLE, max_size=3),
        st.builds(Layer, image=inner, dim=inner),
    ),
    max_leaves=8,
)


def same(a, b):
    """Whether two values are the same for drawing: types, bits, shapes; not the order of dicts and sets."""
    if type(a) is not type(b):
        return False
    if isinstance(a, np.ndarray):
        return (a.dtype.str, a.shape, a.tobytes()) == (b.dtype.str, b.shape, b.tobytes())
    if isinstance(a, float):
        return (math.isnan(a) and math.isnan(b)) or (a == b and math.copysign(1, a) == math.copysign(1, b))
    if isinstance(a, list | tuple):
        return len(a) == len(b) and all(map(same, a, b))
    if isinstance(a, dict):
        # 1 and True are the same key to a dict, and so cannot both be in one.
        pairs = [[one for one in b.items() if same(key, one[0])] for key in a]
        return len(a) == len(b) and all(
            len(found) == 1 and same(part, found[0][1]) for part, found in zip(a.values(), pairs, strict=True)
        )
    if isinstance(a, frozenset):
        return len(a) == len(b) and all(any(same(one, other) for other in b) for one in a)
    if isinstance(a, Layer):
        return all(same(getattr(a, field.name), getattr(b, field.name)) for field in fields(a))
    return a == b


def copied(value):
    """The same value with no part shared, dicts turned round, arrays strided."""
    if isinstance(value, np.ndarray):
        wide = np.repeat(value[..., None], 2, axis=-1)
        return wide[..., 0]
    if isinstance(value, list | tuple):
        return type(value)(copied(part) for part in value)
    if isinstance(value, dict):
        return {key: copied(part) for key, part in reversed(value.items())}
    if isinstance(value, Layer):
        return replace(value, image=copied(value.image), dim=copied(value.dim))
    return value


@given(VALUES)
def test_equal_values_have_equal_digests(value):
    assert same(value, copied(value))
    assert digest(copied(value)) == digest(value)
    assert len(digest(value)) == DIGEST_BYTES


@given(VALUES, VALUES)
def test_digests_are_equal_for_equal_values_only(a, b):
    assert (digest(a) == digest(b)) == same(a, b)


@pytest.mark.parametrize(
    "a, b",
    [
        (0.0, -0.0), (1, 1.0), (1, True), (Lamp.SUN, 1), (Light.SUN, Lamp.SUN), (Light.SUN, Light.SPOT),
        ("ab", b"ab"), ((), []), ((1,), [1]), (("a", "b"), ("ab", "")), (("ab",), ("a", "b")),
        ((1, (2,)), ((1, 2),)), (None, "none"), ({}, ()), ({"a": 1}, (("a", 1),)), (Fraction(1, 2), 0.5),
        (1e300, math.nextafter(1e300, 0)), (np.zeros(4, "f4"), np.zeros(4, "i4")),
        (np.zeros((2, 3)), np.zeros((3, 2))), (np.zeros(2), [0.0, 0.0]),
        (np.zeros(2), -np.zeros(2)), (np.arange(4.0), np.arange(4.0)[::-1]), (np.float32(1), np.float64(1)),
        (Pose((0.0, 0.0, 0.0)), ((0.0, 0.0, 0.0), 0.0, 0.0, 0.0)),
    ],
)  # fmt: skip
def test_what_differs_for_drawing_has_another_digest(a, b):
    assert digest(a) != digest(b)


def test_numbers_that_are_the_same_have_the_same_digest_whoever_holds_them():
    assert digest(np.float64(0.1)) == digest(0.1)
    assert digest(math.nan) == digest(-math.nan) == digest(float("inf") - float("inf"))
    fortran = np.asfortranarray(np.arange(6.0).reshape(2, 3))
    assert digest(fortran) == digest(np.arange(6.0).reshape(2, 3))
    assert digest(Fraction(2, 4)) == digest(Fraction(1, 2))


def view(**changed):
    plain = {"pose": Pose((0.3, -1.5, 1.7), 4.0), "sensor_mm": (9.6, 5.4), "projection_mm": 9.0}
    return CameraView(**(plain | changed))


@pytest.mark.parametrize("name", [field.name for field in fields(CameraView)])
def test_any_field_that_changes_changes_the_digest_of_a_picture(name):
    """Down through the layers of a request, as Studio asks for it."""
    others = {"pose": replace(view().pose, roll_deg=1e-9), "sensor_mm": (9.6, 5.4000001)}
    others["distortion"] = Distortion(p2=1e-12)
    changed = others[name] if name in others else getattr(view(), name) + 1e-9
    was = CameraPicture(view(), (Layer(SceneImage(view(), 0.1)),))
    now = CameraPicture(view(), (Layer(SceneImage(view(**{name: changed}), 0.1)),))
    assert digest(was) != digest(now)
    assert digest(was) == digest(CameraPicture(view(), (Layer(SceneImage(view(), 0.1)),)))


def test_a_shared_part_counts_as_one_that_is_not_shared():
    shared = np.arange(10.0)
    assert digest((shared, shared)) == digest((shared, shared.copy()))
    digester = Digester()
    first = digester.of({"a": shared})
    assert digester.of({"a": shared}) == first == digest({"a": shared.copy()})


@dataclass
class Loose:
    a: int = 1


@dataclass(frozen=True)
class Tight:
    a: object = 1


@pytest.mark.parametrize(
    "value, word",
    [(object(), "object"), (Loose(), "Loose"), (lambda: 1, "function"), (Tight, "type"),
     (Tight(object()), "object"), (np.array([object()]), "object"),
     (np.array(["a"]), "<U1"), (1j, "complex"), (iter(()), "iterator"),
     ({"a": {"b": bytearray(1)}}, "bytearray")],
)  # fmt: skip
def test_what_is_no_plain_value_is_refused_by_name(value, word):
    with pytest.raises(TypeError, match=word):
        digest(value)


def test_digests_are_the_same_in_another_process():
    """Python's own hashes differ from process to process; these must not."""
    say = (
        "from preview.kept.digest import digest; import numpy as np;"
        "print(digest({'a': frozenset('xyz'), 'b': (1, 2.5, None), 3: np.arange(5)}).hex())"
    )
    run = [sys.executable, "-c", say]
    found = {
        subprocess.run(run, env={"PYTHONHASHSEED": seed}, text=True, check=True, capture_output=True).stdout
        for seed in ("1", "2")
    }
    assert found == {digest({"a": frozenset("zyx"), "b": (1, 2.5, None), 3: np.arange(5)}).hex() + "\n"}
