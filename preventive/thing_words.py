"""What a due is called in an owner's language."""

from preventive.letter import ROOM


class DueWords:
    name, order = "dues", 10

    def say(self, label: str, language: str) -> str:
        """Empty for a language without a file, and where it is called as the protocol calls it."""
        texts = ROOM.of_files(language)
        key = f"label.{label}"
        return texts(key) if key in texts else ""
