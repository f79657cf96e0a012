"""A tablet is handed on by PIN, over the open page, and every person keeps their own grant."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.people.actions import (
    NoPin,
    NotOnTablet,
    PinLocked,
    WeakPin,
    WrongSecret,
    add_person,
    confirm_password,
    confirm_presence,
    hand_over,
    open_tablet,
    set_pin,
)
from clinic.people.models import Grant, Staff, Tablet
from clinic.people.pins import LOCK_AFTER, LOCKED_FOR, TRIES, WORKING_DAY
from clinic.people.queries import at_work, grant_staff, people_on_tablet
from clinic.people.rights import Role
from clinic.records.actions import let_go
from tests.people import NOW, PASSWORD, PIN, People, people, staff

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> People:
    made = people()
    for person in (made.clinician, made.technician, made.manager):
        set_pin(staff=person, pin=PIN, now=NOW)
    return made


def session_of(grant: Grant) -> dict[str, str]:
    return {"tablet": str(grant.tablet)}


def two_on_a_tablet(house: People) -> tuple[Grant, Grant]:
    first = open_tablet(staff=house.technician, known_as=None, now=NOW)
    return first, add_person(tablet_id=first.tablet, staff=house.clinician, now=NOW)


def test_a_pin_picks_who_works_now(house):
    first, _ = two_on_a_tablet(house)
    assert at_work(session_of(first), now=NOW).actor.staff == house.clinician
    hand_over(tablet_id=first.tablet, staff=house.technician, pin=PIN, now=NOW)
    work = at_work(session_of(first), now=NOW)
    assert (work.actor.staff, work.locked) == (house.technician, False)
    assert {person.name for person in people_on_tablet(first.tablet, now=NOW)} == {
        house.technician.full_name,
        house.clinician.full_name,
    }


def test_an_operation_is_credited_to_its_grant_whoever_works_when_it_arrives(house):
    first, second = two_on_a_tablet(house)
    assert grant_staff(session_of(first), first.pk) == house.technician
    assert grant_staff(session_of(first), str(second.pk)) == house.clinician


def test_what_was_tapped_before_a_new_sign_in_is_still_credited(house):
    first, _ = two_on_a_tablet(house)
    again = open_tablet(staff=house.clinician, known_as=first.tablet, now=NOW + timedelta(hours=1))
    assert grant_staff(session_of(again), first.pk, now=NOW) == house.technician
    assert [p.name for p in people_on_tablet(first.tablet, now=NOW)] == [house.clinician.full_name]


def test_a_grant_of_another_tablet_credits_nobody(house):
    here = open_tablet(staff=house.clinician, known_as=None, now=NOW)
    elsewhere = open_tablet(staff=house.technician, known_as=None, now=NOW)
    assert grant_staff(session_of(here), elsewhere.pk) is None


@pytest.mark.parametrize("grant_id", [None, "", "no-uuid", "00000000-0000-0000-0000-000000000000"])
def test_a_grant_that_does_not_exist_credits_nobody(house, grant_id):
    here = open_tablet(staff=house.clinician, known_as=None, now=NOW)
    assert grant_staff(session_of(here), grant_id) is None
    assert grant_staff({}, here.pk) is None


def test_a_grant_older_than_thirty_days_credits_nobody(house):
    here = open_tablet(staff=house.clinician, known_as=None, now=NOW)
    assert grant_staff(session_of(here), here.pk, now=NOW + timedelta(days=29)) == house.clinician
    assert grant_staff(session_of(here), here.pk, now=NOW + timedelta(days=31)) is None


def test_somebody_who_left_is_neither_credited_nor_handed_a_tablet(house):
    first, second = two_on_a_tablet(house)
    let_go(staff=house.clinician, on=NOW.date(), actor=house.actor("manager"), now=NOW)
    assert grant_staff(session_of(first), second.pk) is None
    assert at_work(session_of(first), now=NOW).actor is None
    assert [p.name for p in people_on_tablet(first.tablet, now=NOW)] == [house.technician.full_name]
    with pytest.raises(NotOnTablet):
        hand_over(tablet_id=first.tablet, staff=house.clinician, pin=PIN, now=NOW)


def test_a_pin_works_only_where_its_person_signed_in_fully(house):
    here = open_tablet(staff=house.clinician, known_as=None, now=NOW)
    open_tablet(staff=house.technician, known_as=None, now=NOW)
    with pytest.raises(NotOnTablet):
        hand_over(tablet_id=here.tablet, staff=house.technician, pin=PIN, now=NOW)


def test_a_full_sign_in_lasts_a_working_day(house):
    first, _ = two_on_a_tablet(house)
    late = NOW + WORKING_DAY
    assert people_on_tablet(first.tablet, now=late) == []
    with pytest.raises(NotOnTablet):
        hand_over(tablet_id=first.tablet, staff=house.technician, pin=PIN, now=late)


def test_a_pin_gives_no_managers_rights(house):
    first = open_tablet(staff=house.manager, known_as=None, now=NOW)
    assert Role.MANAGER in at_work(session_of(first), now=NOW).actor.roles
    hand_over(tablet_id=first.tablet, staff=house.manager, pin=PIN, now=NOW)
    assert Role.MANAGER not in at_work(session_of(first), now=NOW).actor.roles


def test_wrong_tries_lock_for_a_quarter_of_an_hour(house):
    first, _ = two_on_a_tablet(house)
    left = []
    for _ in range(TRIES):
        with pytest.raises(WrongSecret) as wrong:
            hand_over(tablet_id=first.tablet, staff=house.technician, pin="9182", now=NOW)
        left.append(wrong.value.left)
    assert left == [4, 3, 2, 1, 0]
    with pytest.raises(PinLocked):
        hand_over(tablet_id=first.tablet, staff=house.technician, pin=PIN, now=NOW + LOCKED_FOR / 2)
    hand_over(tablet_id=first.tablet, staff=house.technician, pin=PIN, now=NOW + LOCKED_FOR)


def test_a_right_try_forgets_the_wrong_ones(house):
    first, _ = two_on_a_tablet(house)
    for pin in ("9182", "9182", "9182", "9182", PIN, "9182"):
        try:
            hand_over(tablet_id=first.tablet, staff=house.technician, pin=pin, now=NOW)
        except WrongSecret as wrong:
            last = wrong
    assert last.left == TRIES - 1


def test_a_full_sign_in_lifts_the_lock(house):
    first, _ = two_on_a_tablet(house)
    Staff.objects.filter(pk=house.technician.pk).update(pin_locked_until=NOW + LOCKED_FOR)
    add_person(tablet_id=first.tablet, staff=house.technician, now=NOW)
    hand_over(tablet_id=first.tablet, staff=house.technician, pin=PIN, now=NOW)


def test_the_lock_holds_for_signing_too(house):
    for _ in range(TRIES):
        assert confirm_presence(house.clinician, "0000", NOW) is False
    with pytest.raises(PinLocked):
        confirm_presence(house.clinician, PIN, NOW)


@pytest.mark.parametrize(("secret", "right"), [(PIN, True), (PASSWORD, True), ("1357", False), ("", False)])
def test_signing_takes_the_pin_or_the_password(house, secret, right):
    assert confirm_presence(house.clinician, secret, NOW) is right


def test_changing_a_pin_takes_the_password_only(house):
    assert confirm_password(house.clinician, PASSWORD, NOW)
    assert not confirm_password(house.clinician, PIN, NOW)


def test_nobody_confirms_for_somebody_who_left(house):
    let_go(staff=house.clinician, on=NOW.date(), actor=house.actor("manager"), now=NOW)
    assert confirm_presence(house.clinician, PASSWORD, NOW) is False


def test_without_a_pin_nothing_is_handed_over(house):
    first = open_tablet(staff=house.assistant, known_as=None, now=NOW)
    with pytest.raises(NoPin):
        hand_over(tablet_id=first.tablet, staff=house.assistant, pin="", now=NOW)


@pytest.mark.parametrize("pin", ["1111", "1234", "9876", "8901", "123", "12345", "12a4", "٤٠٧١"])
def test_an_easy_pin_is_refused(house, pin):
    with pytest.raises(WeakPin):
        set_pin(staff=house.clinician, pin=pin, now=NOW)


# --- over the network -------------------------------------------------------------------------------------


@pytest.fixture
def tablet(house) -> Client:
    """A tablet the technician opened and the clinician signed in on."""
    client = Client()
    client.force_login(house.technician)
    client.post("/tablet/add/", {"email": house.clinician.email, "password": PASSWORD})
    return client


def idle(client: Client, minutes: int) -> None:
    Tablet.objects.filter(pk=client.session["tablet"]).update(
        seen_at=timezone.now() - timedelta(minutes=minutes)
    )


def test_a_second_person_signs_in_and_the_session_stays(house):
    client = Client()
    client.force_login(house.technician)
    before = client.session.session_key
    answer = client.post("/tablet/add/", {"email": house.clinician.email, "password": PASSWORD})
    assert answer.status_code == 302
    assert client.session.session_key == before
    assert client.get("/me/").wsgi_request.actor.staff == house.clinician


def test_the_dialog_changes_who_works_and_says_the_new_grant(house, tablet):
    answer = tablet.post(
        "/tablet/pin/", {"who": house.technician.pk, "pin": PIN}, headers={"HX-Request": "true"}
    )
    request = tablet.get("/me/").wsgi_request
    assert request.actor.staff == house.technician
    assert f'data-works-now="{request.actor.grant_id}"' in answer.content.decode()


def test_a_wrong_pin_says_how_many_tries_are_left_and_changes_nothing(house, tablet):
    answer = tablet.post("/tablet/pin/", {"who": house.technician.pk, "pin": "9182"})
    assert answer.status_code == 422
    assert "4 tries left" in answer.content.decode().lower()
    assert tablet.get("/me/").wsgi_request.actor.staff == house.clinician


@pytest.mark.parametrize("who", ["", "999999", "x"])
def test_a_name_that_is_not_on_the_tablet_is_refused(tablet, who):
    assert tablet.post("/tablet/pin/", {"who": who, "pin": PIN}).status_code in (404, 422)


def test_a_wrong_password_adds_nobody_and_keeps_the_address(house, tablet):
    answer = tablet.post("/tablet/add/", {"email": house.manager.email, "password": "wrong"})
    assert answer.status_code == 422
    assert house.manager.email in answer.content.decode()
    assert not Grant.objects.filter(staff=house.manager).exists()


def test_a_second_step_is_asked_where_the_person_has_one(house, tablet):
    from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
    from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret

    TOTP.activate(house.manager, generate_totp_secret())
    code = RecoveryCodes.activate(house.manager).get_unused_codes()[0]
    who = {"email": house.manager.email, "password": PASSWORD}
    assert "second step" in tablet.post("/tablet/add/", who).content.decode()
    assert tablet.post("/tablet/add/", who | {"code": "000000"}).status_code == 422
    assert not Grant.objects.filter(staff=house.manager).exists()
    assert tablet.post("/tablet/add/", who | {"code": code}).status_code == 302
    assert Grant.objects.filter(staff=house.manager, how=Grant.How.SIGN_IN).exists()


def test_ten_minutes_untouched_lock_the_tablet(house, tablet):
    idle(tablet, 10)
    answer = tablet.get("/me/")
    assert answer.status_code == 302
    assert answer.url == "/tablet/?next=%2Fme%2F"
    assert tablet.post("/me/", {}).status_code == 401
    answer = tablet.get("/me/", headers={"HX-Request": "true"})
    assert (answer.status_code, answer.headers["Tailward-Locked"]) == (401, "1")


def test_looking_at_the_locked_tablet_does_not_unlock_it(house, tablet):
    idle(tablet, 11)
    tablet.get("/tablet/")
    tablet.post("/tablet/touched/")
    assert tablet.get("/me/").status_code == 302


def test_a_pin_unlocks_and_leads_back(house, tablet):
    idle(tablet, 11)
    answer = tablet.post("/tablet/pin/", {"who": house.clinician.pk, "pin": PIN, "next": "/me/"})
    assert (answer.status_code, answer.url) == (302, "/me/")
    assert tablet.get("/me/").status_code == 200


@pytest.mark.parametrize("way", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"])
def test_the_way_back_leads_nowhere_else(house, tablet, way):
    answer = tablet.post("/tablet/pin/", {"who": house.clinician.pk, "pin": PIN, "next": way})
    assert answer.url == "/"


def test_nine_minutes_are_no_lock_and_a_touch_counts_anew(house, tablet):
    idle(tablet, 9)
    assert tablet.get("/me/").status_code == 200
    seen = Tablet.objects.get(pk=tablet.session["tablet"]).seen_at
    assert timezone.now() - seen < LOCK_AFTER / 2


def test_a_page_that_asks_again_by_itself_is_no_touch(house, tablet):
    idle(tablet, 9)
    tablet.get("/me/", headers={"Tailward-Poll": "1"})
    assert timezone.now() - Tablet.objects.get(pk=tablet.session["tablet"]).seen_at > timedelta(minutes=8)


def test_the_lock_button_locks_and_the_names_stay(house, tablet):
    answer = tablet.post("/tablet/lock/", headers={"HX-Request": "true"})
    assert house.clinician.full_name in answer.content.decode()
    assert tablet.get("/me/").status_code == 302


def test_somebody_who_left_is_out_at_once(house, tablet):
    let_go(staff=house.technician, on=NOW.date(), actor=house.actor("manager"), now=timezone.now())
    assert tablet.get("/me/").url.startswith("/accounts/login/")


def test_signing_out_ends_everybodys_grants(house, tablet):
    key = tablet.session["tablet"]
    tablet.post("/accounts/logout/")
    assert not Grant.objects.filter(tablet=key, ended_at=None).exists()
    tablet.post("/accounts/login/", {"login": house.manager.email, "password": PASSWORD})
    assert tablet.session["tablet"] == key


def test_one_signs_oneself_out_everywhere_and_nobody_else(house, tablet):
    elsewhere = Client()
    elsewhere.force_login(house.clinician)
    tablet.post("/me/everywhere/")
    assert elsewhere.get("/me/").url.startswith("/tablet/")
    names = [person.name for person in tablet.get("/tablet/").context["people"]]
    assert names == [house.technician.full_name]


def test_another_persons_sign_in_pages_are_closed_to_whoever_works(house, tablet):
    assert tablet.get("/accounts/password/change/").status_code == 403
    assert tablet.get("/accounts/2fa/").status_code == 403
    alone = Client()
    alone.force_login(house.clinician)
    assert alone.get("/accounts/2fa/").status_code == 200


def test_the_address_is_not_changed_by_oneself(house):
    client = Client()
    client.force_login(house.clinician)
    assert client.get("/accounts/email/").status_code == 404


def test_a_manager_by_pin_does_not_see_the_records(house):
    client = Client()
    client.force_login(house.manager)
    assert client.get("/records/").status_code == 200
    client.post("/tablet/pin/", {"who": house.manager.pk, "pin": PIN})
    assert client.get("/records/").url == "/tablet/add/?next=%2Frecords%2F"
    assert client.post("/records/clinic/", {}).status_code == 403


def test_a_person_without_pin_is_shown_as_such(house):
    client = Client()
    client.force_login(staff("Ada Lunt", "assistant"))
    assert "no PIN yet" in client.get("/tablet/").content.decode()
