"""What the clinic's own call-backs are called in an owner's language."""

from clinic.callbacks.missed import NAME as MISSED
from clinic.owner_page.texts import FIRST, texts

RECHECK = "Recheck"


class ClinicThings:
    """By what stands before the colon; the words behind it are staff's own, in theirs."""

    name, order = "clinic", 5

    def say(self, label: str, language: str) -> str:
        key = {MISSED: "missed", RECHECK: "recheck"}.get(label.split(": ")[0])
        told = texts(language)
        return told.reminder[key] if key and told.language != FIRST else ""
