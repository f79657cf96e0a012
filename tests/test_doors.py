"""Every address of the house, who may come in, and what a look changes: nothing.

An address that is not in DOORS fails here: add one line with its name and who may come in, written out, not
read from the table of rights. What stands in a URL's arguments: tests/house.py, ARGUMENTS.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from http.cookies import SimpleCookie
from pathlib import Path

import pytest
from django.db import connection, transaction
from django.test import Client, override_settings
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from clinic.people.actions import lock_tablet
from clinic.people.models import Tablet
from tests.house import ARGUMENTS, House, Objects, house
from tests.rows import MAY_CHANGE

ROLES = ("assistant", "technician", "clinician", "colleague", "manager")
EVERYBODY = frozenset(ROLES)
CLINICAL = EVERYBODY - {"manager"}
HANDS_ON = frozenset({"technician", "clinician", "colleague"})
CLINICIANS = frozenset({"clinician", "colleague"})
MANAGER = frozenset({"manager"})

SENT_EMPTY = frozenset({200, 204, 302, 303, 400, 409, 422})  # let in; what was sent was not enough, or was


@dataclass(frozen=True)
class Door:
    """Who is let in, and with which statuses; everybody else who signed in gets `refused`.

    `sends`: who of them may send, where that is fewer than may look.
    `stranger`: what somebody who has not signed in gets; 302 must lead to the sign-in page.
    A POST carries nothing.
    """

    who: frozenset[str]
    get: frozenset[int] = frozenset()
    post: frozenset[int] = frozenset()
    stranger: int = 302
    refused: int = 403
    query: str = ""
    sends: frozenset[str] | None = None


def page(who: frozenset[str], *statuses: int, query: str = "", stranger: int = 302) -> Door:
    """Only looked at."""
    return Door(who, get=frozenset(statuses or {200}), query=query, stranger=stranger)


def form(
    who: frozenset[str], *statuses: int, sends: frozenset[str] | None = None, stranger: int = 302
) -> Door:
    """Looked at, and sent to the same address."""
    post = frozenset(statuses) or SENT_EMPTY
    return Door(who, get=frozenset({200}), post=post, stranger=stranger, sends=sends)


def tap(who: frozenset[str], *statuses: int, stranger: int = 302) -> Door:
    """Only sent to."""
    return Door(who, post=frozenset(statuses) or SENT_EMPTY, stranger=stranger)


def opened(*statuses: int) -> Door:
    """Nobody has to sign in."""
    return Door(EVERYBODY, get=frozenset(statuses), stranger=statuses[-1])


CLOSED = Door(frozenset(), refused=404)  # of django-allauth, not used here
ASKED_AGAIN = frozenset({302})  # django-allauth asks for the password again, or leads on

DOORS: dict[str, Door] = {
    # clinic/platform
    "healthz": opened(200),
    "worker": opened(200),
    "offline": opened(200),
    # sign-in; a signed-in person is led on from the pages of those who are not
    "account_login": opened(302, 200),
    "account_logout": opened(200, 302),
    "account_inactive": opened(200),
    "account_signup": opened(302, 200),
    "account_email_verification_sent": opened(200),
    "account_reset_password": opened(200),
    "account_reset_password_done": opened(200),
    "account_reset_password_from_key": opened(200),
    "account_reset_password_from_key_done": opened(200),
    "account_confirm_login_code": opened(302),
    "account_confirm_email": replace(CLOSED, stranger=404),
    "account_email": CLOSED,
    "account_set_password": CLOSED,
    "account_reauthenticate": page(EVERYBODY),
    "account_change_password": page(EVERYBODY),
    "mfa_authenticate": opened(302),
    "mfa_login_webauthn": opened(302),
    "mfa_index": page(EVERYBODY),
    "mfa_reauthenticate": page(EVERYBODY, 302),
    "mfa_activate_totp": page(EVERYBODY, 302),
    "mfa_deactivate_totp": page(EVERYBODY, 404, 302),
    "mfa_view_recovery_codes": page(EVERYBODY, 404, 302),
    "mfa_generate_recovery_codes": page(EVERYBODY, 302),
    "mfa_download_recovery_codes": page(EVERYBODY, 404, 302),
    "mfa_list_webauthn": page(EVERYBODY),
    "mfa_add_webauthn": page(EVERYBODY, 302),
    "mfa_reauthenticate_webauthn": page(EVERYBODY, 200, 302),
    "mfa_remove_webauthn": page(EVERYBODY, 404, 302),
    "mfa_edit_webauthn": page(EVERYBODY, 404, 302),
    # clinic/people
    "handover": page(EVERYBODY),
    "tablet-pin": tap(EVERYBODY, 422),
    "tablet-add": form(EVERYBODY, 422),
    "tablet-lock": tap(EVERYBODY, 302),
    "tablet-touched": tap(EVERYBODY, 204),
    "invitation": opened(200),
    "own": form(EVERYBODY, 422),
    "own-everywhere": tap(EVERYBODY, 302),
    # clinic/patients
    "patients": page(EVERYBODY),
    "patient": page(EVERYBODY),
    "patient-changes": page(EVERYBODY),
    "patient-export": page(MANAGER),
    "patient-picture": page(EVERYBODY, 404),
    "patient-picture-set": tap(EVERYBODY, 302),
    "patient-edit": form(EVERYBODY, 422),
    "patient-left": form(EVERYBODY, 422),
    "patient-facts": page(EVERYBODY),
    "patient-alert": tap(EVERYBODY, 422),
    "patient-alert-end": tap(EVERYBODY, 404),
    "patient-condition": tap(CLINICAL, 422),
    "patient-condition-end": tap(CLINICAL, 404),
    "patient-chip": tap(EVERYBODY, 422),
    "patient-gone": tap(CLINICIANS, 422),
    "patient-gone-back": tap(CLINICIANS, 404),
    "patient-owner": tap(EVERYBODY, 422),
    "patient-owner-first": tap(EVERYBODY, 404),
    "patient-owner-end": tap(EVERYBODY, 404),
    "patient-measure": form(CLINICAL, 422),
    "patient-judge": page(CLINICAL),
    "measurement-strike": form(CLINICAL, 422),
    "visit-measure": form(CLINICAL, 422),
    "visit-judge": page(CLINICAL),
    "owner-new": form(EVERYBODY, 422),
    "owner": page(EVERYBODY),
    "owner-edit": form(EVERYBODY, 422),
    "owner-changes": page(EVERYBODY),
    "patient-new": form(EVERYBODY, 422),
    # clinic/mail
    "outbox": page(EVERYBODY),
    "outbox-file": page(EVERYBODY, 404),
    # clinic/visits
    "today": page(EVERYBODY),
    "check-in": form(EVERYBODY, 422),
    "visit-move": tap(EVERYBODY),
    "visit-home": form(EVERYBODY),
    "see-now": form(EVERYBODY),
    "see-now-take": tap(CLINICIANS),
    "see-now-withdraw": tap(EVERYBODY),
    "visit-kind": form(CLINICIANS),
    "day-today": page(EVERYBODY),
    "day": page(EVERYBODY),
    "booking": form(EVERYBODY, 422),
    "next-visit-change": form(EVERYBODY, 422),
    "next-visit-calendar": page(EVERYBODY),
    "visit-book": form(EVERYBODY),
    "next-visit": form(EVERYBODY),
    "next-visit-cancel": tap(EVERYBODY),
    "visit-intake": page(EVERYBODY),
    "intake-why": tap(CLINICAL),
    "intake-changes": tap(CLINICAL),
    "intake-food": tap(CLINICAL),
    "intake-home": tap(CLINICAL),
    "intake-given": tap(CLINICAL),
    "intake-given-out": tap(CLINICAL),
    "intake-heads-up": tap(CLINICAL),
    "visit-sign": form(EVERYBODY, 422, sends=CLINICIANS),
    "sign-excuse": tap(CLINICAL),
    "intake-chip": tap(CLINICAL),
    "wrong-patient": form(CLINICAL, 422),
    "heads-up-answer": tap(CLINICIANS),
    "visit-addenda": form(EVERYBODY, sends=CLINICIANS),
    # exams
    "visit-exam": page(EVERYBODY),
    "exam-operations": tap(CLINICAL, 400, stranger=401),
    "exam-state": page(EVERYBODY, stranger=401),
    "exam-token": page(EVERYBODY, stranger=401),
    "exam-summary": page(EVERYBODY),
    "exam-talk": page(EVERYBODY, stranger=401),
    "exam-talk-forget": tap(CLINICIANS, 302),
    "exam-recording": tap(CLINICAL, 422, stranger=401),
    "spoken": page(CLINICIANS | MANAGER),
    "spoken-keeping": tap(MANAGER, 302),
    "spoken-accept": tap(CLINICIANS, 422),
    "spoken-decline": tap(CLINICIANS | MANAGER, 302, 422),
    "spoken-withdraw": tap(CLINICIANS | MANAGER, 302, 422),
    "exam-here": tap(EVERYBODY, 200, stranger=401),
    "exam-none-there": tap(CLINICIANS, 422),
    "exam-there-is-one": tap(CLINICIANS, 422),
    "structure-history": page(EVERYBODY),
    "exam-photos": replace(form(EVERYBODY, 400, sends=CLINICAL), stranger=401),
    "exam-photo-strike": tap(CLINICIANS, 422, stranger=401),  # and whoever took it
    "exam-photo-describe": tap(CLINICAL, stranger=401),
    "lump-result": tap(HANDS_ON),
    "lump-result-strike": tap(CLINICIANS),  # and whoever entered it
    "exam-photo": page(EVERYBODY),
    "exam-photo-small": page(EVERYBODY),
    "patient-photos": page(EVERYBODY),
    "patient-photo": page(EVERYBODY),
    "walk": page(CLINICIANS | MANAGER),
    "walk-editions": page(CLINICIANS | MANAGER),
    "walk-line": form(CLINICIANS | MANAGER, 422),
    "walk-finding-new": form(CLINICIANS | MANAGER, 422),
    "walk-finding": form(CLINICIANS | MANAGER, 422),
    "walk-undo": form(CLINICIANS | MANAGER, 422),
    "walk-proposal": page(CLINICIANS | MANAGER),
    "walk-approve": tap(CLINICIANS, 302),
    "walk-decline": tap(CLINICIANS | MANAGER, 302),
    "my-order": form(CLINICAL, 422),
    "own-units": form(EVERYBODY, 302),
    # clinic/care
    "visit-plan": page(EVERYBODY),
    "plan-problem": tap(CLINICIANS),
    "plan-assess": tap(CLINICIANS),
    "plan-assess-up": tap(CLINICIANS),
    "plan-assess-back": tap(CLINICIANS),
    "plan-condition": tap(CLINICIANS),
    "plan-close": tap(CLINICIANS),
    "plan-reopen": tap(CLINICIANS),
    "plan-line": tap(CLINICIANS),
    "plan-line-back": tap(CLINICIANS),
    "plan-progress": tap(EVERYBODY),
    "plan-medicine": tap(CLINICIANS),
    "plan-medicine-back": tap(CLINICIANS),
    "plan-dose": tap(HANDS_ON),
    "plan-dose-strike": tap(CLINICAL),
    "plan-directions": page(CLINICIANS),
    "patient-medicines": page(EVERYBODY),
    "patient-medicine-stop": tap(CLINICIANS, 422),
    "patient-medicine-label": page(EVERYBODY),
    "medicine-list": page(EVERYBODY),
    "medicine-list-new": form(CLINICIANS | MANAGER, 422),
    "listed-medicine": form(CLINICIANS | MANAGER, 422),
    "listed-medicine-off": tap(CLINICIANS | MANAGER, 422),
    "listed-medicine-back": tap(CLINICIANS | MANAGER, 422),
    "plan-test": tap(CLINICIANS),
    "plan-test-out": tap(CLINICIANS),
    "plan-test-back": tap(CLINICIANS),
    "plan-result": tap(HANDS_ON),
    "plan-read": tap(CLINICIANS),
    "visit-result-letter": form(CLINICIANS, 422),
    "patient-problem": page(EVERYBODY),
    "patient-results": page(EVERYBODY),
    "result-strike": form(CLINICAL, 422),
    "result-file": page(EVERYBODY),
    "report-strike": form(CLINICAL, 422),
    "plan-next": tap(EVERYBODY),
    "plan-next-back": tap(EVERYBODY),
    # clinic/promises
    "promises": page(EVERYBODY),
    "promise": page(EVERYBODY),
    "promise-hand": tap(EVERYBODY),
    "promise-move": tap(EVERYBODY),
    "promise-close": tap(EVERYBODY),
    "patient-contacts": page(EVERYBODY),
    "contact-new": form(EVERYBODY, 422),
    # clinic/callbacks
    "due-list": page(EVERYBODY),
    "due-household": form(EVERYBODY, 422),
    "due-stop": tap(EVERYBODY, 302),
    "due-lift": tap(EVERYBODY, 302),
    "due-file": page(MANAGER),
    "due-helped": page(EVERYBODY),
    "due-write": form(EVERYBODY, 422),
    "due-leaving": page(EVERYBODY),
    "due-answers": page(EVERYBODY),
    "due-answer-proof": page(EVERYBODY),
    "due-answer-book": tap(EVERYBODY, 404),
    "due-answer-accept": tap(CLINICAL, 302),
    "due-answer-reply": form(EVERYBODY, 422),
    "due-answer-settle": tap(EVERYBODY, 302),
    "due-answer-undo": tap(EVERYBODY, 302),
    "due-post": form(EVERYBODY, 422),
    "due-post-pdf": page(EVERYBODY),
    "due-plan-words": tap(MANAGER, 200),
    "due-stop-one": tap(EVERYBODY, 302),
    "due-take-back": tap(EVERYBODY, 302),
    "due-calls": page(EVERYBODY),
    "due-views": form(EVERYBODY, 422),
    "due-view-rename": tap(EVERYBODY, 422, 404),  # everybody's view is the managers'; one's own one's own
    "due-view-drop": tap(EVERYBODY, 302, 404),
    "due-pause": tap(MANAGER, 302),
    "due-plan-pause": tap(MANAGER, 302),
    "due-plans": form(MANAGER, 422),
    "due-settings": tap(MANAGER, 422),
    "due-plan": page(MANAGER),
    "due-plan-approve": tap(MANAGER, 302),
    "due-plan-drop": tap(MANAGER, 302),
    # clinic/morning
    "morning": page(MANAGER),
    "morning-paper": tap(EVERYBODY, 302),
    "morning-remind": tap(MANAGER, 302),
    # clinic/death
    "patient-death": form(EVERYBODY, 422),
    "death-body": tap(EVERYBODY, 404),  # nobody has died
    "death-back": tap(CLINICIANS, 404),
    "condolence": Door(CLINICIANS, get=frozenset({302}), post=frozenset({302})),
    # clinic/letters
    "letter-sentence": page(EVERYBODY, 404, query="?key=none"),
    "letter-correct": tap(CLINICIANS, 404, 422),
    "letter-words": page(CLINICIANS),
    "letter-words-offer": form(CLINICIANS, 422),
    "letter-words-text": form(CLINICIANS, 422),
    "letter-words-decline": tap(CLINICIANS, 302),
    "letter-words-back": tap(CLINICIANS, 302),
    "messages": page(EVERYBODY),
    "letter": page(EVERYBODY),
    "letter-pdf": page(EVERYBODY, 202),
    "letter-make": tap(EVERYBODY),
    "letter-let-go": tap(CLINICIANS),
    "visit-medicines": page(EVERYBODY),
    "letter-handed": tap(EVERYBODY, 302),
    "letter-link": tap(EVERYBODY, 404),
    "letter-link-revoke": tap(EVERYBODY, 302),
    "letter-send": tap(EVERYBODY, 404),
    "letter-colleague": form(EVERYBODY, 422),
    "message-came-back": tap(EVERYBODY, 302),
    "message-again": tap(EVERYBODY),
    # clinic/summaries
    "summary-new": form(CLINICIANS, 422),
    "summary": page(EVERYBODY),
    "summary-pdf": page(EVERYBODY, 202),
    "summary-make": tap(EVERYBODY, 302),
    # nutrition
    "visit-feeding": form(EVERYBODY, 422, sends=CLINICIANS),
    "grown-weight": tap(CLINICAL, 422),
    "weigh-ins": form(EVERYBODY, 422, sends=CLINICAL),
    "foods": page(EVERYBODY),
    "feeding-calculator": page(EVERYBODY, query="?species=cat&weight=5.9&unit=kg&state=adult&bcs=8"),
    "foods-compare": page(EVERYBODY, query="?food=tarrock-adult-dry&food=tarrock-light-wet"),
    "food": Door(MANAGER, get=frozenset({404}), post=frozenset({404})),
    "food-new": form(MANAGER, 422),
    "food-out": tap(MANAGER, 404),
    # preventive
    "visit-prevention": page(EVERYBODY),
    "prevention-give": tap(HANDS_ON, 422),
    "prevention-outside": tap(CLINICAL, 422),
    "prevention-supply": tap(HANDS_ON, 422),
    "prevention-treatment": tap(HANDS_ON, 422),
    "prevention-put-off": tap(HANDS_ON, 422),
    "prevention-test": tap(CLINICIANS, 422),
    "prevention-result": tap(HANDS_ON, 422),
    "prevention-strike": tap(CLINICAL, 404),
    "patient-prevention": page(EVERYBODY),
    "prevention-item": page(EVERYBODY),
    "prevention-own-date": tap(CLINICIANS, 422),
    "prevention-own-date-withdraw": tap(CLINICIANS, 404),
    "prevention-life": tap(CLINICAL, 422, 302),
    "prevention-calendar": tap(EVERYBODY, 200),
    "reaction-new": form(CLINICAL, 422),
    "reaction-report": tap(HANDS_ON, 422),
    "reaction-follow": tap(CLINICAL, 422),
    "reaction-strike": tap(CLINICAL, 422),
    "hold-release": tap(CLINICIANS, 422),
    "site-look": tap(HANDS_ON, 422),
    "proof": page(EVERYBODY),
    "dose-ruling": tap(CLINICIANS, 422),
    "prevention-strike-out": tap(CLINICAL, 404),
    "certificate-issue": tap(CLINICIANS, 422),
    "certificate-issue-all": tap(CLINICIANS, 422),
    "certificate-check": opened(200),
    "certificate": page(EVERYBODY),
    "certificate-pdf": page(EVERYBODY, 202),
    "certificate-void": tap(CLINICIANS, 422),
    "protocol": page(CLINICIANS | MANAGER),
    "protocol-editions": page(CLINICIANS | MANAGER),
    "protocol-values": page(CLINICIANS | MANAGER),
    "protocol-value": replace(
        form(CLINICIANS | MANAGER, 404), query="?path=vaccines.dog_core.courses.any.boosters.0.every"
    ),
    "protocol-give-up": tap(CLINICIANS | MANAGER, 422),
    "protocol-propose": tap(CLINICIANS | MANAGER, 422),
    "protocol-proposal": page(CLINICIANS | MANAGER),
    "protocol-approve": tap(CLINICIANS, 302),
    "protocol-try": tap(CLINICIANS | MANAGER, 302),
    "protocol-decline": tap(CLINICIANS | MANAGER, 302),
    "stock": page(EVERYBODY),
    "product-new": form(CLINICIANS | MANAGER, 422),
    "product": form(CLINICIANS | MANAGER, 422),
    "product-use": tap(CLINICIANS | MANAGER, 302),
    "lot-new": form(HANDS_ON | MANAGER, 422),
    "lot": page(EVERYBODY),
    "lot-count": tap(HANDS_ON | MANAGER, 422),
    "lot-throw": tap(HANDS_ON | MANAGER, 422),
    "lot-recall": tap(HANDS_ON | MANAGER, 422),
    "lot-lift": tap(CLINICIANS, 422),
    "lot-told": tap(EVERYBODY, 404),
    "lot-letters": Door(EVERYBODY, get=frozenset({302}), post=frozenset({302}), sends=CLINICIANS),
    # clinic/records
    "records": page(MANAGER | CLINICIANS),
    "staff": page(MANAGER),
    "staff-invite": form(MANAGER, 422),
    "staff-person": form(MANAGER, 422),
    "staff-left": tap(MANAGER, 422),
    "invitation-withdraw": tap(MANAGER, 302),
    "clinic-details": form(MANAGER, 422),
}


def walk(resolver: URLResolver, before: str = "") -> Iterator[tuple[str, str, URLPattern]]:
    for each in resolver.url_patterns:
        path = f"{before}{each.pattern}"
        if isinstance(each, URLResolver):
            yield from walk(each, path)
        else:
            yield each.name or "", path, each


def every_address() -> dict[str, URLPattern]:
    found = {}
    for name, path, pattern in walk(get_resolver()):
        assert name, f"/{path} has no name: give it one, so that it can be listed in DOORS."
        assert name not in found, f"Two addresses are named {name}."
        found[name] = pattern
    return found


def test_every_address_is_listed():
    unlisted = sorted(set(every_address()) - set(DOORS))
    lines = "\n".join(f'    "{name}": page(EVERYBODY),' for name in unlisted)
    assert not unlisted, (
        f"These addresses are in no table, so nobody decided who may come in:\n{lines}\n"
        "Add each to DOORS in tests/test_doors.py: page(...) to look, form(...) to look and send, "
        "tap(...) to send only, with who is let in."
    )


def test_nothing_is_listed_that_does_not_exist():
    assert sorted(set(DOORS) - set(every_address())) == []


def arguments_of(name: str) -> set[str]:
    """Names of the arguments in an address, its prefixes included."""
    possibilities, *_ = get_resolver().reverse_dict.getlist(name)[0]
    return {argument for _, arguments in possibilities for argument in arguments}


def address(name: str, place: House, mine: Objects) -> str:
    wanted = arguments_of(name)
    unknown = wanted - set(ARGUMENTS)
    assert not unknown, (
        f"{name} takes {sorted(unknown)}: say what they stand for in tests/house.py, ARGUMENTS."
    )
    return reverse(name, kwargs={each: ARGUMENTS[each](place, mine) for each in wanted}) + DOORS[name].query


WRITES = re.compile(
    r"\b(?:INSERT INTO|DELETE FROM|(?<!FOR )(?<!FOR NO KEY )UPDATE) +(?:ONLY +)?\"?(\w+)\"?", re.I
)


@dataclass(frozen=True)
class Knock:
    """One request and the way it ended."""

    role: str
    method: str
    url: str
    status: int
    where: str
    wrote: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.role} {self.method} {self.url}: {self.status} {self.where}".rstrip()


def knock(client: Client, role: str, method: str, url: str) -> Knock:
    """The request, undone afterwards."""
    wrote = []

    def listen(execute, sql, params, many, context):
        if writes(sql):
            wrote.append(sql)
        return execute(sql, params, many, context)

    before = transaction.savepoint()
    with connection.execute_wrapper(listen):
        answer = getattr(client, method)(url)
    transaction.savepoint_rollback(before)
    return Knock(role, method, url, answer.status_code, answer.headers.get("Location", ""), tuple(wrote))


def writes(sql: str) -> set[str]:
    """Tables that a statement changes, without those that any request may."""
    return set(WRITES.findall(sql)) - MAY_CHANGE


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("files")


@pytest.fixture(scope="module")
def laid(django_db_setup, django_db_blocker, files: Path) -> Iterator[House]:
    """One house for all doors, with all that stands in an address: every knock is undone."""
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=files), transaction.atomic():
        made = house()
        for name in sorted(set(DOORS) & set(every_address())):
            for mine in (made.own, made.colleagues):
                address(name, made, mine)
        yield made
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def cookies(laid: House) -> dict[str, SimpleCookie]:
    """What the browser of each role keeps once somebody has signed in."""
    signed_in = {"stranger": Client()} | {role: Client() for role in ROLES}
    for role in ROLES:
        signed_in[role].force_login(getattr(laid.people, role))
    return {role: client.cookies for role, client in signed_in.items()}


@pytest.fixture
def place(laid: House, files: Path, settings, db) -> House:
    settings.MEDIA_ROOT = files
    settings.EMAIL_BACKEND = "clinic.platform.outbox.OutboxBackend"  # its pages exist only with it
    Tablet.objects.update(seen_at=timezone.now())  # a tablet that nobody touched for a while locks
    return laid


def clients(cookies: dict[str, SimpleCookie]) -> dict[str, Client]:
    made = {}
    for role, kept in cookies.items():
        made[role] = Client()
        made[role].cookies = SimpleCookie(kept.output(header="", sep=";"))
    return made


def expected(door: Door, role: str, method: str) -> frozenset[int]:
    statuses = getattr(door, method)
    if role == "stranger":
        return frozenset({door.stranger})
    if method == "post" and door.sends is not None and role not in door.sends:
        return frozenset({door.refused})
    if role not in door.who:
        # a method that an address does not know may be refused before or after asking who it is
        also = set() if statuses or door.refused == 404 else {405}
        return frozenset({door.refused, *also})
    return statuses or frozenset({405})


@pytest.mark.parametrize("name", sorted(DOORS))
def test_the_door_lets_in_exactly(name, place, cookies, long_run):
    """And a look, by whomever, changes nothing.

    What is their own and what a colleague's differs for clinicians: only these try both in a short run.
    """
    door = DOORS[name]
    urls = list(dict.fromkeys(address(name, place, mine) for mine in (place.own, place.colleagues)))
    methods = [method for method in ("get", "post") if getattr(door, method)] or ["get"]
    methods += ["get"] if methods == ["post"] else []
    wrong = []
    for role, client in clients(cookies).items():
        for method in methods:
            tries_both = role in door.who & CLINICIANS and getattr(door, method)
            for url in urls if tries_both or long_run else urls[:1]:
                seen = knock(client, role, method, url)
                if seen.status not in expected(door, role, method):
                    wrong.append(f"{seen}, expected {sorted(expected(door, role, method))}")
                elif role == "stranger" and door.stranger == 302 and "/accounts/login/" not in seen.where:
                    wrong.append(f"{seen}, expected the sign-in page")
                if method == "get":
                    wrong += [f"{seen}, a look that changes something: {sql[:300]}" for sql in seen.wrote]
    assert not wrong, "\n".join(wrong)


OPEN_WHEN_LOCKED = {"handover", "tablet-pin", "tablet-add", "tablet-lock"}


def test_a_locked_tablet_opens_only_the_hand_over(place, cookies):
    """Also for what carries no word of locking: the middleware refuses by default."""
    client = clients(cookies)["clinician"]
    lock_tablet(tablet_id=client.session["tablet"], now=timezone.now())
    let_in = set()
    for name in sorted(set(DOORS) & set(every_address())):
        if not getattr(every_address()[name].callback, "login_required", True) or DOORS[name] is CLOSED:
            continue
        for method in ("get", "post"):
            seen = knock(client, "clinician", method, address(name, place, place.own))
            if seen.status != 401 and not seen.where.startswith("/tablet/?next="):
                let_in.add(name)
    assert let_in == OPEN_WHEN_LOCKED


OF_A_VISIT = ("visit_id", "patient_id")  # what comes first in an address, and whose everything after it is


def crossed() -> list[str]:
    """Addresses that name a visit or a patient and something of it."""
    rows = {"problem_id", "assessment_id", "line_id", "medicine_id", "test_id", "result_id", "given_id"}
    rows |= {
        "heads_up_id",
        "measurement_id",
        "next_visit_id",
        "photo_id",
        "sample_id",
        "sample_result_id",
        "file_id",
        "reaction_id",
        "hold_id",
        "proof_id",
    }
    listed = sorted(set(DOORS) & set(every_address()))
    return [name for name in listed if arguments_of(name) & rows and arguments_of(name) & set(OF_A_VISIT)]


@pytest.mark.parametrize("name", crossed())
def test_nothing_of_one_patient_is_reached_through_anothers_visit(name, place, cookies):
    door, client = DOORS[name], clients(cookies)["clinician"]
    kwargs = {
        each: ARGUMENTS[each](place, place.own if each in OF_A_VISIT else place.colleagues)
        for each in arguments_of(name)
    }
    for method in ("get", "post"):
        if getattr(door, method):
            assert knock(client, "clinician", method, reverse(name, kwargs=kwargs)).status == 404


def test_an_unlisted_address_would_be_noticed(monkeypatch):
    """The table test can fail: without its line, an address stands out by name."""
    monkeypatch.delitem(DOORS, "records")
    with pytest.raises(AssertionError, match='"records": page'):
        test_every_address_is_listed()


def test_a_wrong_line_would_be_noticed(monkeypatch, place, cookies):
    monkeypatch.setitem(DOORS, "records", replace(DOORS["records"], who=EVERYBODY))
    with pytest.raises(AssertionError, match="assistant get /records/: 403"):
        test_the_door_lets_in_exactly("records", place, cookies, long_run=False)


def test_a_look_that_writes_would_be_noticed(monkeypatch, place, cookies):
    monkeypatch.setattr("tests.test_doors.WRITES", re.compile(r'^SELECT .*? FROM "(\w+)"'))
    with pytest.raises(AssertionError, match="manager get /records/: 200, a look that changes something: S"):
        test_the_door_lets_in_exactly("records", place, cookies, long_run=False)


@pytest.mark.parametrize(
    ("sql", "tables"),
    [
        ('INSERT INTO "clinic_visit" ("id") VALUES (1)', ["clinic_visit"]),
        ('SELECT set_config(1); UPDATE "clinic_visit" SET "room" = 1', ["clinic_visit"]),
        ('DELETE FROM "clinic_alert" WHERE 1', ["clinic_alert"]),
        ('SELECT 1 FROM "clinic_visit" FOR UPDATE', []),
        ('SELECT 1 FROM "clinic_visit" FOR NO KEY UPDATE OF "clinic_visit"', []),
    ],
)
def test_a_write_is_told_from_a_look(sql, tables):
    assert WRITES.findall(sql) == tables
