"""A mail service tells what it could not deliver: in its own format, with the secret, each mail once.

The payloads have the fields of the services' own examples (Postmark, "Bounce webhook"; Brevo, "Transactional
webhooks"; Mailgun, "Webhooks"), as django-anymail reads them.
"""

import base64
import hashlib
import hmac
import importlib
import json
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import NoReverseMatch, clear_url_caches, reverse

from clinic.mail.service import headers_for
from clinic.mail.transport import as_email
from clinic.models import Message, Owner
from clinic.owner_page import urls
from tests import letters
from tests.owners import HOST, at_own_address, printed

pytestmark = pytest.mark.django_db
SECRET, KEY = "post:a-password-of-many-signs", "a-signing-key"


@pytest.fixture(params=["postmark", "brevo", "mailgun"])
def service(request, settings):
    yield from named(request.param, settings)


@pytest.fixture
def postmark(settings):
    yield from named("postmark", settings)


def named(service: str, settings):
    at_own_address(settings)
    settings.MAIL_SERVICE = service
    settings.ANYMAIL = {"WEBHOOK_SECRET": SECRET, "MAILGUN_WEBHOOK_SIGNING_KEY": KEY}
    importlib.reload(urls)
    clear_url_caches()
    yield service
    settings.MAIL_SERVICE = ""
    importlib.reload(urls)
    clear_url_caches()


@pytest.fixture
def sent() -> Message:
    message = printed(letters.healthy().freeze()).messages.get()
    Message.objects.filter(pk=message.pk).update(state="sent")
    message.refresh_from_db()
    return message


def of_postmark(marked: dict[str, Any], *, kind: str = "HardBounce") -> dict[str, Any]:
    return {
        "RecordType": "Bounce", "ID": 42, "Type": kind, "TypeCode": 1, "Name": "Hard bounce", "Tag": "Test",
        "MessageID": "883953f4-6105-42a2-a16a-77a8eac79483", "ServerID": 23, "Email": "henrike@example.com",
        "Description": "The server was unable to deliver your message (ex: unknown user, mailbox not found).",
        "Details": "smtp;550 5.1.1 no such mailbox", "From": "clinic@tailward.example",
        "BouncedAt": "2026-03-11T13:28:10.2735393-04:00", "DumpAvailable": True, "Inactive": True,
        "CanActivate": True, "Subject": "Tansy’s visit", "Metadata": marked,
    }  # fmt: skip


def of_brevo(marked: dict[str, Any], *, kind: str = "hard_bounce") -> dict[str, Any]:
    return {
        "event": kind, "email": "henrike@example.com", "id": 26224, "date": "2026-03-11 13:28:10",
        "ts": 1773232090, "ts_event": 1773232090, "ts_epoch": 1773232090000, "template_id": 22,
        "message-id": "<201798300811.5787683@relay.example.com>", "subject": "Tansy’s visit", "tag": "",
        "X-Mailin-custom": json.dumps(marked), "sending_ip": "203.0.113.7",
        "reason": "smtp;550 5.1.1 no such mailbox",
    }  # fmt: skip


def of_mailgun(marked: dict[str, Any], *, kind: str = "permanent") -> dict[str, Any]:
    stamp, token = "1773232090", "c" * 50
    signature = hmac.new(KEY.encode(), f"{stamp}{token}".encode(), hashlib.sha256).hexdigest()
    return {
        "signature": {"timestamp": stamp, "token": token, "signature": signature},
        "event-data": {
            "event": "failed", "severity": kind, "reason": "bounce", "timestamp": 1773232090.0,
            "id": "G9Bn5sl1TC6nu79C8C0bwg", "log-level": "error", "recipient": "henrike@example.com",
            "recipient-domain": "example.com", "user-variables": marked, "tags": [], "campaigns": [],
            "delivery-status": {
                "attempt-no": 1, "code": 550, "description": "", "session-seconds": 0.4,
                "message": "smtp;550 5.1.1 no such mailbox",
            },
            "message": {"headers": {"message-id": "20130503192659.13651.20287@mg.example.com"}},
        },
    }  # fmt: skip


EVENTS = {"postmark": of_postmark, "brevo": of_brevo, "mailgun": of_mailgun}
PASSING = {"postmark": "SoftBounce", "brevo": "soft_bounce", "mailgun": "temporary"}


def mark_of(message: Message) -> dict[str, str]:
    return {"tailward": str(message.pk)}


def told(event: object, *, secret: str = SECRET, host: str = HOST, client: Client | None = None) -> int:
    basic = base64.b64encode(secret.encode()).decode()
    answer = (client or Client(enforce_csrf_checks=True)).post(
        "/mail-came-back",
        json.dumps(event),
        content_type="application/json",
        headers={"authorization": f"Basic {basic}", "host": host},
        secure=True,
    )
    return answer.status_code


def state_of(message: Message) -> tuple[str, str, str]:
    message.refresh_from_db()
    return message.state, message.state_why, Owner.objects.get().email_state


def test_what_a_service_could_not_deliver_is_noted_once(service, sent):
    event = EVENTS[service](mark_of(sent))
    assert told(event) == told(event) == 200
    assert state_of(sent) == ("failed", "it came back: smtp;550 5.1.1 no such mailbox", "bounced")
    assert sent.steps.filter(state="failed").count() == 1


def test_what_passes_is_no_word_against_the_address(service, sent):
    before = Owner.objects.get().email_state
    assert told(EVENTS[service](mark_of(sent), kind=PASSING[service])) == 200
    state, _why, email = state_of(sent)
    # Mailgun goes on trying; of the others this is the last word on this mail
    assert (state, email) == ("sent" if service == "mailgun" else "failed", before)


def test_a_report_of_no_mail_of_ours_changes_nothing(service, sent):
    before = state_of(sent)
    for marked in ({}, {"tailward": "not a number"}, {"tailward": str(uuid4())}, {"other": str(sent.pk)}):
        assert told(EVENTS[service](marked)) == 200
    assert state_of(sent) == before


@pytest.mark.parametrize("secret", ["post:another-password-altogether", "post:", "", SECRET + "x"])
def test_without_the_secret_nothing_is_heard(service, sent, secret):
    before = state_of(sent)
    assert told(EVENTS[service](mark_of(sent)), secret=secret) == 400
    assert state_of(sent) == before


def test_delivered_and_opened_are_not_kept(postmark, sent):
    before = state_of(sent)
    for kind in ("Delivery", "Open", "SpamComplaint"):
        assert told({**of_postmark(mark_of(sent), kind=""), "RecordType": kind}) == 200
    assert state_of(sent) == before


def test_it_is_heard_at_the_owners_address_alone_and_a_look_is_refused(postmark, sent):
    assert told(of_postmark(mark_of(sent)), host="testserver") == 404
    assert Client().get("/mail-came-back", headers={"host": HOST}, secure=True).status_code == 405
    assert state_of(sent)[0] == "sent"


def test_a_mail_that_was_sent_again_is_not_failed_by_the_first_one_s_late_report(postmark, sent):
    Message.objects.filter(pk=sent.pk).update(state="waiting")
    assert told(of_postmark(mark_of(sent))) == 200
    assert state_of(sent)[0] == "waiting"


def test_what_leaves_carries_our_number_in_the_header_that_comes_back(service, sent):
    headers = as_email(sent).extra_headers
    expected = headers_for(service, sent.pk)
    assert len(expected) == 1
    assert expected.items() <= headers.items()
    assert str(sent.pk) in next(iter(expected.values()))


def test_without_a_service_there_is_no_such_address_and_no_such_header(settings, sent):
    at_own_address(settings)
    with pytest.raises(NoReverseMatch):
        reverse("mail-came-back", urlconf="clinic.owner_page.urls")
    assert told(of_postmark(mark_of(sent))) == 404
    assert not [name for name in as_email(sent).extra_headers if name.startswith("X-")]
