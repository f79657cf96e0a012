"""What an action of this room refuses, by name."""


class ExamError(Exception):
    """Base of this room's refusals; the text is for the person who asked."""


class RecordSigned(ExamError):
    """The record is signed: nothing of its exam changes any more."""

    def __init__(self) -> None:
        super().__init__("The record is signed. What you know now goes into an addendum.")


class NoneStruck(ExamError):
    """No lasting fact says that there is none of it, or no reason was given."""

    def __init__(self) -> None:
        super().__init__("Say why: what was noted as gone is struck out with a reason.")


class NoSuchLine(ExamError):
    """The line is not one of this animal's, or no reason was given."""

    def __init__(self, line: str) -> None:
        self.line = line
        super().__init__("Say what there is none of, and why.")


class PhotoRefused(ExamError):
    """A photograph cannot be taken in or changed. `code` for scripts, the text for people."""

    def __init__(self, code: str, words: str) -> None:
        self.code = code
        super().__init__(words)
