"""What a due is called in an owner's language."""

from clinic.letters.texts import SOURCE
from preventive.letter import ROOM


class DueWords:
    name, order = "dues", 10

    def say(self, label: str, language: str) -> str:
        """Empty for a language without a file, and for a label that the protocol does not know."""
        texts = ROOM(language)
        key = f"label.{label}"
        return texts(key) if language != SOURCE and key in texts else ""
