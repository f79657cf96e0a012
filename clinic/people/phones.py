"""Telephone numbers: kept as typed, found by their digits, shown in groups.

Not a telephone directory: lengths and letters are checked, not whether a number is in use.
`home` is the practice's own country calling code, without a plus ("1" for North America).
"""

import re
from dataclasses import dataclass

EXTENSION = re.compile(r"(?:ext(?:ension)?\.?|x|#)\s*(\d{1,6})\s*$", re.IGNORECASE)
ALLOWED = re.compile(r"[\d\s().+/\-\u2010-\u2015\u2212]*")
SHORTEST, LONGEST = 4, 15
# Calling codes of one and two digits (ITU-T E.164, from memory, to be checked); all others have three.
ONE_DIGIT = {"1", "7"}
TWO_DIGITS = re.compile(r"2[07]|3[0-469]|4[013-9]|5[1-8]|6[0-6]|8[1246]|9[0-58]")


class NotAPhone(ValueError):
    """The text cannot be a telephone number; the message says why, for the person who typed it."""


@dataclass(frozen=True)
class PhoneNumber:
    """`digits` is what search compares: all of a foreign number, the national ones of a home number."""

    digits: str
    country: str
    extension: str
    display: str


def search_digits(text: str) -> str:
    """The digits of whatever was typed into a search box: "(206) 555-01" gives 20655501."""
    return "".join(character for character in text if character.isascii() and character.isdigit())


def normalise(text: str, home: str = "1") -> PhoneNumber:
    """Read a number as people write it. Raises NotAPhone with a sentence for them."""
    main, extension = _split_extension(text.strip())
    if not ALLOWED.fullmatch(main):
        raise NotAPhone("A telephone number has digits only, and “ext.” before an extension.")
    digits = search_digits(main)
    abroad = _after_prefix(main, digits, home)
    foreign = abroad is not None
    digits = digits if abroad is None else abroad
    country = calling_code(digits) if foreign else home
    national = digits.removeprefix(country) if foreign else _without_trunk(digits, home)
    if len(national) < SHORTEST or len(country + national) > LONGEST:
        raise NotAPhone(f"A telephone number has {SHORTEST} to {LONGEST} digits; this has {len(digits)}.")
    stored = national if country == home else country + national
    return PhoneNumber(stored, country, extension, _display(country, national, extension, home))


def calling_code(digits: str) -> str:
    """The country calling code at the front of an international number without its plus."""
    if digits[:1] in ONE_DIGIT:
        return digits[:1]
    return digits[:2] if TWO_DIGITS.match(digits) else digits[:3]


def _split_extension(text: str) -> tuple[str, str]:
    match = EXTENSION.search(text)
    return (text[: match.start()].rstrip(" ,;"), match.group(1)) if match else (text, "")


def _after_prefix(main: str, digits: str, home: str) -> str | None:
    """An international number without its plus, 00 or (in North America) 011; None for a home number."""
    if main.lstrip(" (").startswith("+"):
        return digits
    prefix = "011" if home == "1" else "00"
    return digits.removeprefix(prefix) if digits.startswith(prefix) and len(digits) > 11 else None


def _without_trunk(digits: str, home: str) -> str:
    """North American numbers may carry a 1 in front, most others a 0."""
    if home == "1":
        return digits[1:] if len(digits) == 11 and digits.startswith("1") else digits
    return digits.removeprefix("0")


def _display(country: str, national: str, extension: str, home: str) -> str:
    shown = _grouped(national, country)
    if country != home:
        shown = f"+{country} {shown}"
    elif home != "1":
        shown = f"0{shown}"
    return f"{shown} ext. {extension}" if extension else shown


def _grouped(national: str, country: str) -> str:
    if country == "1" and len(national) == 10:
        return f"{national[:3]}-{national[3:6]}-{national[6:]}"
    if country == "1" and len(national) == 7:
        return f"{national[:3]}-{national[3:]}"
    return " ".join(_chunks(national))


def _chunks(digits: str) -> list[str]:
    """Groups of three; the last one holds what is left, up to four."""
    groups = []
    while len(digits) > 4:
        groups.append(digits[:3])
        digits = digits[3:]
    return [*groups, digits]
