"""Somebody else's paper, kept beside a record: a PDF byte for byte, or a picture written anew."""

from dataclasses import dataclass

from clinic.platform.files import keep
from clinic.platform.pictures import MOST_BYTES, NotAPicture, prepare

PDF = b"%PDF-"
TYPES = {".pdf": "application/pdf", ".jpg": "image/jpeg"}


class NotAPaper(Exception):
    """Neither a PDF nor a picture, or too large; the text says so to whoever sent it."""


@dataclass(frozen=True)
class Paper:
    """`suffix`: .pdf or .jpg; a picture holds nothing of what its camera added."""

    content: bytes
    suffix: str

    def keep(self) -> str:
        """Stored before its row commits; the name for the row."""
        return keep(self.content, self.suffix)


def paper(content: bytes) -> Paper:
    """Raises NotAPaper."""
    if len(content) > MOST_BYTES:
        raise NotAPaper(f"The file is larger than {MOST_BYTES // 1024 // 1024} MB.")
    if content[:1024].lstrip().startswith(PDF):
        return Paper(content, ".pdf")
    try:
        return Paper(prepare(content).content, ".jpg")
    except NotAPicture as error:
        raise NotAPaper(str(error)) from error
