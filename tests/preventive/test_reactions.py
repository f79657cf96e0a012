"""Reactions: what they hold, whom they are told to, and lumps at the place of an injection."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.callbacks.models import CallBack
from clinic.models import Alert
from clinic.people.rights import Right
from preventive import actions
from preventive.due import Standing, standing
from preventive.errors import ClinicianDecides, Incomplete, QuestionsOpen, WrongPatient
from preventive.models import Hold, Reaction
from preventive.queries import dues_of, site_call_backs
from preventive.reactions import Suspect, alert_text, is_unusually_late, reports_for
from tests import people
from tests.people import NOW, TODAY
from tests.preventive.build import under
from tests.preventive.room import room

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy():
    return room()


def react(puppy, *doses, by="technician", **facts):
    facts = {
        "patient": puppy.patient,
        "visit": puppy.visit,
        "doses": doses,
        "supplies": (),
        "began_on": TODAY,
        "signs": ["face", "vomiting"],
        "severity": "moderate",
        "outcome": "recovered",
        "told_by": "Henrike Dovale",
    } | facts
    return actions.record_reaction(actor=puppy.actor(by), now=NOW, **facts)


# AAHA 2022 on adverse events; whom to tell: USDA CVB (A), FDA-CVM (A), EPA (A), VMD and others (C).
@pytest.mark.parametrize(
    ("suspects", "codes"),
    [
        ([Suspect("V", "vaccine", TODAY)], ["vaccine", "elsewhere"]),
        ([Suspect("C", "preventive", TODAY, "chew")], ["medicine", "elsewhere"]),
        ([Suspect("S", "preventive", TODAY, "spot-on")], ["medicine", "insecticide", "elsewhere"]),
    ],
)
def test_whom_to_tell_follows_what_was_given(suspects, codes):
    found = reports_for(suspects, under().rules.reporting)
    assert [rule.code for rule in found] == codes
    assert all(rule.source in under().rules.sources for rule in found)


# at once, or up to about two weeks later: the reference on adverse events, certainty A
@pytest.mark.parametrize(("days", "late"), [(0, False), (14, False), (15, True)])
def test_a_beginning_after_two_weeks_is_unusual(days, late):
    assert is_unusually_late(TODAY, [Suspect("V", "vaccine", TODAY - timedelta(days))]) is late


def test_an_alert_never_exceeds_its_column_and_breaks_between_words():
    text = alert_text(["Corvane"], "hives " * 60, TODAY, vaccine=True)
    assert len(text) <= 200
    assert text.endswith("hives…")


def test_its_antigens_are_held_at_once_and_nobody_is_reminded(puppy):
    dose = puppy.give()
    assert CallBack.objects.filter(patient=puppy.patient, key__startswith="dog_core").exists()
    react(puppy, dose)
    held = {due.code for due in dues_of(puppy.patient, today=TODAY) if standing(due, TODAY) is Standing.HOLD}
    assert {code for code in held if code.startswith("dog_core")} == {
        "dog_core:CDV",
        "dog_core:CAV-2",
        "dog_core:CPV",
    }
    assert not CallBack.objects.filter(patient=puppy.patient, key__startswith="dog_core").exists()


def test_everybody_sees_it_and_the_next_vaccine_is_asked_about(puppy):
    react(puppy, puppy.give())
    alert = Alert.objects.get(patient=puppy.patient)
    assert "Corvane Three" in alert.text
    assert "swollen face" in alert.text
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give("leptavar-four", by="technician")
    assert "reaction" in {each.code for each in asked.value.questions}
    reasons = {each.code: "watched for an hour" for each in asked.value.questions}
    with pytest.raises(ClinicianDecides):
        puppy.give("leptavar-four", by="technician", answers=reasons)


def test_only_a_clinician_releases_and_says_why(puppy):
    react(puppy, puppy.give())
    held = Hold.objects.filter(patient=puppy.patient).first()
    with pytest.raises(Exception, match=Right.ASSESS.value):
        actions.release_hold(actor=puppy.actor("technician"), now=NOW, held=held, reason="fine")
    with pytest.raises(Incomplete):
        actions.release_hold(actor=puppy.actor(), now=NOW, held=held, reason=" ")
    assert actions.release_hold(actor=puppy.actor(), now=NOW, held=held, reason="mild, premedicate")
    assert not actions.release_hold(actor=puppy.actor(), now=NOW, held=held, reason="again")


def test_striking_it_out_lets_go_what_it_held(puppy):
    reaction = react(puppy, puppy.give())
    actions.strike_reaction(
        actor=puppy.actor("technician"), now=NOW, reaction=reaction, reason="another dog’s"
    )
    assert not Hold.objects.filter(patient=puppy.patient, released_on=None).exists()
    assert Alert.objects.get(patient=puppy.patient).until == TODAY


def test_a_hold_that_stood_before_outlives_the_reaction_struck_out(puppy):
    dose = puppy.give()
    actions.hold(actor=puppy.actor(), now=NOW, patient=puppy.patient, code="CDV", reason="titre first")
    reaction = react(puppy, dose)
    actions.strike_reaction(actor=puppy.actor("technician"), now=NOW, reaction=reaction, reason="mistake")
    assert Hold.objects.get(patient=puppy.patient, released_on=None).code == "CDV"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"signs": []}, "signs"),
        ({"signs": ["other"]}, "words"),
        ({"signs": ["unheard of"]}, "signs"),
        ({"began_on": TODAY - timedelta(1)}, "began_on"),
        ({"began_on": TODAY + timedelta(1)}, "given_on"),
        ({"told_by": " "}, "told_by"),
        ({"severity": "awful"}, "severity"),
    ],
)
def test_what_is_missing_is_said_at_its_field(puppy, wrong, field):
    with pytest.raises(Incomplete) as refused:
        react(puppy, puppy.give(), **wrong)
    assert refused.value.field == field
    assert not Reaction.objects.exists()


def test_it_is_after_something(puppy):
    with pytest.raises(Incomplete, match="After what"):
        react(puppy)


def test_another_animals_dose_is_refused(puppy):
    other = people.patient("Sorrel", of=puppy.patient.owners.first())
    with pytest.raises(WrongPatient):
        react(puppy, puppy.give(), patient=other, visit=None)


def test_the_same_ingredient_is_asked_about_before_it_goes_home_again(puppy):
    supply = puppy.hand_out(answers=_any_reason())
    react(puppy, supplies=(supply,), signs=["vomiting"])
    with pytest.raises(QuestionsOpen) as asked:
        puppy.hand_out()
    assert "After the same ingredient: vomiting" in str(asked.value)


class _any_reason(dict):
    """Whatever is asked is answered."""

    def get(self, key, default=None):
        return "discussed"

    def __getitem__(self, key):
        return "discussed"


def test_rows_are_only_struck_out(puppy):
    reaction = react(puppy, puppy.give())
    report = actions.report_reaction(actor=puppy.actor("technician"), now=NOW, reaction=reaction, to="maker")
    for statement in (
        f"UPDATE preventive_reaction SET signs = '{{other}}' WHERE id = {reaction.pk}",
        f"DELETE FROM preventive_reaction_doses WHERE reaction_id = {reaction.pk}",
        f"UPDATE preventive_reactionreport SET \"to\" = 'nobody' WHERE id = {report.pk}",
    ):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    actions.follow_reaction(
        actor=puppy.actor("technician"), now=NOW, reaction=reaction, outcome="lasting", treatment="cooled"
    )
    assert Reaction.objects.get().treatment == "cooled"


# prev-F12: VAFSTF/AAFP 3-2-1 rule (A); injection 2026-03-11, checks at +1 and +3 calendar months
def test_a_lump_is_looked_at_after_one_and_three_months(puppy):
    dose = puppy.give()
    look = {"actor": puppy.actor("technician"), "dose": dose, "now": NOW}
    actions.look_at_site(**look, there=True, largest_mm=9)
    (row,) = site_call_backs(puppy.patient)
    assert row.due_on == date(2026, 4, 11)
    later = {**look, "now": NOW + timedelta(31)}
    actions.look_at_site(**later, there=True, largest_mm=9, growing=False)
    (row,) = site_call_backs(puppy.patient)
    assert row.due_on == date(2026, 6, 11)
    assert CallBack.objects.get(key=f"site:{dose.pk}").due_on == date(2026, 6, 11)
    actions.look_at_site(**{**later, "now": NOW + timedelta(40)}, there=False)
    assert site_call_backs(puppy.patient) == []
    assert not CallBack.objects.filter(key=f"site:{dose.pk}").exists()


def test_a_lump_has_a_size_and_a_drop_into_the_nose_no_place(puppy):
    with pytest.raises(Incomplete, match="millimetres"):
        actions.look_at_site(actor=puppy.actor(), now=NOW, dose=puppy.give(), there=True)
    nose = puppy.give("bordelle-nasal", answers=_any_reason())
    with pytest.raises(WrongPatient):
        actions.look_at_site(actor=puppy.actor(), now=NOW, dose=nose, there=True, largest_mm=3)


# --- the pages ---


def client(puppy, role="technician"):
    made = Client()
    made.force_login(getattr(puppy.people, role))
    return made


def sent(puppy, dose, **more):
    facts = {
        "once": uuid4(),
        "given": [f"dose:{dose.pk}"],
        "signs": ["hives"],
        "began_on": TODAY.isoformat(),
        "severity": "mild",
        "outcome": "recovered",
        "told_by": "Henrike Dovale",
    }
    return client(puppy).post(reverse("reaction-new", args=[puppy.patient.pk]), facts | more)


def test_the_form_records_it_once(puppy):
    dose, token = puppy.give(), uuid4()
    assert sent(puppy, dose, once=token).status_code == 302
    assert sent(puppy, dose, once=token).status_code == 302
    assert Reaction.objects.get().doses.get() == dose


def test_what_was_typed_stays_when_something_is_missing(puppy):
    answer = sent(puppy, puppy.give(), signs=[], words="itched all evening")
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert "What was seen? Tick at least one." in shown
    assert "itched all evening" in shown


def test_the_page_says_the_place_and_the_biopsy_and_where_to_report(puppy):
    dose = puppy.give()
    puppy.give("bordelle-nasal", site="", answers={"not_due": "kennels"})
    reaction = react(puppy, dose)
    actions.report_reaction(
        actor=puppy.actor(), now=NOW, reaction=reaction, to="Lindhollow", reference="LB-7"
    )
    actions.look_at_site(actor=puppy.actor(), now=NOW, dose=dose, there=True, largest_mm=21)
    shown = client(puppy).get(reverse("patient-prevention", args=[puppy.patient.pk])).content.decode()
    assert "a lump of 21 mm" in shown
    assert "reported 11 March 2026 to Lindhollow, reference LB-7" in shown
    assert "A clinician decides on a biopsy" in shown
    assert "USDA Center for Veterinary Biologics" in shown
    assert "Suspected: Corvane Three, live, Lindhollow Biologicals, lot QX4471, expiry 31 March 2028" in shown
    assert "Also given that day: Bordelle nasal, live" in shown
    assert "it may go on" not in shown
    assert (
        "it may go on"
        in client(puppy, "clinician")
        .get(reverse("patient-prevention", args=[puppy.patient.pk]))
        .content.decode()
    )


def test_the_page_asks_the_same_number_of_queries_however_long_the_history(puppy):
    page = reverse("patient-prevention", args=[puppy.patient.pk])
    looks = client(puppy)

    def counted(doses):
        for each in doses:
            react(puppy, each)
            actions.look_at_site(actor=puppy.actor(), now=NOW, dose=each, there=True, largest_mm=4)
        looks.get(page)
        with CaptureQueriesContext(connection) as queries:
            assert looks.get(page).status_code == 200
        return len(queries)

    def outside(n):
        return actions.record_outside_dose(
            actor=puppy.actor(),
            now=NOW,
            patient=puppy.patient,
            antigens=["Leptospira"],
            given_on=TODAY - timedelta(n),
        )

    first = puppy.give()
    few = counted([first])
    for n in range(1, 12):
        react(puppy, outside(n))
    assert counted([]) == few
