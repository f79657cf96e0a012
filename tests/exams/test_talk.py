"""What is said in an exam: heard, confirmed by the same taps, settled, forgotten; none enters by itself."""

from __future__ import annotations

import uuid

import pytest
from django.db import DatabaseError, transaction

from clinic.models import HeadsUp, PlanLine
from clinic.people.actor import NotAllowed
from clinic.platform.registries import sign_checks
from exams.lines import Absence, Lines, applicable
from exams.models import Exam, Finding, HeardItem, Operation, SpokenForm, TalkLine
from exams.queries import standing
from exams.talk_actions import (
    FormRefused,
    accept_form,
    choose_keeping,
    close_talk,
    decline_form,
    forget_talk,
    withdraw_form,
)
from exams.talk_items import LINE, Item, taps_of
from exams.talk_pages import talk_json
from exams.versions import published
from tests import people
from tests.exams.house import Tablet, exam_here, state_of

pytestmark = pytest.mark.django_db
EARS = "Left ear canal red, mild. Right ear canal normal."


@pytest.fixture
def house():
    return people.people()


@pytest.fixture
def tablet(house) -> Tablet:
    return exam_here(house_actor(house))


def house_actor(house, role: str = "clinician"):
    return house.actor(role)


def fresh(tablet: Tablet) -> Exam:
    return Exam.objects.select_related("record__visit__patient").get(pk=tablet.exam.pk)


def told(tablet: Tablet):
    return talk_json(standing(fresh(tablet)))


def say(tablet: Tablet, text: str, **more):
    return tablet.send(tablet.operation("talk", "say", {"text": text}, **more))[0]


def item(tablet: Tablet, words: str):
    return next(i for i in told(tablet)["items"] if words.lower() in i["words"].lower())


def confirm(tablet: Tablet, one, tap: int = 0, **more):
    t = one["taps"][tap]
    return tablet.tap(t["target"], t["what"], {**t["payload"], "heard": [one["id"]], **more})


def test_what_is_said_is_heard_and_enters_nothing(tablet) -> None:
    assert say(tablet, EARS)["result"] == "accepted"
    assert {i["words"] for i in told(tablet)["items"]} == {
        "Canal by otoscope, left: Erythema of pinna or canal, mild",
        "Canal by otoscope, right: normal",
    }
    assert not state_of(tablet.exam).answers
    assert not Finding.objects.exists()


def test_the_log_keeps_that_something_was_said_and_not_what(tablet) -> None:
    say(tablet, EARS)
    row = Operation.objects.get(what="say")
    assert "canal" not in f"{row.payload}{row.outcome}{row.undo}"
    assert TalkLine.objects.get().text == EARS


def test_the_same_line_sent_twice_is_said_once(tablet) -> None:
    op = tablet.operation("talk", "say", {"text": EARS})
    tablet.send(op)
    assert tablet.send(op)[0]["repeated"] is True
    assert TalkLine.objects.count() == 1


def test_confirming_is_the_tap_of_a_finger_and_says_that_it_was_spoken(tablet) -> None:
    say(tablet, EARS)
    assert confirm(tablet, item(tablet, "mild"))["result"] == "accepted"
    row = Finding.objects.get(line="EAR.canal|left")
    assert [(f["code"], f["severity"]) for f in row.findings] == [("EAR-01", "mild")]
    assert row.spoken
    assert [i["state"] for i in told(tablet)["items"]] == ["normal"]


def test_a_technician_who_confirms_leaves_the_degree_to_be_confirmed_as_by_hand(house, tablet) -> None:
    say(tablet, EARS)
    technician = Tablet(tablet.exam, house_actor(house, "technician"))
    confirm(technician, item(tablet, "mild"))
    assert Finding.objects.get().findings[0]["unconfirmed"] is True


def test_a_second_tablet_is_told_that_somebody_answered(house, tablet) -> None:
    say(tablet, EARS)
    one = item(tablet, "mild")
    other = Tablet(tablet.exam, house_actor(house, "colleague"))
    assert confirm(tablet, one)["result"] == "accepted"
    assert confirm(other, one)["reason"] == "heard-decided"
    assert Operation.objects.filter(what="set_abnormal", outcome__result="accepted").count() == 1


def test_what_was_discarded_is_not_asked_again_until_it_is_said_again(tablet) -> None:
    say(tablet, EARS)
    one = item(tablet, "mild")
    assert (
        tablet.send(tablet.operation("talk", "discard_heard", {"item": one["id"]}))[0]["result"] == "accepted"
    )
    say(tablet, "Good boy.")
    assert [i["state"] for i in told(tablet)["items"]] == ["normal"]
    say(tablet, "Left ear canal red, mild.")
    assert item(tablet, "mild")["id"] != one["id"]


def test_a_tap_by_hand_that_says_the_same_settles_what_was_heard(tablet) -> None:
    say(tablet, EARS)
    tablet.tap("EAR.canal|right", "set_normal")
    assert [i["state"] for i in told(tablet)["items"]] == ["abnormal"]
    assert not Finding.objects.get().spoken


def test_taking_back_asks_again(tablet) -> None:
    say(tablet, EARS)
    key = confirm(tablet, item(tablet, "mild"))["key"]
    tablet.tap("EAR.canal|left", "take_back", {"operation": key})
    assert item(tablet, "mild")
    assert not Finding.objects.exists()


def test_a_confirmed_thing_said_differently_afterwards_is_a_question(tablet) -> None:
    say(tablet, "Murmur grade two.")
    confirm(tablet, item(tablet, "murmur"))
    say(tablet, "Sorry, grade three murmur, not two.")
    kinds = {i["kind"] for i in told(tablet)["items"]}
    assert kinds <= {"line", "question"}
    assert kinds
    assert Finding.objects.get().findings[0]["grade"] == "2"


def test_a_number_becomes_a_measurement_of_the_patient(tablet) -> None:
    say(tablet, "Temperature 38.4.")
    one = item(tablet, "temperature")
    assert confirm(tablet, one)["result"] == "accepted"
    row = tablet.exam.record.visit.patient.measurements.get(kind="temperature")
    assert str(row.typed.normalize()) == "38.4"
    assert state_of(tablet.exam).answers["VIT.temperature|-"].spoken


def test_refill_under_two_seconds_asks_which_step_it_was(tablet) -> None:
    say(tablet, "Capillary refill under two seconds.")
    assert [t["payload"]["value"] for t in item(tablet, "refill")["taps"]] == ["under-1", "1-2"]


def without_a_left_eye() -> Lines:
    return applicable(published(), "dog", "female", True, 900, [Absence("station:EYE|left", "removed 2024")])


@pytest.mark.parametrize("state", ["normal", "abnormal", "not_examined", "partial"])
def test_what_is_said_of_a_lost_side_is_never_taken_for_the_other(state) -> None:
    said = {"structure": "EYE.cornea", "side": "left", "state": state, "codes": ["EYE-05"]}
    told = taps_of(Item(LINE, "EYE", said, ()), published(), without_a_left_eye())
    assert told.taps == ()
    assert told.lacks == "Does not apply to this animal: removed 2024."


def test_what_is_said_of_both_is_entered_on_the_side_that_is_there() -> None:
    said = {"structure": "EYE.cornea", "side": "right", "state": "normal"}
    [tap] = taps_of(Item(LINE, "EYE", said, ()), published(), without_a_left_eye()).taps
    assert (tap.target, tap.what) == ("EYE.cornea|right", "set_normal")


def test_a_kneecap_said_aloud_carries_side_grade_and_the_way_it_goes(tablet) -> None:
    say(tablet, "Right kneecap luxates medially, grade two.")
    assert confirm(tablet, item(tablet, "patella"))["result"] == "accepted"
    row = Finding.objects.get()
    [finding] = row.findings
    assert (row.line, finding["code"], finding["grade"]) == ("HLB.patella|right", "HLB-09", "2")
    assert finding["qualifiers"] == {"medial / lateral": "medial"}


def test_a_grade_and_a_side_that_nobody_said_are_asked_for(tablet) -> None:
    say(tablet, "Right kneecap luxates medially. There is a corneal ulcer.")
    ulcer, kneecap = item(tablet, "cornea"), item(tablet, "patella")
    assert [t["words"] for t in ulcer["taps"]] == ["left", "right", "both"]
    assert kneecap["words"] == "Patella, right: Patellar luxation grade?, medial"
    assert len(kneecap["taps"]) == 4
    assert confirm(tablet, kneecap, 1)["result"] == "accepted"
    row = Finding.objects.get()
    [finding] = row.findings
    assert (row.line, finding["code"], finding["grade"]) == ("HLB.patella|right", "HLB-09", "2")
    assert [i["words"] for i in told(tablet)["items"]] == [ulcer["words"]]


def test_a_line_that_is_named_for_what_may_be_wrong_says_that_there_was_none(tablet) -> None:
    say(tablet, "No murmur. Heart rhythm regular.")
    words = {i["words"] for i in told(tablet)["items"] if i["station"] == "HRT"}
    assert words == {"Murmur: none heard", "Rhythm: normal"}


def test_an_odd_number_is_asked_about_and_stays_to_be_confirmed(tablet) -> None:
    say(tablet, "Temperature 43.")
    one = item(tablet, "temperature")
    assert one["words"] == "Rectal temperature: 43 °C"
    assert confirm(tablet, one)["reason"] == "ask-once"
    assert item(tablet, "temperature")["id"] == one["id"]
    assert confirm(tablet, one, looked_twice=True)["result"] == "accepted"
    assert not told(tablet)["items"]


def test_a_remark_becomes_a_heads_up_once_however_often_it_is_tapped(tablet) -> None:
    say(tablet, "Jess says the left ear has blood on it.")
    one = next(i for i in told(tablet)["items"] if i["kind"] == "heads-up")
    confirm(tablet, one)
    confirm(tablet, one)
    assert [str(h.pk) for h in HeadsUp.objects.all()] == [one["id"]]


def test_a_line_of_the_plan_is_made_by_the_plans_own_action(house, tablet) -> None:
    say(tablet, "Recheck in two weeks.")
    one = next(i for i in told(tablet)["items"] if i["kind"] == "plan")
    technician = Tablet(tablet.exam, house_actor(house, "technician"))
    assert confirm(technician, one)["reason"] == "role"
    assert confirm(tablet, one)["result"] == "accepted"
    assert [(x.kind, x.text) for x in PlanLine.objects.all()] == [("recheck", "Recheck in two weeks")]
    assert not any(i["kind"] == "plan" for i in told(tablet)["items"])


def test_a_deleted_line_takes_what_was_heard_in_it_along(house, tablet) -> None:
    say(tablet, EARS)
    line = told(tablet)["lines"][0]["id"]
    technician = Tablet(tablet.exam, house_actor(house, "technician"))
    assert technician.send(technician.operation("talk", "unsay", {"line": line}))[0]["reason"] == "role"
    assert tablet.send(tablet.operation("talk", "unsay", {"line": line}))[0]["result"] == "accepted"
    assert not TalkLine.objects.exists()
    assert not HeardItem.objects.exists()


def test_a_deleted_line_leaves_none_of_its_words_in_what_was_confirmed(tablet) -> None:
    say(tablet, "Tech noticed a cough in the lobby.")
    one = item(tablet, "cough in the lobby")
    assert confirm(tablet, one)["result"] == "accepted"
    line = TalkLine.objects.get()
    tablet.tap("talk", "unsay", {"line": str(line.pk)})
    assert not HeardItem.objects.exists()
    assert HeadsUp.objects.get().words  # it was pinned: that is the record


def test_tartar_without_a_tooth_asks_which_by_quadrant(tablet) -> None:
    say(tablet, "Moderate tartar.")
    one = item(tablet, "calculus")
    assert not one["lacks"]
    groups = list(dict.fromkeys(tap["group"] for tap in one["taps"]))
    assert groups == ["upper right", "upper left", "lower left", "lower right"]
    wanted = next(i for i, tap in enumerate(one["taps"]) if tap["target"] == "MTH.teeth|108")
    assert one["taps"][wanted]["group"] == "upper right"
    assert confirm(tablet, one, wanted)["result"] == "accepted"
    assert Finding.objects.get(line="MTH.teeth|108").findings[0]["severity"] == "moderate"
    assert not told(tablet)["items"]


@pytest.mark.parametrize("note", ["medial", "lateral", "both", "suspected; medial"])
def test_the_way_that_a_kneecap_goes_is_carried_by_the_tap(note) -> None:
    said = {"structure": "HLB.patella", "side": "left", "state": "abnormal", "codes": ["HLB-09"]}
    heard = Item(LINE, "HLB", {**said, "grade": "2", "note": note}, ())
    walk = published()
    [tap] = taps_of(heard, walk, applicable(walk, "dog", "female", True, 900)).taps
    [entry] = tap.payload["findings"]
    assert entry["qualifiers"]["medial / lateral"] == note.split("; ")[-1]
    assert entry["qualifiers"].get("certainty", "") == ("suspected" if "suspected" in note else "")
    assert "note" not in entry


def test_where_nothing_was_heard_is_told(tablet) -> None:
    text = "Weight 22.4 kilos. She drinks more since a month. Left ear canal normal, she hears very well."
    say(tablet, text)
    [line] = told(tablet)["lines"]
    assert [text[a:b] for a, b in line["unheard"]] == [
        "She drinks more since a month.",
        "she hears very well.",
    ]


def test_where_nobody_said_which_way_a_kneecap_goes_it_is_asked(tablet) -> None:
    say(tablet, "Left patella luxates, grade one.")
    one = item(tablet, "patell")
    assert [tap["words"] for tap in one["taps"]] == ["medial", "lateral", "both"]
    assert confirm(tablet, one)["result"] == "accepted"


def test_what_a_value_decides_is_not_offered_as_normal() -> None:
    said = {"structure": "GEN.pain", "side": "none", "state": "normal"}
    told_of = taps_of(
        Item(LINE, "GEN", said, ()), published(), applicable(published(), "dog", "female", True, 900)
    )
    assert (told_of.taps, told_of.lacks) == ((), "Its value decides: enter the value.")


def test_words_behind_a_proposal_are_those_of_its_line(tablet) -> None:
    say(tablet, "Come here.")
    say(tablet, EARS)
    spans = item(tablet, "mild")["spans"]
    lines = {x["id"]: x["text"] for x in told(tablet)["lines"]}
    assert " ".join(lines[k][a:b] for k, a, b in spans).lower().startswith("left ear canal")


@pytest.mark.parametrize(
    ("payload", "reason"),
    [({"text": " "}, "bad-payload"), ({"text": 3}, "bad-payload"), ({"text": "x" * 4001}, "too-long")],
)
def test_what_cannot_be_kept_is_refused(tablet, payload, reason) -> None:
    assert tablet.send(tablet.operation("talk", "say", payload))[0]["reason"] == reason
    assert not TalkLine.objects.exists()


def test_a_tap_that_names_what_was_never_heard_is_refused(tablet) -> None:
    for heard in ([str(uuid.uuid4())], ["nothing"], "all"):
        assert tablet.tap("EAR.canal|left", "set_normal", {"heard": heard})["result"] == "refused"
    assert not Finding.objects.exists()


# ---- At the signature


def missing(tablet: Tablet):
    check = next(c for c in sign_checks if c.name == "heard")
    return check.missing(fresh(tablet).record, actor=tablet.actor)


def test_signing_waits_for_what_was_heard(tablet, django_assert_num_queries) -> None:
    say(tablet, EARS)
    record = fresh(tablet).record
    with django_assert_num_queries(1):
        next(c for c in sign_checks if c.name == "heard").missing(record, actor=tablet.actor)
    [one] = missing(tablet)
    assert one.sentence == "2 things heard and not confirmed: ears 2."
    assert one.blocks
    assert one.url.endswith("/exam/#talk")
    for each in told(tablet)["items"]:
        confirm(tablet, each)
    assert missing(tablet) == []


def close(tablet: Tablet) -> None:
    close_talk(record=fresh(tablet).record, now=people.NOW)


def test_words_are_forgotten_at_the_signature(tablet) -> None:
    say(tablet, EARS)
    confirm(tablet, item(tablet, "mild"))
    close(tablet)
    assert not TalkLine.objects.exists()
    assert not HeardItem.objects.exists()
    assert Finding.objects.get().spoken


def test_words_are_kept_where_the_clinic_keeps_them_and_the_owner_agreed(house, tablet) -> None:
    choose_keeping(keeps=True, actor=house.actor("manager"), now=people.NOW)
    say(tablet, EARS)
    close(tablet)
    assert not TalkLine.objects.exists()
    say(tablet, EARS)
    tablet.send(tablet.operation("talk", "talk_agreed", {"agrees": True}))
    close(tablet)
    assert TalkLine.objects.get().text == EARS
    assert forget_talk(record=fresh(tablet).record, actor=tablet.actor) == 1
    assert not TalkLine.objects.exists()


def test_after_the_signature_nothing_is_said_and_words_can_only_be_deleted(tablet) -> None:
    say(tablet, EARS)
    record = fresh(tablet).record
    record.signed_at, record.signed_by, record.signed_name = people.NOW, tablet.actor.staff, "Dr Maren Oduya"
    record.save()
    assert say(tablet, "Nose fine.")["reason"] == "signed"
    line, heard = TalkLine.objects.get(), HeardItem.objects.first()
    for change in (
        lambda: TalkLine.objects.filter(pk=line.pk).update(text="other"),
        lambda: HeardItem.objects.filter(pk=heard.pk).update(reason="other"),
        lambda: TalkLine.objects.create(
            id=uuid.uuid4(), exam=line.exam, record=record, number=9, text="x", by=line.by, entered_by=line.by
        ),
    ):
        with pytest.raises(DatabaseError, match="signed record"), transaction.atomic():
            change()
    assert forget_talk(record=record, actor=tablet.actor) == 1


# ---- Corrections teach


def corrected(tablet: Tablet) -> SpokenForm:
    """A red canal was heard, and brown wax recorded."""
    say(tablet, EARS)
    tablet.send(tablet.operation("talk", "discard_heard", {"item": item(tablet, "mild")["id"]}))
    tablet.tap("EAR.canal|left", "set_abnormal", {"findings": [{"code": "EAR-02"}]})
    close(tablet)
    return SpokenForm.objects.get()


def test_a_correction_is_listed_with_the_words_and_both_readings(tablet) -> None:
    row = corrected(tablet)
    assert (row.kind, row.means, row.state) == ("finding", "EAR-02", "candidate")
    assert "canal" in row.words.lower()
    assert "Erythema" in row.heard_as
    assert "excess wax" in row.recorded_as


def test_nothing_is_learnt_from_what_was_confirmed_as_heard(tablet) -> None:
    say(tablet, EARS)
    for each in told(tablet)["items"]:
        confirm(tablet, each)
    close(tablet)
    assert not SpokenForm.objects.exists()


def test_an_accepted_form_is_heard_and_a_withdrawn_one_no_more(house, tablet) -> None:
    row = corrected(tablet)
    clinician, manager = tablet.actor, house.actor("manager")
    accept_form(
        form_id=row.pk, kind="finding", words="porridge ear", means="EAR-02", actor=clinician, now=people.NOW
    )
    say(tablet, "Right canal porridge ear.")
    assert "Excess wax" in " ".join(i["words"] for i in told(tablet)["items"])
    withdraw_form(form_id=row.pk, actor=manager, now=people.NOW)
    other = exam_here(clinician, people.visit_here(people.patient("Pim"), clinician=clinician.staff))
    say(other, "Right canal porridge ear.")
    assert "Excess wax" not in " ".join(i["words"] for i in told(other)["items"])


@pytest.mark.parametrize(
    ("kind", "typed", "stands"),
    [
        ("finding", "Excess wax (EAR-02)", "EAR-02"),
        ("finding", "EAR-02", "EAR-02"),
        ("structure", "Canal by otoscope (EAR.canal)", "EAR.canal"),
        ("normal", "EAR.canal", "EAR.canal"),
        ("mishearing", "excess wax", "excess wax"),
        ("finding", "porridge", ""),
        ("finding", "EAR.canal", ""),
        ("structure", "EAR-02", ""),
        ("mishearing", "Excess wax (EAR-02)", ""),
    ],
)
def test_accepted_words_mean_something_that_is_heard(tablet, kind, typed, stands) -> None:
    row = corrected(tablet)
    given = {"form_id": row.pk, "kind": kind, "words": "porridge ear", "actor": tablet.actor}
    if stands:
        assert accept_form(**given, means=typed, now=people.NOW).means == stands
        return
    with pytest.raises(FormRefused, match="mean"):
        accept_form(**given, means=typed, now=people.NOW)
    row.refresh_from_db()
    assert row.state == "candidate"


def test_words_with_something_else_between_are_never_heard_so_they_are_not_taken(tablet) -> None:
    row = corrected(tablet)
    assert "…" in row.words
    with pytest.raises(FormRefused, match="one phrase"):
        accept_form(
            form_id=row.pk,
            kind="finding",
            words=row.words,
            means="EAR-02",
            actor=tablet.actor,
            now=people.NOW,
        )


def test_who_may_accept_and_that_it_is_decided_once(house, tablet) -> None:
    row = corrected(tablet)
    given = {"form_id": row.pk, "kind": "finding", "words": "w", "means": "EAR-02", "now": people.NOW}
    with pytest.raises(NotAllowed):
        accept_form(**given, actor=house.actor("manager"))
    with pytest.raises(FormRefused, match="200"):
        accept_form(**{**given, "words": " "}, actor=tablet.actor)
    decline_form(form_id=row.pk, actor=house.actor("manager"), now=people.NOW)
    with pytest.raises(FormRefused, match="already"):
        accept_form(**given, actor=tablet.actor)


# ---- What it asks of the database


def test_as_many_queries_for_much_talk_as_for_little(tablet, client, django_assert_num_queries) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.force_login(tablet.actor.staff)
    url = f"/visits/{tablet.exam.record.visit_id}/exam/talk/"

    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as told:
            assert client.get(url).status_code == 200
        return len(told)

    say(tablet, EARS)
    asked()
    few = asked()
    for _ in range(5):
        say(tablet, "Murmur grade two. Gums pink. Both pinnae normal. Jess says he yelped.")
    assert asked() == few


def test_a_talk_page_of_the_records_asks_as_much_for_many_forms(house, client) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.force_login(house.clinician)

    def asked() -> int:
        with CaptureQueriesContext(connection) as told:
            assert client.get("/records/spoken/").status_code == 200
        return len(told)

    def form(n: int) -> None:
        decided = (
            {"state": "accepted", "decided_by": house.clinician, "decided_at": people.NOW} if n % 2 else {}
        )
        SpokenForm.objects.create(
            kind="finding", words=f"w{n}", means="EAR-02", noted_at=people.NOW, **decided
        )

    for n in range(2):
        form(n)
    asked()
    few = asked()
    for n in range(2, 20):
        form(n)
    assert asked() == few


def test_kept_words_stand_with_the_signed_exam_and_a_clinician_deletes_them(tablet, client) -> None:
    say(tablet, EARS)
    record = fresh(tablet).record
    record.signed_at, record.signed_by, record.signed_name = people.NOW, tablet.actor.staff, "Dr Maren Oduya"
    record.save()
    client.force_login(tablet.actor.staff)
    url = f"/visits/{record.visit_id}/exam/"
    assert EARS in client.get(url).content.decode()
    client.post(f"{url}talk/forget/")
    assert EARS not in client.get(url).content.decode()
