"""The medicine list among the Records: looked at by all, changed by few, nothing typed is lost."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.care.actions.listed import Facts, SaidKinds, change_listed, list_medicine, take_off
from clinic.care.listed_forms import Asked
from clinic.models import IngredientKinds, ListedMedicine
from tests import people
from tests.people import NOW

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=2)
LIST, NEW = "/records/medicines/", "/records/medicines/new/"
CHEWS = Facts("Oakwhistle chews 50", ("carprofen",), "50 mg in a chew", "by mouth", "chews", ("dog",))
TYPED = {
    "name": "Willowmere drops",
    "ingredients": "miconazole, Eyebright",
    "strength": "1 mg and 2 mg in 1 ml",
    "route": "into the eye",
    "unit": "drops",
    "species": ["dog"],
}
EYEBRIGHT = Asked("eyebright", None)


@pytest.fixture
def staff():
    people.clinic_details()
    return people.people()


@pytest.fixture
def chews(staff) -> ListedMedicine:
    return list_medicine(facts=CHEWS, actor=staff.actor("colleague"), now=NOW)


def visitor(staff, role: str = "clinician") -> Client:
    client = Client()
    client.force_login(getattr(staff, role))
    return client


def one(row: ListedMedicine, name: str = "listed-medicine") -> str:
    return reverse(name, args=[row.pk])


def shown(client: Client, url: str) -> dict[str, object]:
    """The form of the page as a browser would send it back."""
    form = client.get(url).context["form"]
    told = {name: form[name].value() for name in form.fields}
    return {name: "" if value is None else value for name, value in told.items()}


def text(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


def test_an_empty_list_says_what_to_do_first(staff):
    assert "Add those you keep" in text(visitor(staff).get(LIST))
    assert "A clinician or the manager adds them" in text(visitor(staff, "technician").get(LIST))


def test_it_is_found_by_name_ingredient_and_kind_and_what_is_off_stands_apart(staff, chews):
    me = {"actor": staff.actor("clinician"), "now": NOW}
    drops = list_medicine(
        facts=Facts("Millrace ear drops", ("miconazole",), "10 mg in 1 ml", "into the ear", "drops"), **me
    )
    take_off(row=drops, seen=1, reason="no longer made", **me)
    client = visitor(staff, "technician")
    whole = text(client.get(LIST))
    assert "taken off 11 March 2026: no longer made" in whole
    assert whole.index("Oakwhistle") < whole.index("Taken off") < whole.index("Millrace")
    for query in ("oakwhistle", "CARPRO", "nsaid chews"):
        found = text(client.get(LIST, {"q": query}))
        assert "Oakwhistle chews 50" in found
        assert "Millrace" not in found
    assert "Nothing with these words" in text(client.get(LIST, {"q": "unheard of"}))


def test_who_may_not_change_it_is_offered_no_way_to(staff, chews):
    page = text(visitor(staff, "technician").get(LIST))
    assert NEW not in page
    assert one(chews) not in page
    for role in ("clinician", "manager"):
        page = text(visitor(staff, role).get(LIST))
        assert NEW in page
        assert one(chews) in page
        assert LIST in text(visitor(staff, role).get("/records/"))


def test_an_ingredient_that_nobody_knows_is_asked_about_and_nothing_typed_is_lost(staff):
    client = visitor(staff)
    sent = TYPED | {"once": uuid4()}
    answer = client.post(NEW, sent)
    assert answer.status_code == 422
    assert "Nobody said yet which kinds Eyebright is of" in text(answer)
    assert "Kinds of miconazole" not in text(answer)
    for typed in ("Willowmere drops", "miconazole, Eyebright", "1 mg and 2 mg in 1 ml", "drops"):
        assert f'value="{typed}"' in text(answer)
    assert client.post(NEW, sent | {EYEBRIGHT.field: ["steroid"], EYEBRIGHT.seen: 0}).status_code == 302
    assert ListedMedicine.objects.get().ingredients == ["miconazole", "Eyebright"]
    assert IngredientKinds.objects.get().kinds == ["steroid"]


def test_what_is_not_known_may_be_left_open_and_is_shown(staff):
    client = visitor(staff)
    client.post(NEW, TYPED | {"once": uuid4(), EYEBRIGHT.field: ["unknown"], EYEBRIGHT.seen: 0})
    assert not IngredientKinds.objects.exists()
    page = text(client.get(LIST))
    assert "no kind known: the guards cannot ask about it" in page
    assert "1 medicine with an ingredient of which no kind is known" in page
    row = ListedMedicine.objects.get()
    assert client.post(one(row), shown(client, one(row)) | {EYEBRIGHT.field: ["none"]}).status_code == 302
    assert IngredientKinds.objects.get().kinds == []
    assert "none of the kinds that are asked about" in text(client.get(LIST))


def test_none_of_these_stands_alone(staff):
    answer = visitor(staff).post(
        NEW, TYPED | {"once": uuid4(), EYEBRIGHT.field: ["none", "nsaid"], EYEBRIGHT.seen: 0}
    )
    assert "stand alone" in text(answer)
    assert not ListedMedicine.objects.exists()


def test_an_ingredient_said_before_is_not_asked_about_again(staff):
    known = {"eyebright": SaidKinds(frozenset({"opioid"}))}
    list_medicine(facts=CHEWS, kinds=known, actor=staff.actor("colleague"), now=NOW)
    assert visitor(staff).post(NEW, TYPED | {"once": uuid4()}).status_code == 302
    assert IngredientKinds.objects.get().kinds == ["opioid"]


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"name": ""}, "required"),
        ({"strength": " "}, "required"),
        ({"ingredients": " , "}, "active ingredients, with commas"),
        ({"ingredients": "x" * 81}, "at most 80 letters"),
        ({"route": "by hope"}, "Select a valid choice"),
        ({"unit": ""}, "required"),
        ({"name": "oakwhistle CHEWS 50"}, "stands on the list already"),
    ],
)
def test_what_is_wrong_stands_beside_what_was_typed(wrong, says, staff, chews):
    sent = TYPED | {"ingredients": "miconazole", "once": uuid4()} | wrong
    answer = visitor(staff).post(NEW, sent)
    assert answer.status_code == 422
    assert says in text(answer)
    for name in ("strength", "unit", "name"):
        if sent[name].strip():
            assert f'value="{sent[name]}"' in text(answer)
    assert ListedMedicine.objects.count() == 1


def test_a_form_sent_twice_counts_once(staff, chews):
    client = visitor(staff)
    sent = TYPED | {"ingredients": "miconazole", "once": uuid4()}
    assert [client.post(NEW, sent).status_code for _ in range(2)] == [302, 302]
    assert ListedMedicine.objects.filter(name=TYPED["name"]).count() == 1
    change = shown(client, one(chews)) | {"strength": "60 mg in a chew"}
    assert [client.post(one(chews), change).status_code for _ in range(2)] == [302, 302]
    off = {"version": 2, "reason": "gone", "once": uuid4()}
    assert [client.post(one(chews, "listed-medicine-off"), off).status_code for _ in range(2)] == [302, 302]
    back = {"version": 3, "once": uuid4()}
    assert [client.post(one(chews, "listed-medicine-back"), back).status_code for _ in range(2)] == [302] * 2
    chews.refresh_from_db()
    assert (chews.version, chews.strength, chews.off_at) == (4, "60 mg in a chew", None)


def test_of_two_at_one_row_the_second_sees_what_the_first_did_and_keeps_what_was_typed(staff, chews):
    client = visitor(staff)
    mine = shown(client, one(chews)) | {"unit": "halves", "route": "on the skin"}
    theirs = Facts("Oakwhistle chews 50", ("carprofen",), "60 mg in a chew", "by mouth", "pieces", ("dog",))
    change_listed(row=chews, seen=1, facts=theirs, actor=staff.actor("colleague"), now=LATER)
    answer = client.post(one(chews), mine)
    page = text(answer)
    assert answer.status_code == 422
    assert "Meanwhile Dr Tobias Falk changed this medicine" in page
    assert "strength: was “50 mg in a chew”, is now “60 mg in a chew”" in page
    assert "counted in: was “chews”, is now “pieces”; you typed “halves”, which stands below" in page
    chews.refresh_from_db()
    assert (chews.unit, chews.route) == ("pieces", "by mouth")
    again = {n: answer.context["form"][n].value() for n in answer.context["form"].fields}
    # untouched by the second: it follows the first, so that sending again does not undo it
    assert (again["strength"], again["unit"], again["route"]) == ("60 mg in a chew", "halves", "on the skin")
    assert client.post(one(chews), again).status_code == 302
    chews.refresh_from_db()
    assert (chews.strength, chews.unit, chews.route) == ("60 mg in a chew", "halves", "on the skin")


def test_taking_off_what_was_changed_meanwhile_shows_it_and_keeps_the_reason(staff, chews):
    other = Facts("Oakwhistle chews 60", ("carprofen",), "60 mg in a chew", "by mouth", "chews", ("dog",))
    change_listed(row=chews, seen=1, facts=other, actor=staff.actor("colleague"), now=LATER)
    client = visitor(staff)
    sent = {"version": 1, "reason": "no longer made", "once": uuid4()}
    answer = client.post(one(chews, "listed-medicine-off"), sent)
    assert answer.status_code == 422
    assert "name: was “Oakwhistle chews 50”, is now “Oakwhistle chews 60”" in text(answer)
    assert 'value="no longer made"' in text(answer)
    client.post(one(chews, "listed-medicine-off"), sent | {"version": 2})
    chews.refresh_from_db()
    assert chews.off_reason == "no longer made"


def test_kinds_said_meanwhile_are_shown_beside_the_ingredient(staff):
    facts = Facts("Old drops", ("eyebright",), "1 mg in 1 ml", "into the eye", "drops")
    list_medicine(facts=facts, actor=staff.actor("manager"), now=NOW)
    client = visitor(staff)
    url = one(ListedMedicine.objects.get())
    mine = shown(client, url) | {EYEBRIGHT.field: ["opioid"]}
    said = {"eyebright": SaidKinds(frozenset({"steroid"}))}
    list_medicine(facts=CHEWS, kinds=said, actor=staff.actor("colleague"), now=NOW)
    answer = client.post(url, mine)
    assert answer.status_code == 422
    assert "Dr Tobias Falk said which kinds eyebright is of. They said: steroid." in text(answer)
    again = {n: answer.context["form"][n].value() for n in answer.context["form"].fields}
    assert again[EYEBRIGHT.field] == ["opioid"]
    assert client.post(url, again).status_code == 302
    assert IngredientKinds.objects.get().kinds == ["opioid"]


def test_left_open_while_a_colleague_says_it_the_colleagues_word_stays(staff):
    facts = Facts("Old drops", ("eyebright",), "1 mg in 1 ml", "into the eye", "drops")
    row = list_medicine(facts=facts, actor=staff.actor("manager"), now=NOW)
    client = visitor(staff)
    mine = shown(client, one(row)) | {"strength": "2 mg in 1 ml"}
    assert mine[EYEBRIGHT.field] == ["unknown"]
    said = {"eyebright": SaidKinds(frozenset({"steroid"}))}
    list_medicine(facts=CHEWS, kinds=said, actor=staff.actor("colleague"), now=NOW)
    assert client.post(one(row), mine).status_code == 302
    assert IngredientKinds.objects.get().kinds == ["steroid"]


def test_the_page_of_one_tells_what_became_of_it(staff, chews):
    me = {"actor": staff.actor("clinician"), "now": LATER}
    take_off(row=chews, seen=1, reason="no longer made", **me)
    page = text(visitor(staff, "manager").get(one(chews)))
    assert "11 March 2026, 12:00</b>, Dr Maren Oduya" in page
    assert "on the list: “yes” → “no: no longer made”" in page
    assert "11 March 2026, 10:00, added</b>, Dr Tobias Falk" in page
    assert "Put it back" in page


def test_the_plan_page_offers_what_is_listed_and_not_what_was_taken_off(staff, chews):
    visit = people.visit_here(clinician=staff.clinician)
    problem = visit.patient.problems.create(title="Sore hip", opened_at=NOW, opened_by=staff.clinician)
    client = visitor(staff)
    plan = f"{reverse('visit-plan', args=[visit.pk])}?do=medicine&problem={problem.pk}"
    assert 'option value="Oakwhistle chews 50" data-ingredients="carprofen"' in text(client.get(plan))
    take_off(row=chews, seen=1, reason="no longer made", actor=staff.actor("clinician"), now=NOW)
    assert "Oakwhistle" not in text(client.get(plan))
    sent = {"once": uuid4(), "name": "oakwhistle chews 50", "how": "dispensed", "dose": "1 chew"}
    sent |= {"route": "by mouth", "times": "once", "reason": "pain"}
    answer = client.post(reverse("plan-medicine", args=[visit.pk, problem.pk]), sent)
    assert answer.status_code == 422
    assert "Taken off the clinic’s list (no longer made): write its active ingredients." in text(answer)


def fill(staff, many: int, mark: str) -> None:
    for number in range(many):
        facts = Facts(f"{mark} {number}", ("carprofen", f"{mark}{number}"), "1 mg in 1 ml", "by mouth", "ml")
        said = {f"{mark}{number}": SaidKinds(frozenset({"nsaid"}))}
        row = list_medicine(facts=facts, kinds=said, actor=staff.actor("clinician"), now=NOW)
        if number % 2:
            take_off(row=row, seen=1, reason="x", actor=staff.actor("clinician"), now=NOW)


def test_the_number_of_questions_does_not_grow_with_the_list(staff, chews):
    visit = people.visit_here(clinician=staff.clinician)
    problem = visit.patient.problems.create(title="Sore hip", opened_at=NOW, opened_by=staff.clinician)
    plan = f"{reverse('visit-plan', args=[visit.pk])}?do=medicine&problem={problem.pk}"
    client, counted = visitor(staff), []
    client.get(LIST)
    for many, mark in ((2, "few"), (18, "many")):
        fill(staff, many, mark)
        for url in (LIST, plan, one(chews), NEW):
            with CaptureQueriesContext(connection) as sql:
                assert client.get(url).status_code == 200
            counted.append(len(sql))
    assert counted[:4] == counted[4:]
