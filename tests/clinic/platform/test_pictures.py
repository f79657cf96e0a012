"""Pictures from cameras: only an upright JPEG is kept, and of the file nothing but its pixels."""

import io
import struct
import zlib

import pytest
from PIL import Image, ImageCms, ImageFile

from clinic.platform import pictures
from clinic.platform.pictures import NotAPicture, prepare, prepare_square

RED, BLUE = (200, 30, 30), (30, 30, 200)
LATITUDE = ((52.0, 31.0, 17.5), "N")


def drawn(width: int = 600, height: int = 400, mode: str = "RGB") -> Image.Image:
    """Left half red, right half blue."""
    image = Image.new("RGB", (width, height), BLUE)
    image.paste(RED, (0, 0, width // 2, height))
    return image.convert(mode)


def encoded(image: Image.Image, kind: str = "JPEG", **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def exif(**tags: object) -> Image.Exif:
    made = Image.Exif()
    made[0x010F] = "Maker of a camera"
    made[0x0132] = "2026:03:11 09:58:00"
    made[0x0112] = tags.get("orientation", 1)
    made.get_ifd(0x8825).update({1: LATITUDE[1], 2: LATITUDE[0], 3: "E", 4: (0.0, 7.0, 12.0)})
    return made


def opened(content: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


def is_like(pixel: tuple[int, ...], colour: tuple[int, ...]) -> bool:
    return all(abs(a - b) < 30 for a, b in zip(pixel, colour, strict=True))


def test_where_and_when_it_was_taken_is_gone():
    sent = encoded(drawn(), exif=exif(), comment=b"Weir Lane", icc_profile=_srgb())
    assert opened(sent).getexif().get_ifd(0x8825)  # it was there
    kept = prepare(sent)
    for content in (kept.content, kept.small):
        image = opened(content)
        assert not dict(image.getexif())
        assert set(image.info) <= {
            "jfif",
            "jfif_version",
            "jfif_unit",
            "jfif_density",
            "progressive",
            "progression",
        }
        for trace in (b"Exif", b"Maker of", b"Weir", b"ICC_PROFILE", b"2026:03"):
            assert trace not in content


def _srgb() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_it_stands_upright_however_the_camera_was_held(orientation):
    """The eight orientations of EXIF 2.32, tag 274: each file shows the same picture, red at its left."""
    upright = drawn()
    undo = {
        2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180, 4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_90, 7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }  # fmt: skip
    stored = upright.transpose(undo[orientation]) if orientation > 1 else upright
    kept = prepare(encoded(stored, exif=exif(orientation=orientation)))
    assert (kept.width, kept.height) == (600, 400)
    image = opened(kept.content)
    assert is_like(image.getpixel((30, 200)), RED)
    assert is_like(image.getpixel((570, 200)), BLUE)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_every_kind_that_is_taken_is_kept_as_jpeg(kind):
    kept = prepare(encoded(drawn(), kind))
    assert opened(kept.content).format == "JPEG"
    assert max(opened(kept.small).size) == pictures.SMALL


def test_what_is_seen_through_becomes_white():
    glass = Image.new("RGBA", (100, 100), (0, 0, 0, 0))
    assert is_like(opened(prepare(encoded(glass, "PNG")).content).getpixel((50, 50)), (255, 255, 255))


@pytest.mark.parametrize("mode", ["L", "CMYK", "1", "P"])
def test_other_colours_are_turned_into_plain_ones(mode):
    kind = "JPEG" if mode in ("L", "CMYK") else "PNG"
    assert opened(prepare(encoded(drawn(mode=mode), kind)).content).mode == "RGB"


def test_a_long_side_is_shrunk_and_a_short_one_left():
    assert prepare(encoded(drawn(4000, 1000))).width == pictures.LONGEST
    assert prepare(encoded(drawn(90, 60))).width == 90


def test_a_square_is_cut_from_the_middle():
    square = opened(prepare_square(encoded(drawn(900, 300)), side=200))
    assert square.size == (200, 200)
    assert is_like(square.getpixel((10, 100)), RED)
    assert is_like(square.getpixel((190, 100)), BLUE)


def refused(content: bytes) -> str:
    with pytest.raises(NotAPicture) as caught:
        prepare(content)
    assert str(caught.value).endswith(".")
    return caught.value.code


def test_a_small_file_that_unpacks_to_hundreds_of_megabytes_is_refused_undecoded(monkeypatch):
    """Only its head is real: decoding it would fail, and it is never tried."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    def bomb(across: int, down: int) -> bytes:
        head = struct.pack(">IIBBBBB", across, down, 8, 2, 0, 0, 0)
        rows = chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + rows + chunk(b"IEND", b"")

    def never(self, *args):
        raise AssertionError("decoded")

    monkeypatch.setattr("PIL.PngImagePlugin.PngImageFile.load", never)
    assert refused(bomb(6400, 6400)) == "too-many-pixels"
    assert refused(bomb(60_000, 60_000)) == "too-many-pixels"


def test_a_file_of_more_than_ten_megabytes_is_refused():
    assert refused(encoded(drawn()) + b"\0" * pictures.MOST_BYTES) == "too-big"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"%PDF-1.7 not a picture",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"GIF89a" + b"\0" * 100,
        b"\xff\xd8\xff\xe0" + b"\0" * 200,
        encoded(drawn())[:900],
        encoded(drawn(), "PNG")[:200],
        encoded(drawn(), "GIF"),
        encoded(drawn(), "TIFF"),
        encoded(drawn(), "BMP"),
    ],
)
def test_what_is_no_picture_or_broken_is_refused(content):
    assert refused(content) == "not-a-picture"


def test_a_profile_that_makes_no_sense_is_left_out():
    assert prepare(encoded(drawn(), icc_profile=b"nonsense")).width == 600


def test_another_library_s_leniency_lets_no_half_file_pass(monkeypatch):
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    whole = encoded(drawn(400, 300))
    assert refused(whole[: len(whole) // 2]) == "not-a-picture"
    assert ImageFile.LOAD_TRUNCATED_IMAGES
