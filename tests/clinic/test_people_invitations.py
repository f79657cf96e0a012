"""The only way in is a manager's invitation; somebody who left is out at once and keeps their name."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.mail.models import Message
from clinic.people.actions import InvitationOver, accept_invitation
from clinic.people.actor import NotAllowed
from clinic.people.models import Grant, Invitation, Staff
from clinic.records.actions import (
    INVITATION_LASTS,
    InvitedAlready,
    LastManager,
    NeedsLicence,
    WorksHereAlready,
    change_staff,
    invite,
    let_go,
    withdraw_invitation,
)
from tests.people import NOW, PASSWORD, People, clinic_details, people

pytestmark = pytest.mark.django_db
NEW = {
    "email": "Ada@tailward.example",
    "full_name": "Ada Lunt",
    "printed_name": "",
    "roles": ["technician"],
    "licence_number": "",
    "licence_place": "",
}
SECRETS = {"password": "seven-slow-herons", "pin": "4917"}


@pytest.fixture
def house() -> People:
    clinic_details()
    return people()


def invited(house: People, **other: object) -> str:
    """The token of a new invitation."""
    asked = NEW | other
    return invite(**asked, link_for=lambda token: token, actor=house.actor("manager"), now=NOW)[1]


def test_an_invited_person_chooses_password_and_pin_and_works_here(house):
    staff = accept_invitation(token=invited(house), **SECRETS, now=NOW)
    assert (staff.email, staff.printed_name, staff.roles) == (
        "ada@tailward.example",
        "Ada Lunt",
        ["technician"],
    )
    assert staff.check_password(SECRETS["password"])


def test_the_link_goes_by_mail_and_is_kept_nowhere_else(house):
    token = invited(house)
    assert token in Message.objects.get().body
    assert token not in str(Invitation.objects.values().get())


def test_a_link_works_once(house):
    token = invited(house)
    accept_invitation(token=token, **SECRETS, now=NOW)
    with pytest.raises(InvitationOver):
        accept_invitation(token=token, **SECRETS, now=NOW)
    assert Staff.objects.filter(email="ada@tailward.example").count() == 1


def test_a_withdrawn_or_old_or_unknown_link_opens_nothing(house):
    token = invited(house)
    with pytest.raises(InvitationOver):
        accept_invitation(token=token, **SECRETS, now=NOW + INVITATION_LASTS + timedelta(seconds=1))
    withdraw_invitation(invitation=Invitation.objects.get(), actor=house.actor("manager"), now=NOW)
    for link in (token, "never-given"):
        with pytest.raises(InvitationOver):
            accept_invitation(token=link, **SECRETS, now=NOW)


def test_an_address_is_invited_once_at_a_time(house):
    invited(house)
    with pytest.raises(InvitedAlready):
        invited(house, email="ADA@tailward.example")


def test_an_old_invitation_stands_in_nobodys_way(house):
    invited(house)
    Invitation.objects.update(expires_at=NOW - timedelta(days=1))
    assert invited(house)


def test_somebody_who_works_here_is_not_invited(house):
    with pytest.raises(WorksHereAlready):
        invited(house, email=house.clinician.email)


def test_a_clinician_needs_a_licence_number(house):
    with pytest.raises(NeedsLicence):
        invited(house, roles=["clinician"])


@pytest.mark.parametrize("role", ["assistant", "technician", "clinician"])
def test_only_a_manager_invites_changes_or_lets_go(house, role):
    actor = house.actor(role)
    facts = {key: value for key, value in NEW.items() if key != "email"}
    with pytest.raises(NotAllowed):
        invite(**NEW, link_for=str, actor=actor, now=NOW)
    with pytest.raises(NotAllowed):
        change_staff(staff=house.colleague, **facts, actor=actor, now=NOW)
    with pytest.raises(NotAllowed):
        let_go(staff=house.colleague, on=NOW.date(), actor=actor, now=NOW)


def test_the_last_manager_stays(house):
    facts = {key: value for key, value in NEW.items() if key != "email"}
    with pytest.raises(LastManager):
        let_go(staff=house.manager, on=NOW.date(), actor=house.actor("manager"), now=NOW)
    with pytest.raises(LastManager):
        change_staff(staff=house.manager, **facts, actor=house.actor("manager"), now=NOW)


def test_somebody_who_left_cannot_sign_in_and_keeps_their_name(house):
    client = Client()
    client.force_login(house.clinician)
    let_go(staff=house.clinician, on=NOW.date(), actor=house.actor("manager"), now=timezone.now())
    assert client.get("/me/").status_code == 302
    again = Client().post("/accounts/login/", {"login": house.clinician.email, "password": PASSWORD})
    assert again.status_code == 200
    gone = Staff.objects.get(pk=house.clinician.pk)
    assert (gone.full_name, gone.is_active, gone.pin_hash) == ("Dr Maren Oduya", False, "")
    assert not Grant.objects.filter(staff=gone, ended_at=None).exists()


def test_somebody_who_comes_back_gets_their_old_row(house):
    let_go(staff=house.technician, on=NOW.date(), actor=house.actor("manager"), now=NOW)
    back = accept_invitation(token=invited(house, email=house.technician.email), **SECRETS, now=NOW)
    assert (back.pk, back.is_active, back.left_on) == (house.technician.pk, True, None)


# --- the pages --------------------------------------------------------------------------------------------


@pytest.fixture
def manager(house) -> Client:
    client = Client()
    client.force_login(house.manager)
    return client


def asked(client: Client, **other: object) -> dict[str, object]:
    once = client.get("/records/staff/invite/").context["form"]["once"].value()
    return NEW | {"once": once} | other


def test_the_link_is_shown_once_and_opens_the_page_of_the_invited(manager):
    answer = manager.post("/records/staff/invite/", asked(manager))
    link = re.search(r"http://testserver(/invitation/[^<\s]+/)", answer.content.decode())[1]
    stranger = Client()
    assert "Ada Lunt" in stranger.get(link).content.decode()
    sent = {"password": "seven-slow-herons", "password_again": "seven-slow-herons"}
    sent |= {"pin": "4917", "pin_again": "4917"}
    assert stranger.post(link, sent).url == "/accounts/login/"
    assert stranger.get(link).status_code == 410
    signed_in = stranger.post(
        "/accounts/login/", {"login": "ada@tailward.example", "password": "seven-slow-herons"}
    )
    assert signed_in.url == "/"
    assert Grant.objects.filter(staff__email="ada@tailward.example", how="sign-in").count() == 1


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({"password": "short", "password_again": "short"}, "too short"),
        ({"password_again": "another-word-here"}, "not the same"),
        ({"pin": "1234", "pin_again": "1234"}, "in a row"),
        ({"pin_again": "4918"}, "not the same"),
    ],
)
def test_what_is_wrong_stands_beside_the_field(house, sent, says):
    token = invited(house)
    Invitation.objects.update(expires_at=timezone.now() + timedelta(days=1))
    good = {"password": "seven-slow-herons", "password_again": "seven-slow-herons"}
    answer = Client().post(f"/invitation/{token}/", good | {"pin": "4917", "pin_again": "4917"} | sent)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Staff.objects.filter(email="ada@tailward.example").exists()


def test_a_second_sending_of_the_invitation_invites_nobody_twice(manager):
    sent = asked(manager)
    manager.post("/records/staff/invite/", sent)
    answer = manager.post("/records/staff/invite/", sent)
    assert answer.status_code == 422
    assert "invited already" in answer.content.decode()
    assert (Invitation.objects.count(), Message.objects.count()) == (1, 1)


def test_bad_input_keeps_what_was_typed(manager):
    answer = manager.post("/records/staff/invite/", asked(manager, roles=["clinician"]))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Ada Lunt" in page
    assert "licence number" in page


def test_the_last_managers_page_says_why_not(manager, house):
    page = manager.post(f"/records/staff/{house.manager.pk}/left/", asked(manager, on="2026-03-11"))
    assert page.status_code == 422
    assert "Somebody must stay manager" in page.content.decode()


def test_the_staff_list_takes_as_many_queries_for_twenty(manager, house):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert manager.get("/records/staff/").status_code == 200
        return len(seen)

    invited(house)
    manager.get("/records/staff/")
    few = count()
    for number in range(20):
        Staff.objects.create_user(f"p{number}@tailward.example", full_name=f"P {number}", roles=["assistant"])
        invited(house, email=f"i{number}@tailward.example")
    assert count() == few


def test_one_changes_ones_own_pin_with_the_password(house):
    client = Client()
    client.force_login(house.assistant)
    pins = {"pin": "4917", "pin_again": "4917"}
    assert client.post("/me/", pins | {"password": "wrong"}).status_code == 422
    assert client.post("/me/", pins | {"password": PASSWORD}).status_code == 302
    key = {"who": house.assistant.pk, "pin": "4917", "next": "/me/"}
    assert client.post("/tablet/pin/", key).url == "/me/"


def test_sign_up_is_closed(house):
    answer = Client().post(
        "/accounts/signup/", {"email": "x@example.com", "password1": "a", "password2": "a"}
    )
    assert "by invitation" in answer.content.decode()
    assert not Staff.objects.filter(email="x@example.com").exists()


def test_a_forgotten_password_is_reset_by_mail_and_ends_what_the_old_one_opened(house, mailoutbox):
    before = Client()
    before.force_login(house.clinician)
    Client().post("/accounts/password/reset/", {"email": house.clinician.email})
    link = re.search(r"http://testserver(\S+)", mailoutbox[0].body)[1]
    client = Client()
    page = client.get(link, follow=True)
    new = {"password1": "seven-slow-herons", "password2": "seven-slow-herons"}
    client.post(page.request["PATH_INFO"], new)
    assert Staff.objects.get(pk=house.clinician.pk).check_password("seven-slow-herons")
    assert before.get("/me/").status_code == 302
    assert not Grant.objects.filter(staff=house.clinician, ended_at=None).exists()
