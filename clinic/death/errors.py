"""What an action of a death may refuse; each message is one sentence for the person."""

from datetime import date

from clinic.visits.errors import VisitError


class DeathError(VisitError):
    """Refused; nothing was changed. `field` names the form's field, where there is one."""

    field: str | None = None


class Unfit(DeathError):
    """A fact is missing, or does not fit the others."""

    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        super().__init__(sentence)


class DiedBefore(DeathError):
    """Somebody recorded it already."""

    def __init__(self, name: str, on: date) -> None:
        super().__init__(f"{name}’s death on {on:%-d %B %Y} is recorded already.")


class PromisesOpen(DeathError):
    """Every open promise is closed, or stays with a clinician, one by one."""

    def __init__(self, names: list[str]) -> None:
        self.names = names
        super().__init__(
            f"Still open: {'; '.join(names)}. Say for each whether it is closed or who answers for it."
        )


class NotDead(DeathError):
    """Something for a death, where none is recorded."""

    def __init__(self, name: str) -> None:
        super().__init__(f"{name} is not recorded as dead.")


class CannotWrite(DeathError):
    """A condolence that is empty, or cannot go the way that was chosen."""

    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        super().__init__(sentence)
