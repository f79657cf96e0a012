"""Pictures as they come from cameras, made safe to keep: decoded, turned upright, written anew as plain JPEG.

Whatever else the sent file carried (where and when it was taken, the device, previews, text) is not written
again, so it is gone.
"""

import io
import warnings
from dataclasses import dataclass
from typing import cast

from PIL import Image, ImageCms, ImageFile, ImageOps, UnidentifiedImageError

MOST_BYTES = 10 * 1024 * 1024
MOST_PIXELS = 40_000_000
LONGEST = 2000  # pixels; what the tablets send already
SMALL = 400
FORMATS = ("JPEG", "PNG", "WEBP")
QUALITY = 86


class NotAPicture(Exception):
    """The file cannot be kept as a picture; the text says why, for whoever sent it. `code` for scripts."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code


@dataclass(frozen=True)
class Picture:
    """An upright JPEG without any metadata, and a small one of it. Sizes in pixels."""

    content: bytes
    small: bytes
    width: int
    height: int


def prepare(content: bytes, *, longest: int = LONGEST, small: int = SMALL) -> Picture:
    """What is kept of a sent file: no side longer than `longest`; the small one fits into `small`.

    Raises NotAPicture: `too-big`, `too-many-pixels`, `not-a-picture`.
    """
    image = _opened(content, longest)
    image.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    width, height = image.size
    whole = _jpeg(image)
    image.thumbnail((small, small), Image.Resampling.LANCZOS)
    return Picture(whole, _jpeg(image), width, height)


def prepare_square(content: bytes, *, side: int) -> bytes:
    """The middle of a sent picture as a square JPEG of at most `side` pixels. Raises NotAPicture."""
    image = _opened(content, side * 2)
    across = min(side, *image.size)
    return _jpeg(ImageOps.fit(image, (across, across), Image.Resampling.LANCZOS))


def _opened(content: bytes, longest: int) -> Image.Image:
    """Decoded, upright, sRGB without transparency. The size is looked at before a pixel is decoded."""
    if len(content) > MOST_BYTES:
        raise NotAPicture("too-big", f"The file is larger than {MOST_BYTES // 1024 // 1024} MB.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(content), formats=FORMATS)
            across, down = image.size
            if across * down > MOST_PIXELS:
                raise NotAPicture(
                    "too-many-pixels", f"The picture has more than {MOST_PIXELS // 1_000_000} million pixels."
                )
            image.draft("RGB", (longest, longest))  # a JPEG is decoded no larger than needed
            _load_whole(image)
            return _plain(ImageOps.exif_transpose(image))
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
        raise NotAPicture("too-many-pixels", "The picture has too many pixels.") from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError, MemoryError) as error:
        # what a decoder throws at a broken or hostile file; nothing of it was kept
        sentence = "The file is no JPEG, PNG or WebP picture, or it is broken."
        raise NotAPicture("not-a-picture", sentence) from error


def _load_whole(image: Image.Image) -> None:
    """Decode it. Raises OSError for a file that ends too early, also where a library lets those pass."""
    lenient, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
    try:
        image.load()
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = lenient


def _plain(image: Image.Image) -> Image.Image:
    profile = image.info.get("icc_profile")
    if image.has_transparency_data:
        image = image.convert("RGBA")
        ground = Image.new("RGBA", image.size, "white")
        image = Image.alpha_composite(ground, image)
    image = image.convert("RGB")
    return _in_srgb(image, profile) if profile else image


def _in_srgb(image: Image.Image, profile: bytes) -> Image.Image:
    """Colours as the camera meant them, because its profile is not kept; one that makes no sense is left."""
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        turned = ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError):
        return image
    return cast("Image.Image", turned)


def _jpeg(image: Image.Image) -> bytes:
    """Only pixels: a fresh image has no metadata that could come along."""
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return out.getvalue()
