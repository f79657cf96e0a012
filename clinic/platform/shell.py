"""What the frame of every page shows: navigation, clinic's name, search, hand-over."""

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from clinic.people.rights import Right
from clinic.platform.queries import name_for


@dataclass(frozen=True)
class NavItem:
    title: str
    url: str
    current: bool


@dataclass(frozen=True)
class Shell:
    nav: tuple[NavItem, ...]
    clinic_name: str
    search_url: str
    handover_url: str


PAGES = (
    ("Morning", "morning", Right.MANAGE_CLINIC, ()),
    ("Today", "today", Right.SEE, ()),
    ("Patients", "patients", Right.SEE, ("/owners/", "/visits/")),
    ("Due list", "due-list", Right.SEE, ()),
    ("Letters", "messages", Right.SEE, ("/letters/",)),
    ("Records", "records", Right.SEE_RECORDS, ()),
)


def shell(request: HttpRequest) -> dict[str, Shell]:
    """Template context for signed-in pages; empty for everybody else."""
    actor = getattr(request, "actor", None)
    if actor is None:
        return {}
    nav = []
    for title, name, right, also in PAGES:
        if actor.may(right):
            url = reverse(name)
            here = request.path == url if url == "/" else request.path.startswith((url, *also))
            nav.append(NavItem(title=title, url=url, current=here))
    return {
        "shell": Shell(
            nav=tuple(nav),
            clinic_name=name_for(request),
            search_url=reverse("patients"),
            handover_url=reverse("handover"),
        )
    }
