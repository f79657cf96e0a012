"""Numbers as they are spoken: "one oh one two", "two twelve", "eight nine", "nine and three quarter", "24.6".

A reading keeps the pieces; what they are worth depends on what is counted: `whole`, `temperature`, `weight`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

FRACTIONS = {"half": 0.5, "quarter": 0.25, "three-quarters": 0.75}
CELSIUS, FAHRENHEIT = (32.0, 43.5), (89.0, 111.0)  # what a rectal temperature can be
TENS = range(20, 100, 10)


@dataclass(frozen=True, slots=True)
class Reading:
    """`parts`: whole numbers as they were said one after another; `decimals`: digits after the point."""

    parts: tuple[str, ...]
    decimals: str = ""
    fraction: float = 0.0

    @property
    def digits(self) -> str:
        return "".join(self.parts)

    def whole(self) -> float:
        """All pieces put together: one + sixty-eight is 168."""
        value = float(f"{self.digits or '0'}.{self.decimals or '0'}")
        return value + self.fraction

    def temperature(self) -> float | None:
        """In whichever scale it fits; 1012 is 101.2, 392 is 39.2."""
        value = self.whole()
        for tried in (value, value / 10 if not self.decimals and not self.fraction else value):
            if any(low <= tried <= high for low, high in (CELSIUS, FAHRENHEIT)):
                return round(tried, 2)
        return None

    def weight(self) -> float:
        """Two pieces without a point: "eight nine" is 8.9, "thirty one five" is 31.5."""
        pieces = len(self.parts) == 2 and not self.decimals and not self.fraction
        if pieces and len(self.parts[1]) == 1 and not (len(self.parts[0]) == 1 and self.parts[1] == "0"):
            return float(f"{self.parts[0]}.{self.parts[1]}")
        return self.whole()

    def tooth(self) -> str:
        """Triadan number, or empty."""
        return self.digits if not self.decimals and is_tooth(self.digits) else ""


def is_tooth(digits: str) -> bool:
    if len(digits) != 3 or not digits.isdigit():
        return False
    last = int(digits[1:])
    return (digits[0] in "1234" and 1 <= last <= 11) or (digits[0] in "5678" and 1 <= last <= 8)


def shown(value: float) -> str:
    """24.6, 39, 9.75: no zeros behind."""
    return f"{round(value, 2):g}" if value < 100000 else str(int(value))


def read(pieces: Sequence[str | int]) -> tuple[int, Reading | None]:
    """The number at the beginning of `pieces` and how many it takes. A piece is a value of a number word,
    digits as text, or "zero", "point", "and", "a", "half", "quarter", "three-quarters", "" for
    another word."""
    parts: list[str] = []
    decimals = ""
    fraction = 0.0
    at = taken = 0
    while at < len(pieces):
        piece = pieces[at]
        if (isinstance(piece, int) and decimals == "") or (
            isinstance(piece, int) and _after_point(pieces, at)
        ):
            if _after_point(pieces, at):
                decimals, at = _decimals(pieces, at)
                taken = at
                break
            _add(parts, piece)
        elif piece == "zero" and (parts or _number_follows(pieces, at)):
            parts.append("0")
        elif isinstance(piece, str) and piece[:1].isdigit():
            whole, _, behind = piece.replace(",", ".").partition(".")
            parts.append(whole)
            if behind:
                decimals, taken = behind.replace(".", ""), at + 1
                break
        elif piece == "point" and parts and _number_follows(pieces, at):
            decimals, at = _decimals(pieces, at + 1)
            taken = at
            break
        elif piece == "a" and not parts and pieces[at + 1 : at + 2] == [100]:
            at += 1
            parts.append("100")
        elif piece == "a" and not parts and pieces[at + 1 : at + 2] in (["half"], ["quarter"]):
            fraction, taken = FRACTIONS[str(pieces[at + 1])], at + 2
            break
        elif piece in ("and", "tens-and") and _goes_on(parts, pieces, at):
            pass
        elif isinstance(piece, str) and piece in FRACTIONS and parts:
            fraction, taken = FRACTIONS[piece], at + 1
            break
        elif piece in ("half", "quarter") and not parts:
            fraction, taken = FRACTIONS[str(piece)], at + 1
            break
        else:
            break
        at += 1
        taken = at
    while taken and pieces[taken - 1] in ("and", "tens-and", "a"):
        taken -= 1
    if not (parts or fraction):
        return 0, None
    return taken, Reading(tuple(parts), decimals, fraction)


def _after_point(pieces: Sequence[str | int], at: int) -> bool:
    return at > 0 and pieces[at - 1] == "point"


def _number_follows(pieces: Sequence[str | int], at: int) -> bool:
    after = pieces[at + 1] if at + 1 < len(pieces) else ""
    return isinstance(after, int) or after == "zero" or (isinstance(after, str) and after[:1].isdigit())


def _decimals(pieces: Sequence[str | int], at: int) -> tuple[str, int]:
    """Digits behind the point: "oh five" is 05, "twenty five" is 25; one more piece at most."""
    digits = ""
    while at < len(pieces) and len(digits) < 2:
        piece = pieces[at]
        if piece == "zero":
            digits += "0"
        elif isinstance(piece, int) and piece in TENS and not digits:
            unit = pieces[at + 1] if at + 1 < len(pieces) else ""
            digits = str(piece + unit) if isinstance(unit, int) and unit < 10 else str(piece)
            at += 1 if len(digits) == 2 and isinstance(unit, int) and unit < 10 else 0
        elif isinstance(piece, int) and piece < 20:
            if digits and digits != "0" and not _last_digit(pieces, at):
                break
            digits += str(piece)
        elif isinstance(piece, str) and piece.isdigit():
            digits += piece
        else:
            break
        at += 1
    return digits, at


def _last_digit(pieces: Sequence[str | int], at: int) -> bool:
    """ "four point six five": a second digit, when no further number follows that it could begin."""
    piece, after = pieces[at], pieces[at + 1] if at + 1 < len(pieces) else ""
    return isinstance(piece, int) and 0 < piece < 10 and after in ("", "a", "and")


def _goes_on(parts: list[str], pieces: Sequence[str | int], at: int) -> bool:
    """ "two hundred and four", "one and a half"."""
    after = pieces[at + 1 : at + 3]
    if pieces[at] == "tens-and" and parts and after and isinstance(after[0], int):
        return 0 < after[0] < 10 and int(parts[-1]) % 100 in TENS
    if not parts or not after:
        return False
    if isinstance(after[0], int) and after[0] < 100:
        return parts[-1].endswith("00")
    return after[0] in FRACTIONS or (len(after) > 1 and after[0] == "a" and after[1] in FRACTIONS)


def _add(parts: list[str], value: int) -> None:
    last = int(parts[-1]) if parts else None
    if value == 100:
        if last is not None and 0 < last < 100:
            parts[-1] = str(last * 100)
        else:
            parts.append("100")
    elif value > 100 and last is not None and value % 100 == 0:
        parts.append(str(value))
    elif (
        (last is not None and last in TENS and value < 10 and len(parts[-1]) == 2)
        or (last is not None and last >= 100 and last % 100 == 0 and value < 100)
        or (last is not None and last > 100 and last % 100 in TENS and value < 10)
    ):
        parts[-1] = str(last + value)
    else:
        parts.append(str(value))
