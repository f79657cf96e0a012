"""What an action of promises and contacts may refuse; each message is one sentence for the person."""

from clinic.visits.errors import VisitError


class PromiseError(VisitError):
    """Refused; nothing was changed. `field` names the field it belongs to, where there is one."""

    field: str | None = None


class Unsaid(PromiseError):
    """A word is missing, or does not fit; `field` says where."""

    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        super().__init__(sentence)


class HasDied(PromiseError):
    """Asked once, before a contact about a dead animal is noted."""

    def __init__(self, name: str, died: str) -> None:
        was = "was " if died.startswith("euthanised") else ""
        super().__init__(
            f"{name} {was}{died}. Look once more at your words and at whom you speak to; "
            "sent again, it is noted as it stands."
        )


class ChangedMeanwhile(PromiseError):
    """Somebody else handed on, moved or closed it between looking and tapping."""

    def __init__(self, how: str) -> None:
        super().__init__(f"Meanwhile on another tablet: {how}. Look at it again; your words are kept below.")


class ClosedBefore(PromiseError):
    """It is closed: nothing follows after that."""

    def __init__(self, how: str) -> None:
        super().__init__(f"This is closed already: {how}.")
