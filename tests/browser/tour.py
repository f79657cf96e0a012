"""A tour of every page that somebody may look at, in a house where each page has something to show."""

from collections.abc import Iterator
from dataclasses import dataclass

from playwright.sync_api import BrowserContext, Page

from tests.browser.conftest import bring_session
from tests.house import House
from tests.test_doors import DOORS, ROLES, address

OUTBOX = "clinic.platform.outbox.OutboxBackend"  # its pages exist only with it
NO_PAGE = {"healthz"}
STRANGER = "stranger"


@dataclass(frozen=True)
class Stop:
    """One page and who looks at it."""

    name: str
    url: str
    role: str

    def __str__(self) -> str:
        return f"{self.name} ({self.role})"


def stops(made: House, *, every_role: bool = False) -> Iterator[Stop]:
    """Each page once, for the first who may see it; with `every_role` for everybody who may."""
    for name, door in DOORS.items():
        if 200 not in door.get or name in NO_PAGE:
            continue
        if door.stranger == 200:
            yield Stop(name, address(name, made, made.own), STRANGER)
            continue
        allowed = [role for role in ("clinician", *ROLES) if role in door.who]
        for role in dict.fromkeys(allowed) if every_role else allowed[:1]:
            yield Stop(name, address(name, made, made.own), role)


class Tourist:
    """Opens one stop after the other, each person on a screen of their own."""

    def __init__(self, made: House, screen, live_server, **options: object) -> None:
        self.made, self.screen, self.address, self.options = made, screen, live_server.url, options
        self.pages: dict[str, Page] = {}

    def _page(self, role: str) -> Page:
        if role not in self.pages:
            context: BrowserContext = self.screen(**self.options)
            if role != STRANGER:
                bring_session(context, getattr(self.made.people, role), self.address)
            self.pages[role] = context.new_page()
        return self.pages[role]

    def look(self, stop: Stop) -> Page | None:
        """The page, loaded; None where the address gives a part of a page."""
        page = self._page(stop.role)
        answer = page.goto(stop.url)
        assert answer is not None
        assert answer.status == 200, f"{stop} answers {answer.status}"
        return page if "<html" in answer.text() else None
