"""What an action of call-backs may refuse; each message is one sentence for the person."""

from clinic.visits.errors import VisitError


class CallBackError(VisitError):
    """Refused; nothing was changed. `field` names the field it belongs to, where there is one."""

    field: str | None = None

    def __init__(self, sentence: str, *, field: str | None = None) -> None:
        self.field = field
        super().__init__(sentence)


class NothingSpokenOf(CallBackError):
    def __init__(self) -> None:
        super().__init__("Tick at least one thing that was spoken of.", field="items")


class AgainInThePast(CallBackError):
    def __init__(self) -> None:
        super().__init__("This day is not after today.", field="again_on")


class NotTheirs(CallBackError):
    """The animal changed hands meanwhile."""

    def __init__(self, name: str) -> None:
        super().__init__(f"{name} is not this household’s any more. Look at the list again.", field="items")


class PlanWrong(CallBackError):
    """A plan of asking cannot be so; the sentence says why."""


class NothingLeaves(CallBackError):
    """Paused, or in rehearsal."""

    def __init__(self, *, paused: bool) -> None:
        super().__init__(
            "Reminders are paused. A manager lets them leave again."
            if paused
            else "This is a rehearsal: messages are shown and none leaves. A manager ends the rehearsal."
        )


class NameTaken(CallBackError):
    def __init__(self, name: str) -> None:
        super().__init__(f"There is a kept view named {name} already.", field="name")
