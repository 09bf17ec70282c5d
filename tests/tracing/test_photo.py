import contextlib
import os
import struct
import warnings
import zlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from nesting.errors import FileError
from nesting.tracing.photo import load_photo, noted_camera

RED_LEFT = np.zeros((80, 120, 3), np.uint8)
RED_LEFT[:, :60] = (200, 10, 10)


def test_the_orientation_tag_is_obeyed(tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(RED_LEFT).save(tmp_path / "turned.jpg", exif=exif, quality=95)
    picture = load_photo(tmp_path / "turned.jpg")
    assert picture.shape == (120, 80, 3)
    assert picture[10, 40, 0] > 150 > 50 > picture[110, 40, 0]


@pytest.mark.parametrize(("tag", "left", "top"), [(1, True, None), (3, False, None), (6, None, True), (8, None, False)])
def test_each_way_a_camera_may_be_held_is_put_upright(tmp_path, tag, left, top):
    exif = Image.Exif()
    exif[0x0112] = tag
    Image.fromarray(RED_LEFT).save(tmp_path / "turned.jpg", exif=exif, quality=95)
    picture = load_photo(tmp_path / "turned.jpg")
    red = picture[..., 0] > 100
    if top is None:
        assert picture.shape == (80, 120, 3) and red[:, 5].all() == left and red[:, -5].all() != left
    else:
        assert picture.shape == (120, 80, 3) and red[5].all() == top and red[-5].all() != top


@pytest.mark.parametrize("mode", ["L", "RGBA", "LA", "P", "1"])
def test_other_kinds_of_picture_become_rgb(tmp_path, mode):
    Image.fromarray(RED_LEFT).convert(mode).save(tmp_path / "photo.png")
    picture = load_photo(tmp_path / "photo.png")
    assert picture.shape == (80, 120, 3) and picture.dtype == np.uint8


def test_a_cmyk_photo_becomes_rgb(tmp_path):
    Image.fromarray(RED_LEFT).convert("CMYK").save(tmp_path / "photo.jpg")
    picture = load_photo(tmp_path / "photo.jpg")
    assert picture[40, 20, 0] > 150 and picture[40, 100].max() < 60


def test_transparency_is_laid_on_white(tmp_path):
    Image.fromarray(np.zeros((80, 80, 4), np.uint8)).save(tmp_path / "clear.png")
    assert load_photo(tmp_path / "clear.png").min() == 255


def test_sixteen_bits_are_scaled_to_eight(tmp_path):
    Image.fromarray(np.full((80, 80), 32768, np.uint16)).save(tmp_path / "deep.png")
    assert abs(int(load_photo(tmp_path / "deep.png")[0, 0, 0]) - 128) <= 1


@pytest.mark.parametrize("name", ["deep.png", "deep.tif"])
@pytest.mark.parametrize("channels", [3, 4])
def test_colours_of_sixteen_bits_are_scaled_to_eight(tmp_path, name, channels):
    deep = np.full((80, 120, channels), 65535, np.uint16)
    deep[..., :3] = RED_LEFT[..., ::-1].astype(np.uint16) * 257
    cv2.imwrite(str(tmp_path / name), deep)
    assert np.abs(load_photo(tmp_path / name).astype(int) - RED_LEFT).max() <= 1


def test_a_missing_photo_is_refused(tmp_path):
    with pytest.raises(FileError, match="not found"):
        load_photo(tmp_path / "none.jpg")


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(FileError):
        load_photo(tmp_path)


def test_a_photo_of_one_pixel_is_refused(tmp_path):
    Image.new("RGB", (1, 1)).save(tmp_path / "dot.png")
    with pytest.raises(FileError, match="1 x 1 pixels"):
        load_photo(tmp_path / "dot.png")


@pytest.mark.parametrize("brand", [b"heic", b"heix", b"mif1", b"avif"])
def test_a_phone_format_is_named_with_its_mend(tmp_path, brand):
    (tmp_path / "phone.heic").write_bytes(b"\x00\x00\x00\x18ftyp" + brand + bytes(200))
    with pytest.raises(FileError, match="save it as JPEG"):
        load_photo(tmp_path / "phone.heic")


@pytest.mark.parametrize("name", ["photo.jpg", "photo.png", "photo.tif", "photo.webp"])
def test_a_photo_cut_short_is_refused(tmp_path, name):
    noise = np.random.default_rng(0).integers(0, 255, (200, 200, 3), np.uint8)
    Image.fromarray(noise).save(tmp_path / name)
    whole = (tmp_path / name).read_bytes()
    (tmp_path / name).write_bytes(whole[: len(whole) // 2])
    with pytest.raises(FileError):
        load_photo(tmp_path / name)


def test_a_picture_that_would_unpack_to_billions_of_pixels_is_refused_unread(tmp_path):
    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    bomb = (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    )
    (tmp_path / "bomb.png").write_bytes(bomb)
    with pytest.raises(FileError, match="80 megapixels"):
        load_photo(tmp_path / "bomb.png")


@pytest.mark.filterwarnings("ignore::UserWarning")
@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([b"", b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"BM", b"RIFF"]),
    st.binary(max_size=300),
)
def test_no_file_at_all_gives_anything_but_a_file_error(tmp_path_factory, start, rest):
    path = tmp_path_factory.getbasetemp() / "any.jpg"
    path.write_bytes(start + rest)
    with pytest.raises(FileError):
        load_photo(path)


def test_a_pipe_or_a_device_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    for path in (tmp_path / "pipe.jpg", Path("/dev/zero"), tmp_path):
        with pytest.raises(FileError, match="photo: no ordinary file: give a picture file"):
            load_photo(path)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, 70), st.integers(0, 255)), min_size=1, max_size=8))
def test_broken_notes_of_a_camera_give_a_photo_or_one_line(tmp_path, broken):
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)[0xA405] = 26
    Image.fromarray(RED_LEFT).save(tmp_path / "noted.jpg", exif=exif)
    content = bytearray((tmp_path / "noted.jpg").read_bytes())
    start = content.index(b"Exif") + 6
    for at, value in broken:
        content[start + at] = value
    (tmp_path / "noted.jpg").write_bytes(content)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        noted_camera(tmp_path / "noted.jpg")
        with contextlib.suppress(FileError):
            load_photo(tmp_path / "noted.jpg")


@pytest.mark.parametrize(
    ("tag", "value", "focal", "spread"),
    # 26 mm of a 4 to 3 picture: 0.722 by the long side (36 mm), 0.751 by the diagonal (CIPA DCG-001: 43.27 mm)
    [
        (0xA405, 26, (0.722, 0.751), 0.05),
        (0x920A, 5.6, (0.7, 0.8), 0.12),
        (0xA405, 0, None, 0),
        (0x920A, 50.0, None, 0),
    ],
)
def test_the_focal_length_that_a_photo_notes_is_believed_where_it_can_be(tmp_path, tag, value, focal, spread):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[tag] = value
    Image.new("RGB", (400, 300)).save(tmp_path / "noted.jpg", exif=exif)
    camera = noted_camera(tmp_path / "noted.jpg")
    if focal is None:
        assert camera is None
    else:
        assert focal[0] < camera.focal < focal[1] and camera.focal_spread == spread and camera.lens_spread is None
        # only telephones have lenses so short, and they straighten what they take
        assert camera.straightened == (tag == 0x920A)


@pytest.mark.parametrize(
    ("true", "pitch", "unit", "focal"),
    # 400 pixels of 22.3 mm: 456 an inch, 179 a cm; 35 mm is 1.57 of that
    [(35.0, 455.6, 2, 1.57), (35.0, 179.4, 3, 1.57), (35.0, 455.6, None, 1.57), (24.0, 282.2, 2, 0.667)]
    # half as many pixels as the sensor has; nothing at all; a slip
    + [(35.0, 911.2, 2, None), (35.0, 0, 2, None), (35.0, 455.6, 9, None), (5000.0, 455.6, 2, None)],
)
def test_a_true_focal_length_counts_where_the_size_of_the_sensor_is_noted(tmp_path, true, pitch, unit, focal):
    exif = Image.Exif()
    notes = exif.get_ifd(0x8769)
    notes[0x920A], notes[0xA20E] = true, pitch
    if unit is not None:
        notes[0xA210] = unit
    Image.new("RGB", (400, 300)).save(tmp_path / "noted.jpg", exif=exif)
    camera = noted_camera(tmp_path / "noted.jpg")
    if focal is None:
        assert camera is None
    else:
        assert camera.focal == pytest.approx(focal, rel=0.01) and not camera.straightened
