"""A tour of every page that somebody may look at, in a house where each page has something to show."""

from collections.abc import Iterator
from dataclasses import dataclass
from uuid import uuid4

from playwright.sync_api import BrowserContext, Page

from clinic.callbacks.answer_models import Answer
from clinic.callbacks.replying import reply
from clinic.care.actions.listed import take_off
from clinic.models import ListedMedicine, Visit
from preventive.actions import issue_vaccination_certificate, recall_lot
from preventive.models import Certificate, Lot
from tests import people
from tests.browser.conftest import bring_session
from tests.browser.eyes import bring_axe
from tests.house import House
from tests.test_doors import DOORS, ROLES, address

OUTBOX = "clinic.platform.outbox.OutboxBackend"  # its pages exist only with it
# but for the first: files to keep
NO_PAGE = {
    "healthz",
    "due-file",
    "patient-export",
    "due-answer-proof",
    "due-post-pdf",
    "next-visit-calendar",
    "result-file",
    "proof",
}
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


def deeper(made: House, *, every_role: bool = False) -> Iterator[Stop]:
    """The same pages in other states: something found, a form opened, a record signed."""
    own = made.own
    plan, problem = f"/visits/{own.visit.pk}/plan/", own.problem.pk
    for do in ("assess", "line", "medicine", "test", "close", "condition"):
        yield Stop(f"plan, {do}", f"{plan}?do={do}&problem={problem}", "clinician")
    for do in ("result", "read"):
        yield Stop(f"plan, {do}", f"{plan}?do={do}&problem={problem}&at={own.test.pk}", "clinician")
    yield Stop("plan, progress", f"{plan}?do=progress&problem={problem}&at={own.line.pk}", "clinician")
    yield Stop("medicines, found", "/records/medicines/?q=nsaid", "clinician")
    yield Stop("medicine taken off", f"/records/medicines/{taken_off(made).pk}/", "manager")
    yield Stop("recall, its letters", f"/records/stock/{recalled_lot(made).pk}/letters/", "clinician")
    yield Stop("recall, to read", f"/records/stock/{recalled_lot(made).pk}/letters/", "technician")
    yield Stop("certificate of all", f"/certificates/{of_all(made).pk}/", "clinician")
    yield Stop("a new vaccine", "/records/stock/products/new/vaccine/", "manager")
    yield Stop("due list, left out", "/due/?why=any", "manager")
    yield Stop("an answer written to", f"/due/answers/{written_to(made).pk}/reply/", "assistant")
    yield Stop("check-in, found", "/check-in/?q=dovale", "technician")
    yield Stop("patients, found", "/patients/?q=dovale", "assistant")
    for role in ("clinician", *(ROLES if every_role else ())):
        for step in ("exam", "plan", "feeding", "prevention", "sign", "addenda"):
            yield Stop(f"signed, {step}", f"/visits/{signed_visit(made).pk}/{step}/", role)
    for step in ("intake", "exam", "plan", "sign"):
        yield Stop(f"assistant at {step}", f"/visits/{own.visit.pk}/{step}/", "assistant")


def recalled_lot(made: House) -> Lot:
    """The lot of the certificate's dose, recalled."""
    lot = made.own.certificate.dose.lot_in_stock
    assert lot is not None
    by = people.Actor.of(made.people.clinician)
    return recall_lot(lot=lot, reason="Maker’s notice 7.", actor=by, now=people.NOW)


def of_all(made: House) -> Certificate:
    """Of all vaccines of the animal that has the rabies certificate."""
    patient = made.own.certificate.patient
    found = Certificate.objects.filter(patient=patient, kind="all").first()
    by = people.Actor.of(made.people.clinician)
    return found or issue_vaccination_certificate(patient=patient, actor=by, now=people.NOW)


def written_to(made: House) -> Answer:
    """An owner's answer to which staff wrote back."""
    by = people.Actor.of(made.people.assistant)
    reply(answer=made.own.answer, words="Friday at four suits us.", once=uuid4(), actor=by, now=people.NOW)
    return made.own.answer


def taken_off(made: House) -> ListedMedicine:
    """A medicine that is no longer on the list."""
    row = ListedMedicine.objects.exclude(pk=made.listed_medicine.pk).first()
    assert row is not None
    if row.off_at is None:
        by = people.Actor.of(made.people.manager)
        row = take_off(row=row, seen=row.version, reason="no longer made", actor=by, now=people.NOW)
    return row


def signed_visit(made: House) -> Visit:
    """The visit of the earlier letter, its record signed."""
    record, signer = made.own.letter.record, made.people.clinician
    if record.signed_at is None:
        record.signed_at, record.signed_by, record.signed_name = people.NOW, signer, signer.printed_name
        record.save()
    return record.visit


class Tourist:
    """Opens one stop after the other, each person on a screen of their own."""

    def __init__(self, made: House, screen, live_server, **options: object) -> None:
        self.made, self.screen, self.address, self.options = made, screen, live_server.url, options
        self.pages: dict[str, Page] = {}

    def _page(self, role: str) -> Page:
        if role not in self.pages:
            context: BrowserContext = self.screen(**self.options)
            bring_axe(context)
            if role != STRANGER:
                bring_session(context, getattr(self.made.people, role), self.address)
            self.pages[role] = context.new_page()
        return self.pages[role]

    def look(self, stop: Stop) -> Page | None:
        """The page, loaded; None where the address gives a part of a page, or a picture."""
        page = self._page(stop.role)
        answer = page.goto(stop.url)
        assert answer is not None
        assert answer.status == 200, f"{stop} answers {answer.status}"
        is_text = answer.headers.get("content-type", "").startswith("text/html")
        return page if is_text and "<html" in answer.text() else None
