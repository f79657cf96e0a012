"""Microchip numbers by ISO 11784: shape, country or manufacturer code, and the range of the identity part.

The number shown has no check digit, so nothing here can tell a misread digit: read twice or scan. The
code's meaning: 001-899 ISO 3166-1 numeric country, 900 shared by manufacturers (a sub-code follows),
901-998 one manufacturer (ICAR, from memory, to be checked), 999 test, 000 none. The identity part has
38 bits. Older 125 kHz chips show 9 digits or 10 letters and digits and are kept as they are.
"""

import re
import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path

COUNTRIES = Path(__file__).parent / "limits" / "countries.toml"
LARGEST_IDENTITY = 2**38 - 1
SEPARATORS = re.compile(r"[\s.\-\u2010-\u2015\u2212_/]+")
FIFTEEN_DIGITS = re.compile(r"[0-9]{15}")
LEGACY = re.compile(r"[0-9]{9}|[0-9A-Z]{10}")


class ChipKind(StrEnum):
    ISO_COUNTRY = "iso-country"
    ISO_MANUFACTURER = "iso-manufacturer"
    ISO_SHARED = "iso-shared"
    TEST = "test"
    LEGACY = "legacy"
    REJECTED = "rejected"


@dataclass(frozen=True)
class ChipVerdict:
    """`normalised` is text: leading zeros matter. `code` is the first three digits of an ISO number.

    `detail`: the country, or the three-digit sub-code of a shared manufacturer code. `accepted` is False
    for test and rejected numbers; `reason` says why, or what to keep in mind of an accepted one.
    """

    kind: ChipKind
    normalised: str
    reason: str = ""
    code: str = ""
    detail: str = ""

    @property
    def accepted(self) -> bool:
        return self.kind not in (ChipKind.TEST, ChipKind.REJECTED)


def normalise(text: str) -> str:
    """Without spaces, dashes and dots, letters in capitals; nothing else is changed."""
    return SEPARATORS.sub("", text).upper()


def check(number: str) -> ChipVerdict:
    """Judge a number as typed or scanned (ISO 11784; cases of ICAR's code rules). Never raises."""
    text = normalise(number)
    if FIFTEEN_DIGITS.fullmatch(text):
        return _check_iso(text)
    if LEGACY.fullmatch(text):
        return ChipVerdict(ChipKind.LEGACY, text, "Not an ISO number: an older 125 kHz chip.")
    return ChipVerdict(ChipKind.REJECTED, text, _shape_reason(text))


def shown(normalised: str) -> str:
    """For people: an ISO number in groups of three, any other as it is."""
    if not FIFTEEN_DIGITS.fullmatch(normalised):
        return normalised
    return " ".join(normalised[start : start + 3] for start in range(0, 15, 3))


@cache
def countries() -> dict[str, str]:
    """ISO 3166-1 numeric code as three digits -> name of the country."""
    table: dict[str, str] = tomllib.loads(COUNTRIES.read_text("utf-8"))["countries"]
    return table


def _shape_reason(text: str) -> str:
    if not text:
        return "No number given."
    if len(text) == 15:
        return "An ISO number has digits only: check letters such as O for 0."
    return f"{len(text)} places: an ISO number has 15 digits, an older one 9 or 10 places."


def _check_iso(text: str) -> ChipVerdict:
    code = text[:3]
    if code == "999":
        return ChipVerdict(ChipKind.TEST, text, "999 marks a test chip, not an animal's.", code)
    if code == "000":
        return ChipVerdict(ChipKind.REJECTED, text, "000 is no country and no manufacturer.", code)
    if int(text[3:]) > LARGEST_IDENTITY:
        reason = f"The last twelve digits cannot be above {LARGEST_IDENTITY}."
        return ChipVerdict(ChipKind.REJECTED, text, reason, code)
    if code == "900":
        return ChipVerdict(ChipKind.ISO_SHARED, text, "", code, text[3:6])
    if code > "900":
        return ChipVerdict(ChipKind.ISO_MANUFACTURER, text, "", code)
    if code in countries():
        return ChipVerdict(ChipKind.ISO_COUNTRY, text, "", code, countries()[code])
    return ChipVerdict(ChipKind.REJECTED, text, f"{code} is no country's code (ISO 3166-1).", code)
