"""What the manager's morning asks."""

from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, Q

from clinic.callbacks.manager_models import OverdueTally
from clinic.letters.models import LetterHanded
from clinic.mail.models import Message
from clinic.people.models import Owner

S = Message.State
MANY = 12
LOOKED_BACK = timedelta(days=60)
WAITS_LONG = timedelta(hours=1)
A_MONTH = timedelta(days=28)  # the same weekday, so that like is compared with like
AT_MOST = timedelta(days=45)


def tally_before(today: date) -> tuple[date, dict[str, int]] | None:
    """The newest day that was counted a month ago or more, but not much more; None where none was. Two."""
    days = OverdueTally.objects.filter(day__range=(today - AT_MOST, today - A_MONTH))
    day = days.order_by("-day").values_list("day", flat=True).first()
    if day is None:
        return None
    return day, dict(OverdueTally.objects.filter(day=day).values_list("what", "things"))


def undelivered(now: datetime) -> list[Message]:
    """Mails that did not arrive, may not have, are held, or wait for longer than is usual; oldest first.

    Not those whose owner gets paper from now on, unless their letter still has to be given. Two queries.
    """
    handed = LetterHanded.objects.filter(letter=OuterRef("letter"))
    on_paper = Q(owner__letters_by=Owner.LettersBy.PAPER) & (Q(letter=None) | Exists(handed))
    rows = (
        Message.objects.filter(
            Q(state__in=[S.FAILED, S.UNKNOWN, S.HELD], state_since__gte=now - LOOKED_BACK)
            | Q(state__in=[S.WAITING, S.SENDING], state_since__lt=now - WAITS_LONG, attempts__gt=0)
            | Q(state=S.WAITING, next_try_at=None, state_since__lt=now - WAITS_LONG)
        )
        .exclude(on_paper)
        .select_related("owner", "letter__patient", "letter__file")
        .prefetch_related("owner__phones")
        .order_by("state_since", "pk")
    )
    return list(rows[:MANY])
