"""The summary as a document: named parts of the letters' blocks, written for a colleague. Pure."""

from dataclasses import asdict, dataclass
from typing import Any

from clinic.letters.document import Section, section_from_json


@dataclass(frozen=True)
class Sheet:
    """The whole summary, in reading order. All text, ready to print."""

    language: str
    clinic_name: str
    clinic_lines: tuple[str, ...]
    phone: str
    email: str
    patient_name: str
    day: str
    for_whom: str
    parts: tuple[Section, ...]
    signed: tuple[str, ...]
    paper: str = "A4"
    format: int = 1


def to_json(sheet: Sheet) -> dict[str, Any]:
    """Plain JSON values."""
    return asdict(sheet)


def from_json(raw: dict[str, Any]) -> Sheet:
    """The sheet that `to_json` wrote, also after a round through the database's JSON."""
    return Sheet(
        **{
            **raw,
            "clinic_lines": tuple(raw["clinic_lines"]),
            "signed": tuple(raw["signed"]),
            "parts": tuple(section_from_json(each) for each in raw["parts"]),
        }
    )


def title(sheet: Sheet) -> str:
    return f"{sheet.patient_name}: summary for a colleague, {sheet.day}, {sheet.clinic_name}"
