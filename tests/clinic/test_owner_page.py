"""An owner's page: what its link opens, to nobody else, for as long as it stands; a look changes nothing."""

import logging
import re
from dataclasses import replace
from datetime import time, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver
from django.utils import timezone
from icalendar import Calendar

from clinic.letters.document import Mark, Section, Sentence, Text, from_json
from clinic.models import Knock, Letter, NextVisit, Owner, OwnerLink, Patient, Staff
from clinic.owner_page import texts, views
from clinic.owner_page.actions import (
    NoPublicAddress,
    NotTheirs,
    Revoked,
    address_of,
    make_letter_link,
    revoke_link,
)
from clinic.owner_page.middleware import URLS
from clinic.owner_page.secret import BYTES, secret_of
from clinic.people.actor import Actor, NotAllowed
from clinic.platform import rates
from tests import letters, people
from tests.house import PICTURE
from tests.owners import (
    PUBLIC_URL,
    a_letter,
    at_own_address,
    browser,
    copy_of,
    link_to,
    path_of,
    printed,
    with_photographs,
)
from tests.rows import rows_of_all_tables
from tests.test_doors import WRITES, walk

pytestmark = pytest.mark.django_db
ADDRESSES = ("", "/letter.pdf", "/next-visit.ics", "/photograph-0.jpg")
COUNTED = "clinic_knock"  # how often somebody asks; nothing else is ever written by a look


@pytest.fixture(autouse=True)
def own_address(settings) -> None:
    at_own_address(settings)


@pytest.fixture
def letter() -> Letter:
    made = a_letter()
    return printed(copy_of(made, sections=with_photographs(from_json(made.content), PICTURE, PICTURE + b"1")))


@pytest.fixture
def link(letter: Letter) -> OwnerLink:
    return link_to(letter, now=timezone.now())


def me() -> Actor:
    return Actor.of(Staff.objects.get(full_name="Dr Maren Oduya"))


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


# --- what it opens ----------------------------------------------------------------------------------------


def test_it_opens_the_letter_with_telephones_pdf_and_a_question_by_mail(link):
    answer = browser().get(path_of(link))
    said = text_of(answer)
    assert answer.status_code == 200
    for expected in (
        "Ludo’s visit",
        "His left ear has a yeast infection.",
        'href="tel:5550199"',
        'href="tel:5550100"',
        f'href="{path_of(link, "/letter.pdf")}"',
        "Open the letter as a PDF, 2 pages",
        "mailto:desk@quillwater.example?subject=Question%20about%20Ludo",
        "This page stays open for you until",
    ):
        assert expected in said, expected


def test_whoever_has_only_the_database_has_no_address(link):
    kept = str(OwnerLink.objects.values().get(pk=link.pk))
    assert BYTES * 8 >= 128
    assert secret_of(link.pk) not in kept
    assert len({secret_of(link_to(link.letter).pk) for _ in range(50)}) == 50


def test_another_key_of_the_installation_makes_another_secret(link, settings):
    before = secret_of(link.pk)
    settings.SECRET_KEY = "another"
    assert secret_of(link.pk) != before
    assert address_of(link) == ""
    assert browser().get(f"/l/{before}").status_code == 200  # what left still opens


def test_the_pdf_is_the_stored_one(link):
    answer = browser().get(path_of(link, "/letter.pdf"))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


def test_only_the_photographs_of_the_signed_letter_are_shown(link):
    said = text_of(browser().get(path_of(link)))
    assert path_of(link, "/photograph-0.jpg") in said
    assert "staff-only" not in said
    assert browser().get(path_of(link, "/photograph-0.jpg")).content == PICTURE
    assert browser().get(path_of(link, "/photograph-1.jpg")).content == PICTURE + b"1"
    assert browser().get(path_of(link, "/photograph-2.jpg")).status_code == 404


def test_the_calendar_file_holds_what_is_agreed_now(link):
    NextVisit.objects.update(on=timezone.localdate() + timedelta(days=9), at=time(10, 20), sequence=1)
    assert "Agreed with us now" in text_of(browser().get(path_of(link)))
    (event,) = Calendar.from_ical(browser().get(path_of(link, "/next-visit.ics")).content).walk("VEVENT")
    assert event["SUMMARY"] == "Ludo: Ear check and weigh-in"
    NextVisit.objects.update(state="cancelled")
    assert browser().get(path_of(link, "/next-visit.ics")).status_code == 404
    assert "calendar" not in text_of(browser().get(path_of(link)))


def test_after_a_death_nothing_that_comes_next_is_offered(link):
    Patient.objects.update(deceased_on=people.TODAY, deceased_how="died")
    assert browser().get(path_of(link, "/next-visit.ics")).status_code == 404
    assert browser().get(path_of(link)).status_code == 200


def test_a_corrected_copy_replaces_what_the_owner_has_and_the_first_one_stays(link):
    newer = copy_of(link.letter, headline=Sentence("headline", "It was the right ear.", "an addendum"))
    said = text_of(browser().get(path_of(link)))
    assert "It was the right ear." in said
    assert "As it was sent on" in said
    first = text_of(browser().get(path_of(link) + f"?copy={link.letter.version}"))
    assert "His left ear has a yeast infection." in first
    assert "There is a newer copy of this letter" in first
    assert browser().get(path_of(link) + f"?copy={newer.version + 1}").status_code == 404


def test_a_copy_written_to_somebody_else_is_not_theirs_to_read(link):
    stranger = people.owner("Piet Vos", "piet@example.com")
    other = copy_of(link.letter, owner=stranger, headline=Sentence("headline", "For Piet.", "an addendum"))
    assert "For Piet." not in text_of(browser().get(path_of(link)))
    assert browser().get(path_of(link) + f"?copy={other.version}").status_code == 404


def test_a_language_is_offered_only_where_the_letter_exists_in_it(letter):
    alone = copy_of(letter)  # as letters were kept before they were kept in further languages
    assert "hreflang" not in text_of(browser().get(path_of(link_to(alone, now=timezone.now()))))


def test_the_letter_is_kept_in_the_other_language_at_the_same_moment_and_a_look_shows_it():
    """The clinicians' own words stay as they wrote them, between quotation marks that say whose they are."""
    link = link_to(a_letter(), now=timezone.now())
    assert re.search(r'hreflang="es"[^>]*>Leerla en Español<', text_of(browser().get(path_of(link))))
    said = text_of(browser().get(path_of(link) + "?language=es"))
    assert '<html lang="es">' in said
    assert "Escríbanos sobre esta carta" in said
    assert '<span class="own" lang="en">“His left ear has a yeast infection.”</span>' in said
    assert "Abrir la carta en PDF, 2 páginas (en English)" in said
    assert "Cuándo llamarnos" in said
    assert '<html lang="en">' in text_of(browser().get(path_of(link) + "?language=xx"))


def test_what_somebody_typed_is_shown_as_text(letter):
    hostile = '<script>alert(1)</script> "&" \u202e {{ 7|add:7 }} 🐕' + "w" * 10_000
    section = Section("text", "Told", 90, (Text((Sentence("h", hostile, "typed"),), Mark.NONE),))
    made = copy_of(letter, sections=(section,), headline=Sentence("headline", hostile, "typed"))
    said = browser().get(path_of(link_to(made, now=timezone.now()))).content.decode()
    assert "<script>alert" not in said
    assert said.count("&lt;script&gt;alert(1)&lt;/script&gt;") >= 2
    assert "w" * 10_000 in said


# --- to whom, and for how long ----------------------------------------------------------------------------


def test_what_does_not_open_answers_alike(link):
    expired = link_to(link.letter, now=timezone.now() - timedelta(days=400))
    revoked = link_to(link.letter, now=timezone.now())
    revoke_link(link=revoked, actor=me(), now=timezone.now())
    wrong = ["x" * 32, "short", "ü" * 32, secret_of(expired.pk), secret_of(revoked.pk)]
    for rest in ADDRESSES:
        answers = [
            browser(f"203.0.113.{number}").get(f"/l/{each}{rest}") for number, each in enumerate(wrong)
        ]
        assert {each.status_code for each in answers} == {404}
        assert len({each.content for each in answers}) == 1
        assert len({tuple(sorted((k, v) for k, v in a.items() if k != "X-Request-ID")) for a in answers}) == 1
        assert "Ludo" not in answers[0].content.decode()


def test_a_link_opens_one_letter_and_nothing_of_another_patient(link):
    other = a_letter(letters.Case(letters_people(), *other_visit()))
    said = text_of(browser().get(path_of(link)))
    assert "Bramble" not in said
    assert "Bramble" in text_of(browser().get(path_of(link_to(other, now=timezone.now()))))


def letters_people() -> people.People:
    named = {"clinician": "Dr Maren Oduya", "colleague": "Dr Tobias Falk", "technician": "Inés Varga"}
    named |= {"assistant": "Jonas Brel", "manager": "Ottoline Pryce"}
    return people.People(**{role: Staff.objects.get(full_name=name) for role, name in named.items()})


def other_visit():
    patient = people.patient("Bramble", of=people.owner("Piet Vos", "piet@example.com"))
    return patient, people.visit_here(patient, clinician=Staff.objects.get(full_name="Dr Maren Oduya"))


def test_a_revoked_link_is_revoked_once_and_for_good(link):
    revoke_link(link=link, actor=me(), now=timezone.now())
    with pytest.raises(Revoked):
        revoke_link(link=link, actor=me(), now=timezone.now())


@pytest.mark.parametrize(
    "change", ["owner_id = owner_id + 1", "expires_at = now() + '9 years'", "token_hash = ''"]
)
def test_the_database_lets_a_link_be_revoked_and_nothing_else(link, change):
    with pytest.raises(Exception, match="only revoked_at may be set"), connection.cursor() as cursor:
        cursor.execute(f"UPDATE clinic_ownerlink SET {change}")


def test_the_database_does_not_let_a_link_be_revoked_back(link):
    revoke_link(link=link, actor=me(), now=timezone.now())
    with pytest.raises(Exception, match="only revoked_at may be set"):
        OwnerLink.objects.update(revoked_at=None, revoked_by=None)


def test_a_link_is_made_for_a_reader_of_the_letter_alone(letter):
    stranger = people.owner("Piet Vos", "piet@example.com")
    with pytest.raises(NotTheirs):
        make_letter_link(letter=letter, owner=stranger, actor=me(), now=timezone.now())
    Patient.objects.update(deceased_on=people.TODAY, deceased_how="died")
    letter.patient.refresh_from_db()
    assistant = Actor.of(Staff.objects.get(full_name="Jonas Brel"))
    with pytest.raises(NotAllowed):
        make_letter_link(letter=letter, owner=letter.owner, actor=assistant, now=timezone.now())


def test_without_an_address_for_owners_no_link_is_made(letter, settings):
    settings.PUBLIC_URL = ""
    with pytest.raises(NoPublicAddress):
        make_letter_link(letter=letter, owner=letter.owner, actor=me(), now=timezone.now())


# --- how it is asked --------------------------------------------------------------------------------------


@pytest.fixture
def one_window(monkeypatch):
    """So long that no new one begins while a test asks."""
    long = replace(views.LIMIT, window=timedelta(days=20_000))
    monkeypatch.setattr(views, "LIMIT", long)
    return long


def test_whoever_guesses_is_stopped_and_nobody_else_is(link, one_window):
    guesser = browser("198.51.100.7")
    statuses = [guesser.get(f"/l/{number:032d}").status_code for number in range(one_window.in_vain + 3)]
    assert statuses == [404] * one_window.in_vain + [429] * 3
    assert guesser.get(path_of(link)).status_code == 429  # nor does it learn whether one is right
    assert browser("198.51.100.8").get(path_of(link)).status_code == 200


def test_a_good_link_is_not_asked_without_end_either(link, one_window, monkeypatch):
    monkeypatch.setattr(views, "LIMIT", replace(one_window, most=3))
    assert [browser().get(path_of(link)).status_code for _ in range(5)] == [200, 200, 200, 429, 429]


def test_the_counts_hold_no_address_and_go_after_an_hour(link):
    browser("198.51.100.7").get(path_of(link))
    knock = Knock.objects.get()
    assert "198.51" not in knock.who
    assert rates.forget(timezone.now()) == 0
    assert rates.forget(timezone.now() + timedelta(hours=2)) == 1


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("203.0.113.9", "203.0.113.9"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("::ffff:203.0.113.9", "203.0.113.9"),
        ("", ""),
    ],
)
def test_of_ipv6_a_subscriber_s_whole_network_is_counted(address, counted):
    assert rates.whole_network(address) == counted


def test_behind_the_proxy_the_address_it_names_is_counted(link, settings):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    for last in ("1", "2"):
        browser("127.0.0.1").get(path_of(link), headers={"X-Forwarded-For": f"9.9.9.9, 198.51.100.{last}"})
    assert Knock.objects.count() == 2


def test_a_look_changes_nothing(link):
    client = browser()
    client.get(path_of(link))
    before = rows_of_all_tables()
    for rest in (*ADDRESSES, "?copy=1", "/nothing"):
        with CaptureQueriesContext(connection) as sql:
            client.get(path_of(link, rest))
        written = {table for query in sql.captured_queries for table in WRITES.findall(query["sql"])}
        assert written <= {COUNTED, "SET"}  # of its ON CONFLICT DO UPDATE SET
        assert client.post(path_of(link, rest)).status_code in (404, 405)
    assert rows_of_all_tables() == before


def test_every_address_of_owners_is_tried_here():
    found = {f"/{path}" for _, path, _ in walk(get_resolver(URLS))}
    own = {f"/l/<str:secret>{rest}" for rest in ADDRESSES} - {"/l/<str:secret>/photograph-0.jpg"}
    assert found == own | {
        "/l/<str:secret>/photograph-<int:number>.jpg",
        "/certificates/check/",
        "/stop-reminders/<str:token>",
        "/l/<str:secret>/answer",  # tests/clinic/test_answers.py
    }


def test_nothing_of_it_is_kept_found_told_on_or_remembered(link):
    for rest in ADDRESSES:
        answer = browser().get(path_of(link, rest))
        assert answer["Cache-Control"] == "no-store"
        assert answer["Referrer-Policy"] == "no-referrer"
        assert "noindex" in answer["X-Robots-Tag"]
        assert not answer.cookies
        assert "Tailward-Works" not in answer
        assert "script-src" not in answer["Content-Security-Policy"]
    said = text_of(browser().get(path_of(link)))
    assert "<script" not in said
    assert "<form" not in said
    assert "http://" not in said.replace("http://www.w3.org/2000/svg", "")


def test_staff_s_pages_are_not_at_the_owners_address_nor_the_owners_at_theirs(link, client: Client):
    client.force_login(Staff.objects.get(full_name="Dr Maren Oduya"))
    for path in ("/", "/patients/", f"/letters/{link.letter_id}/", "/accounts/login/", "/healthz"):
        assert browser().get(path).status_code == 404
        assert client.get(path, HTTP_HOST="letters.example").status_code == 404
    assert client.get(path_of(link)).status_code == 404


def test_a_certificate_is_checked_there_too(link):
    answer = browser().get("/certificates/check/?code=none")
    assert answer.status_code == 200
    assert "No certificate has this code" in text_of(answer)
    assert not answer.cookies


def test_a_folder_of_an_address_is_enough(link, settings):
    settings.PUBLIC_URL = f"{PUBLIC_URL}/for-owners"
    assert address_of(link) == f"{PUBLIC_URL}/for-owners{path_of(link)}"
    said = text_of(browser().get(f"/for-owners{path_of(link)}"))
    assert f'href="/for-owners{path_of(link, "/letter.pdf")}"' in said


def test_no_log_holds_a_secret(link, caplog):
    caplog.set_level(logging.DEBUG)
    logging.getLogger("clinic.requests").propagate = True
    for secret in (secret_of(link.pk), "y" * 32):
        browser().get(f"/l/{secret}")
        browser().get(f"/l/{secret}/letter.pdf")
        assert secret not in "".join(record.getMessage() for record in caplog.records)


def test_it_asks_the_database_as_often_for_a_long_letter(letter):
    document = from_json(letter.content)
    long = copy_of(letter, sections=with_photographs(document, *(PICTURE + bytes([n]) for n in range(20))))
    counts = []
    for each in (letter, long):
        link = link_to(each, now=timezone.now())
        with CaptureQueriesContext(connection) as sql:
            browser().get(path_of(link))
        counts.append(len(sql))
    assert counts[0] == counts[1] <= 6


def test_every_language_says_the_same_things():
    parts = ("page", "shut", "mail", "reminder", "answer")
    keys = {lang: tuple(set(getattr(t, part)) for part in parts) for lang, t in texts.every().items()}
    assert len(set(map(str, map(sorted_sets, keys.values())))) == 1
    for told in texts.every().values():
        for part in parts:
            for key, text in getattr(told, part).items():
                english = getattr(texts.texts("en"), part)[key]
                assert set(re.findall(r"{\w+}", text)) == set(re.findall(r"{\w+}", english)), key


def sorted_sets(sets):
    return [sorted(each) for each in sets]


@pytest.mark.parametrize(
    ("header", "language"),
    [
        ("es-MX,es;q=0.9,en;q=0.8", "es"),
        ("de, en;q=0.5", "en"),
        ("", "en"),
        ("es;q=x, ,;;", "en"),
        ("*", "en"),
    ],
)
def test_a_page_that_is_shut_speaks_the_browser_s_language(header, language, link):
    said = text_of(browser().get("/l/nothing", headers={"Accept-Language": header}))
    assert f'<html lang="{language}">' in said
    assert Owner.objects.count() == 1
