"""Results as reported, read, struck out, told: Texas 22 TAC 573.52, Maryland COMAR 15.14.01.10, RCVS 13.1."""

import io
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from clinic.care import actions
from clinic.care.actions import Value
from clinic.care.letter_of_tests import test_line as line_of
from clinic.care.result_letter import Telling, compose_result_letter
from clinic.care.results_page import series_of
from clinic.letters.document import from_json, sentences
from clinic.letters.pdf import render
from clinic.letters.sheet import letter_title, mail_body
from clinic.letters.texts import LETTERS
from clinic.models import Letter, Message, ResultFile, ResultInLetter, TestResult
from clinic.people.actions import set_pin
from clinic.people.actor import NotAllowed
from clinic.promises.actions import note_contact
from clinic.visits.actions import sign
from tests import people
from tests.accessible import faults

pytestmark = pytest.mark.django_db

PROFILE = [
    Value("248", "Creatinine", "µmol/l", "70-165"),
    Value("11.2", "Urea", "mmol/l", "5.4-10.7", row="1"),
    Value("4.1", "Potassium", "mmol/l", "3.5-5.8", row="2"),
    Value("1.016", "Urine specific gravity", meaning="low", row="3"),
]
SENTENCE = "The kidneys no longer concentrate the urine well."


@pytest.fixture
def staff():
    people.clinic_details()
    return people.people()


@pytest.fixture
def me(staff):
    return {"actor": staff.actor("clinician"), "now": people.NOW}


@pytest.fixture
def visit(staff):
    visit = people.visit_here(clinician=staff.clinician, kind="telephone")
    record = visit.record
    record.no_weight_reason = record.no_bcs_reason = "by telephone"
    record.save()
    return visit


@pytest.fixture
def blood(visit, me, staff):
    """Sent out, awaited by a day."""
    problem = actions.open_problem(patient=visit.patient, visit=visit, title="Drinks more", **me)
    return actions.send_out(
        record=visit.record,
        problem=problem,
        title="Blood and urine profile",
        laboratory="Fenwater laboratory",
        answerable=staff.clinician,
        due_on=people.TODAY + timedelta(days=3),
        **me,
    )


def later(me, days=2):
    return me | {"now": people.NOW + timedelta(days=days)}


def resulted(blood, me, staff):
    """Two days later, entered by a technician and read."""
    technician = later(me) | {"actor": staff.actor("technician")}
    made = actions.enter_results(test=blood, values=PROFILE, **technician)
    actions.read_results(test=blood, for_owner=SENTENCE, **later(me))
    return made


def test_a_value_keeps_its_words_and_its_numbers(blood, me):
    (made, *_) = actions.enter_results(test=blood, values=PROFILE, **me)
    assert (made.value, made.unit, made.interval) == ("248", "µmol/l", "70-165")
    assert (made.number, made.low, made.high) == (Decimal(248), Decimal(70), Decimal(165))
    assert [each.meaning for each in blood.results.order_by("pk")] == ["high", "high", "inside", "low"]


def test_a_few_values_stand_beside_what_is_usual(blood, me):
    actions.enter_results(test=blood, values=PROFILE[1:], **me)
    label = line_of(blood, LETTERS("en"), many=3).label.text
    assert label.replace("\N{NO-BREAK SPACE}", " ") == (
        "Blood and urine profile: Urea 11.2 mmol/l (above 5.4-10.7); "
        "Potassium 4.1 mmol/l (usual: 3.5-5.8); Urine specific gravity 1.016 (low)."
    )


def test_what_contradicts_the_interval_is_refused_at_its_line(blood, me):
    with pytest.raises(actions.MeaningDiffers, match="lies above 70-165") as refused:
        actions.enter_results(
            test=blood, values=[PROFILE[1], Value("248", interval="70-165", meaning="inside", row="1")], **me
        )
    assert refused.value.field == "meaning1"
    assert not TestResult.objects.exists()


def test_without_an_interval_somebody_says_whether_it_is_as_usual(blood, me):
    with pytest.raises(actions.TextMissing) as refused:
        actions.enter_results(test=blood, values=[Value("no growth", row="2")], **me)
    assert refused.value.field == "meaning2"


def test_a_technicians_result_waits_for_a_clinician(blood, me, staff):
    technician = me | {"actor": staff.actor("technician")}
    actions.enter_results(test=blood, values=PROFILE, for_owner=SENTENCE, **technician)
    assert not blood.results.exclude(read_at=None).exists()
    with pytest.raises(NotAllowed):
        actions.read_results(test=blood, for_owner=SENTENCE, **technician)
    with pytest.raises(actions.OwnerSentenceMissing):
        actions.read_results(test=blood, for_owner=" ", **me)
    assert actions.read_results(test=blood, for_owner=SENTENCE, **me) == 4
    assert actions.read_results(test=blood, for_owner="something else", **me) == 0


@pytest.mark.parametrize(
    "wrong",
    [
        {"value": ""},
        {"meaning": "fine"},
        {"low": 5, "high": 4},
        {"struck_at": people.NOW, "struck_reason": ""},
    ],
)
def test_the_database_refuses(wrong, blood, staff):
    whole = {"test": blood, "value": "1", "meaning": "inside", "resulted_at": people.NOW}
    with pytest.raises(IntegrityError), transaction.atomic():
        TestResult.objects.create(**(whole | wrong), entered_by=staff.clinician)


def test_before_the_signature_there_is_no_result_letter(blood, visit, me, staff):
    resulted(blood, me, staff)
    with pytest.raises(actions.StillOpen):
        actions.release_result_letter(record=visit.record, **me)


@pytest.fixture
def told(blood, visit, me, staff) -> Letter:
    """Signed, resulted two days later, told by a letter of its own."""
    sign(record=visit.record, **me)
    resulted(blood, me, staff)
    return actions.release_result_letter(
        record=visit.record, next_words="Please come on Friday to talk about it.", **later(me)
    )


def words_of(letter: Letter) -> str:
    return " ".join(each.text for each in sentences(from_json(letter.content)))


def test_a_result_after_the_visit_makes_a_letter_of_its_own(told, blood, visit):
    assert (told.kind, told.number, told.version) == ("result", 1, 1)
    text = words_of(told)
    for part in (SENTENCE, "Creatinine", "248 µmol/l", "70-165", "Please come on Friday to talk about it."):
        assert part in text
    assert "3 of 4 values are not as usual" in text
    document = from_json(told.content)
    assert letter_title(document).startswith("Pomfret’s test result, ")
    assert SENTENCE in mail_body(document)
    assert "Creatinine" in mail_body(document)
    assert Message.objects.get(letter=told).state == "waiting"
    assert ResultInLetter.objects.filter(letter=told).count() == 4


def test_where_insulin_is_given_it_says_what_low_sugar_looks_like(told, visit, blood, me, staff):
    assert "sugar" not in told.content["call_now"][0]["text"]
    given = {"code": "insulin_diabetes", "since": me["now"].date()}
    visit.patient.conditions.create(entered_by=staff.clinician, entered_at=me["now"], **given)
    again = compose_result_letter(visit.record, Telling((blood,)), now=me["now"])
    assert [each.key for each in again.call_now][:2] == ["call-now:low_sugar", "call-now:breath"]


def test_it_fulfils_the_promise_to_tell_the_owner(told, blood):
    step = blood.plan_line.progress.get()
    assert step.standing == "done"
    assert step.note.startswith("owner told by a result letter")


def test_it_is_told_once(told, visit, me):
    with pytest.raises(actions.NothingToTell):
        actions.release_result_letter(record=visit.record, **later(me, 3))


def test_nothing_unread_leaves(blood, visit, me, staff):
    sign(record=visit.record, **me)
    technician = later(me) | {"actor": staff.actor("technician")}
    actions.enter_results(test=blood, values=PROFILE, **technician)
    with pytest.raises(actions.NotRead):
        actions.release_result_letter(record=visit.record, **later(me))
    with pytest.raises(NotAllowed):  # Maryland COMAR 15.14.13.13: a veterinarian releases it
        actions.release_result_letter(record=visit.record, **technician)


def test_a_result_letter_is_pdf_ua(told):
    made = render(from_json(told.content))
    assert faults(made.content) == []
    assert made.pages <= 2


def test_a_struck_value_that_was_told_is_told_anew(told, visit, me):
    wrong = TestResult.objects.get(analyte="Creatinine")
    with pytest.raises(actions.OwnerSentenceMissing):
        actions.strike_result(
            result=wrong, reason="another cat’s", instead=Value("98", meaning="inside"), **later(me, 3)
        )
    assert TestResult.objects.filter(struck_at=None).count() == 4
    instead = Value("148", "Creatinine", "µmol/l", "70-165", for_owner="Only the urine is unusual.")
    actions.strike_result(result=wrong, reason="misread", instead=instead, **later(me, 3))
    newest = Letter.objects.filter(kind="result").order_by("-version").first()
    assert (newest.number, newest.version) == (1, 2)
    text = words_of(newest)
    assert "We told you: Blood and urine profile, Creatinine 248 µmol/l. That was wrong: misread." in text
    assert "148 µmol/l" in text
    assert "Please come on Friday" in text
    assert "put right: misread" in from_json(newest.content).signed.version_line
    wrong.refresh_from_db()
    assert wrong.struck_reason == "misread"
    assert wrong.corrected_by.value == "148"
    with pytest.raises(actions.ResultStruck):
        actions.strike_result(result=wrong, reason="again", **later(me, 4))


def test_a_struck_value_of_the_visits_letter_makes_its_next_version(blood, visit, me, staff):
    actions.enter_results(test=blood, values=PROFILE, for_owner=SENTENCE, **me)
    sign(record=visit.record, **me)
    wrong = TestResult.objects.get(analyte="Creatinine")
    actions.strike_result(result=wrong, reason="misread", **later(me))
    newest = Letter.objects.filter(record=visit.record, kind="visit").order_by("-version").first()
    assert newest.version == 2
    assert "248" not in " ".join(
        each.text for each in sentences(from_json(newest.content)) if each.key.startswith("test:")
    )
    assert "struck out: misread" in visit.record.addenda.get().text


def test_striking_what_was_told_is_a_clinicians(told, me, staff):
    wrong = TestResult.objects.get(analyte="Creatinine")
    with pytest.raises(NotAllowed):
        actions.strike_result(
            result=wrong, reason="misread", **(later(me, 3) | {"actor": staff.actor("technician")})
        )


def test_values_of_another_unit_are_a_series_of_their_own(blood, me):
    for days, value, unit in ((0, "148", "µmol/l"), (1, "248", "µmol/l"), (2, "2.8", "mg/dl")):
        actions.enter_results(
            test=blood, values=[Value(value, "Creatinine", unit, meaning="unclear")], **later(me, days)
        )
    (only,) = series_of(list(TestResult.objects.all()))
    assert (only.title, only.unit, [row.value for row in only.rows]) == (
        "Creatinine",
        "µmol/l",
        ["248 µmol/l", "148 µmol/l"],
    )
    assert only.picture is not None


# --- pages


@pytest.fixture
def clinician(client, staff):
    client.force_login(staff.clinician)
    return client


def test_the_form_takes_several_values_and_the_laboratorys_file(clinician, visit, blood):
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), "white").save(picture, "PNG")
    answer = clinician.post(
        reverse("plan-result", args=[visit.pk, blood.pk]),
        {
            "once": uuid4(),
            "analyte": "Creatinine",
            "value": "248",
            "unit": "µmol/l",
            "interval": "70-165",
            "analyte4": "Urea",
            "value4": "7,1",
            "interval4": "5.4-10.7",
            "report": io.BytesIO(picture.getvalue()),
        },
    )
    assert answer.status_code == 302
    assert list(blood.results.order_by("pk").values_list("value", "meaning")) == [
        ("248", "high"),
        ("7,1", "inside"),
    ]
    file = ResultFile.objects.get()
    shown = clinician.get(reverse("result-file", args=[visit.patient_id, file.pk]))
    assert shown["Content-Type"] == "image/jpeg"
    assert shown.content[:3] == b"\xff\xd8\xff"


def test_a_file_that_is_none_leaves_no_values_and_what_was_typed(clinician, visit, blood):
    typed = {"once": uuid4(), "value": "248", "interval": "70-165"}
    answer = clinician.post(
        reverse("plan-result", args=[visit.pk, blood.pk]), typed | {"report": io.BytesIO(b"MZ no picture")}
    )
    assert answer.status_code == 422
    assert "A report is a PDF or a picture" in answer.content.decode()
    assert 'value="248"' in answer.content.decode()
    assert not blood.results.exists()


def test_a_pdf_is_kept_byte_for_byte_and_never_shown_by_this_house(clinician, visit, blood, me):
    content = b"%PDF-1.4\nof a laboratory"
    file = actions.add_report(test=blood, content=content, name='..\\up/"re\nport".pdf', **me)
    shown = clinician.get(reverse("result-file", args=[visit.patient_id, file.pk]))
    assert shown.content == content
    assert shown["Content-Disposition"].startswith("attachment; ")
    assert "\n" not in shown["Content-Disposition"]
    assert actions.add_report(test=blood, content=content, name="again.pdf", **me) == file
    listed = clinician.get(reverse("patient-results", args=[visit.patient_id])).content.decode()
    assert shown.request["PATH_INFO"] in listed
    answer = clinician.post(
        reverse("report-strike", args=[visit.patient_id, file.pk]),
        {"once": uuid4(), "reason": "of a neighbour"},
    )
    assert answer.status_code == 302
    listed = clinician.get(reverse("patient-results", args=[visit.patient_id])).content.decode()
    assert shown.request["PATH_INFO"] not in listed


def test_the_letters_page_asks_for_the_pin(clinician, visit, blood, me, staff):
    set_pin(staff=staff.clinician, pin=people.PIN, now=people.NOW)
    sign(record=visit.record, **me)
    resulted(blood, me, staff)
    url = reverse("visit-result-letter", args=[visit.pk])
    assert SENTENCE in clinician.get(url).content.decode()
    looked = clinician.post(url, {"once": uuid4(), "next_words": "Come on Friday.", "look": "1"})
    assert looked.status_code == 200
    assert "Come on Friday." in looked.content.decode().split("Say what happens")[0]
    wrong = clinician.post(url, {"once": uuid4(), "next_words": "Come on Friday.", "secret": "9999"})
    assert wrong.status_code == 422
    assert "not your PIN" in wrong.content.decode()
    assert not Letter.objects.filter(kind="result").exists()
    once = uuid4()
    for _ in range(2):
        clinician.post(url, {"once": once, "next_words": "Come on Friday.", "secret": people.PIN})
    assert Letter.objects.filter(kind="result").count() == 1


def test_a_call_says_that_the_owner_knows(clinician, visit, blood, me, staff):
    sign(record=visit.record, **me)
    resulted(blood, me, staff)
    plan = reverse("visit-plan", args=[visit.pk])
    assert "the owner was told" in clinician.get(plan).content.decode()
    note_contact(
        patient=visit.patient,
        kind="call",
        with_whom="Henrike Dovale",
        text="Told them of the kidneys",
        test=blood,
        owner_told=True,
        **later(me),
    )
    text = clinician.get(plan).content.decode()
    assert "the owner was told" not in text
    assert "told: telephone call with Henrike Dovale" in text


def test_the_page_of_results_asks_equally_often(clinician, visit, blood, me, staff):
    counted = []
    for many in (2, 12):
        for number in range(many):
            actions.enter_results(
                test=blood, values=PROFILE, **later(me, number) | {"actor": staff.actor("technician")}
            )
            actions.order_test(record=visit.record, kind="x", title=f"Test {number}", **me)
        with CaptureQueriesContext(connection) as asked:
            page = clinician.get(reverse("patient-results", args=[visit.patient_id]))
        counted.append(len(asked))
    assert counted[0] == counted[1]
    assert "Creatinine from " in page.content.decode()


def test_a_day_before_the_test_is_refused_beside_its_field(clinician, visit, blood):
    day = timezone.localdate(blood.ordered_at) - timedelta(days=1)
    answer = clinician.post(
        reverse("plan-result", args=[visit.pk, blood.pk]),
        {"once": uuid4(), "value": "1", "meaning": "inside", "resulted_on": day.isoformat()},
    )
    assert answer.status_code == 422
    assert "before the test was ordered" in answer.content.decode()
