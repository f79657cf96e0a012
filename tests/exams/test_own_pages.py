"""Records, The walk; and each person's own order: what the pages show, ask for and keep."""

from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.models import Staff
from exams.own_actions import approve, propose
from exams.own_models import WalkEdition, WalkProposal
from exams.versions import composed, published
from tests import people
from tests.house import OWN_FINDING, house

pytestmark = pytest.mark.django_db


@pytest.fixture
def place():
    return house()


def client_of(staff: Staff) -> Client:
    client = Client()
    client.force_login(staff)
    return client


@pytest.fixture
def clinician(place) -> Client:
    return client_of(place.people.clinician)


def words(answer) -> str:
    return answer.content.decode()


def sent(**more):
    return {"once": str(uuid4()), **more}


FORM = {k: v for k, v in OWN_FINDING.items() if k not in ("kind", "code", "spoken")} | {
    "spoken": "grass seed"
}


def test_a_clinician_finds_the_walk_among_the_records(clinician) -> None:
    assert "The walk" in words(clinician.get("/records/"))
    assert "Staff" not in words(clinician.get("/records/")).split("<main", 1)[1]


def test_a_line_asked_for_and_approved_stands_marked_with_what_was_published(clinician) -> None:
    ask = {"do": "asked", "asked-once": str(uuid4()), "asked-asked": "every", "asked-why": "older dogs"}
    answer = clinician.post("/records/walk/lines/EYE.pressure/", ask, follow=True)
    assert "Before and after" in words(answer)
    proposal = WalkProposal.objects.get()
    clinician.post(f"/records/walk/proposals/{proposal.pk}/approve/")
    page = words(clinician.get("/records/walk/?at=EYE"))
    assert "measured, every exam; published: measured, on indication" in page
    assert composed().structure["EYE.pressure"].asked == "every"


def test_a_why_is_asked_for_at_its_field(clinician) -> None:
    ask = {"do": "asked", "asked-once": str(uuid4()), "asked-asked": "every", "asked-why": ""}
    answer = clinician.post("/records/walk/lines/EYE.pressure/", ask)
    assert answer.status_code == 422
    assert "Say why." in words(answer)
    assert not WalkProposal.objects.exists()


def codes_of(answer) -> list[str]:
    return [f.code for f in answer.context["page"].findings]


def test_a_button_moves_a_finding_and_keeps_nothing_until_it_is_asked_for(clinician) -> None:
    url = "/records/walk/lines/EAR.canal/"
    usual = codes_of(clinician.get(url))
    moved = clinician.post(url, {"order": usual, "move": f"{usual[2]}:up", "first-why": "so it is here"})
    assert codes_of(moved) == [usual[0], usual[2], usual[1], *usual[3:]]
    assert "so it is here" in words(moved)
    assert not WalkProposal.objects.exists()
    order = {
        "do": "first",
        "order": codes_of(moved),
        "first-once": str(uuid4()),
        "first-why": "so it is here",
    }
    clinician.post(url, order)
    clinician.post(f"/records/walk/proposals/{WalkProposal.objects.get().pk}/approve/")
    assert codes_of(clinician.get(url)) == codes_of(moved)


def test_a_finding_of_our_own_from_form_to_page(clinician) -> None:
    answer = clinician.post(
        "/records/walk/findings/new/?at=EAR.canal", sent(do="change", why="seen", **FORM), follow=True
    )
    told = words(answer)
    assert "Grass awn in sight" in told
    assert "A grass seed sits in Pomfret&#x27;s ear." in told or "A grass seed sits in Pomfret’s ear." in told
    clinician.post(f"/records/walk/proposals/{WalkProposal.objects.get().pk}/approve/")
    assert "our own" in words(clinician.get("/records/walk/lines/EAR.canal/"))
    retire = {"do": "retire", "retire-once": str(uuid4()), "retire-why": "never used"}
    clinician.post("/records/walk/findings/own-1/", retire)
    clinician.post(f"/records/walk/proposals/{WalkProposal.objects.first().pk}/approve/")
    assert "Ask to offer it again" in words(clinician.get("/records/walk/findings/own-1/"))


def test_the_owners_sentence_is_refused_at_its_field(clinician) -> None:
    wrong = {**FORM, "owner_line": "it may die"}
    answer = clinician.post(
        "/records/walk/findings/new/?at=EAR.canal", sent(do="change", why="seen", **wrong)
    )
    assert answer.status_code == 422
    assert answer.context["form"].errors["owner_line"]


def test_the_search_finds_names_codes_and_owners_sentences(clinician, place) -> None:
    assert place.own_finding
    for query in ("grass awn", "own-1", "grass seed", "EAR.canal"):
        page = clinician.get("/records/walk/", {"q": query}).context["page"]
        assert "EAR.canal" in [row.code for block in page.blocks for row in block.lines], query
    assert "Nothing of that name" in words(clinician.get("/records/walk/?q=xyzzy"))


def test_a_manager_asks_and_is_told_that_a_clinician_decides(place) -> None:
    manager = client_of(place.people.manager)
    url = f"/records/walk/proposals/{place.walk_proposal.pk}/"
    assert "Approve it" not in words(manager.get(url))
    assert manager.post(f"{url}approve/").status_code == 403
    manager.post(f"{url}decline/")
    assert WalkProposal.objects.get().state == "withdrawn"


def test_a_no_without_a_reason_changes_nothing(clinician, place) -> None:
    url = f"/records/walk/proposals/{place.walk_proposal.pk}/"
    assert "Say why. Nothing was changed." in words(clinician.post(f"{url}decline/", follow=True))
    clinician.post(f"{url}decline/", {"why": "not for us"})
    assert "not for us" in words(clinician.get(url))


def test_back_to_the_published_walk_is_asked_for_too(clinician, place) -> None:
    assert place.own_finding
    answer = clinician.post("/records/walk/undo/", sent(why="too many"), follow=True)
    assert "our own, offered no longer" in words(answer)


def test_the_editions_say_who_when_and_why(clinician, place) -> None:
    assert "None yet" in words(clinician.get("/records/walk/editions/"))
    assert place.own_finding
    page = words(clinician.get("/records/walk/editions/"))
    for told in ("often seen here", "Ottoline Pryce", "Dr Maren Oduya", "11 March 2026"):
        assert told in page
    assert WalkEdition.objects.get().version_id[:12] in page


def queries(client: Client, url: str) -> int:
    with CaptureQueriesContext(connection) as sql:
        assert client.get(url).status_code == 200
    return len(sql)


@pytest.mark.parametrize(
    "url", ["/records/walk/", "/records/walk/editions/", "/records/walk/lines/EAR.canal/"]
)
def test_many_editions_and_proposals_cost_no_more_queries(clinician, place, url) -> None:
    def more(n):
        for i in range(n):
            name = f"Grass awn {WalkProposal.objects.count()} {i}"
            change = {**OWN_FINDING, "name": name}
            asked = propose(change=change, why="x", once=uuid4(), actor=place._at("manager"), now=people.NOW)
            approve(proposal=asked, actor=place._at("clinician"), now=people.NOW)
            change = {**OWN_FINDING, "name": f"Waiting {name}"}
            propose(change=change, why="x", once=uuid4(), actor=place._at("manager"), now=people.NOW)

    more(2)
    queries(clinician, url)
    two = queries(clinician, url)
    more(8)
    queries(clinician, url)
    assert queries(clinician, url) == two


# ---- One's own order


PUBLISHED = [s.code for s in published().stations]
MINE = ["EAR", *[c for c in PUBLISHED if c != "EAR"]]


def test_a_person_walks_in_their_own_order_and_a_colleague_in_theirs(clinician, place) -> None:
    visit = place.own.visit
    exam = f"/visits/{visit.pk}/exam/"
    assert clinician.post("/me/walk/", {"order": MINE, "next": exam}).headers["Location"] == exam
    page = clinician.get(exam).context["page"]
    assert [s.code for s in page.stations] == MINE
    assert list(page.data["order"]) == MINE
    theirs = client_of(place.people.colleague).get(exam).context["page"]
    assert [s.code for s in theirs.stations] == PUBLISHED


def test_a_button_moves_a_station_and_keeps_nothing_yet(clinician, place) -> None:
    answer = clinician.post("/me/walk/", {"order": PUBLISHED, "move": f"{PUBLISHED[1]}:up"})
    assert [code for code, *_ in answer.context["rows"]][:2] == [PUBLISHED[1], PUBLISHED[0]]
    place.people.clinician.refresh_from_db()
    assert place.people.clinician.station_order == []


def test_the_published_order_comes_back(clinician, place) -> None:
    clinician.post("/me/walk/", {"order": MINE})
    clinician.post("/me/walk/", {"order": MINE, "do": "published"})
    place.people.clinician.refresh_from_db()
    assert place.people.clinician.station_order == []


@pytest.mark.parametrize("order", [[], PUBLISHED[1:], [*PUBLISHED, "EAR"], [*PUBLISHED[1:], "XXX"]])
def test_an_order_that_leaves_a_station_out_is_refused(clinician, order) -> None:
    answer = clinician.post("/me/walk/", {"order": order})
    assert answer.status_code == 422
    assert "names every station once" in words(answer)


def test_it_leads_back_to_our_own_pages_only(clinician) -> None:
    answer = clinician.post("/me/walk/", {"order": MINE, "next": "https://elsewhere.example/"})
    assert answer.headers["Location"] == "/me/walk/"


def test_it_is_reached_from_the_exam_and_from_ones_own_page(clinician, place) -> None:
    assert "My order of the walk" in words(clinician.get("/me/"))
    assert f"/me/walk/?next=/visits/{place.own.visit.pk}/exam/" in words(
        clinician.get(f"/visits/{place.own.visit.pk}/exam/")
    )
