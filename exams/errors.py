"""What an action of this room refuses, by name."""


class ExamError(Exception):
    """Base of this room's refusals; the text is for the person who asked."""


class NoExam(ExamError):
    """Nobody has begun an exam of this record."""


class RecordSigned(ExamError):
    """The record is signed: nothing of its exam changes any more."""

    def __init__(self) -> None:
        super().__init__("The record is signed. What you know now goes into an addendum.")
