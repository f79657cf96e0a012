"""Check facts of the signed record and of what a letter says (exam-R14 to R17), each with its source."""

from dataclasses import replace

import pytest
from django.template.loader import render_to_string

from clinic.letters.composition import compose
from clinic.letters.document import Tone, from_json, sentences
from clinic.letters.pages import preview_context
from clinic.letters.reading import Reading, reading
from clinic.letters.sheet import letter_html
from clinic.models import Letter, Record
from clinic.platform.registries import sign_checks
from clinic.visits import actions as visits
from exams.sentences import finding_words, for_owner
from exams.state import FindingEntry
from tests import letters
from tests.exams.walkhelp import dog, walk

pytestmark = pytest.mark.django_db


def test_exam_r14_what_is_added_later_keeps_the_original_and_says_who_and_when(monkeypatch) -> None:
    """Source: RCVS Supporting Guidance 13; Texas 22 TAC 573.52; Maryland COMAR 15.14.01.10."""
    monkeypatch.setattr(sign_checks, "_entries", {})  # what a signature needs is tested elsewhere
    case = letters.sore_ear()
    first = case.sign()
    before = first.content
    visits.add_addendum(
        record=case.record,
        text="The swab grew nothing.",
        corrects="ear culture",
        for_owner=True,
        actor=case.actor(),
        now=letters.NOW,
    )
    added = case.record.addenda.get()
    assert (added.by, added.entered_at, added.corrects) == (case.people.clinician, letters.NOW, "ear culture")
    assert Letter.objects.get(pk=first.pk).content == before
    second = from_json(Letter.objects.latest("version").content)
    assert second.signed.version_line.startswith("Corrected copy, 11 March 2026")


def test_exam_r15_what_is_the_staffs_own_is_not_printed() -> None:
    """Source: RCVS Supporting Guidance 13: a letter is built from confirmed findings only."""
    entry = FindingEntry(
        "EAR-02", severity="moderate", note="bites when the left ear is touched", unconfirmed=True
    )
    assert finding_words(walk(), entry) == (
        "excess wax, moderate, not confirmed, bites when the left ear is touched"
    )
    said = for_owner(walk(), dog()["EAR.canal|left"], entry, pet="Pomfret")
    assert said.term == "(excess wax, moderate)"
    assert "bites" not in f"{said.heading} {said.text}"


def test_exam_r16_a_letter_above_grade_eight_lists_its_hard_sentences() -> None:
    """Source: Royal, Sheats, Kedrowicz, Top Companion Anim Med 2018;33:58-61; Kincaid et al. 1975."""
    easy = ["Your dog has a sore ear.", "Give the drops twice a day."]
    hard = "Ceruminous exudate and concurrent erythematous inflammation necessitate otological medication."
    assert (reading(easy).too_hard, reading(easy).hard) == (False, ())
    assert reading([*easy, hard]).hard == (hard,)
    assert reading([*easy, hard, hard]).too_hard
    assert not reading([each.text for each in sentences(letters.sore_ear().letter())]).too_hard


def test_the_preview_warns_of_a_hard_letter() -> None:
    case = letters.sore_ear()
    context = preview_context(case.record, today=letters.TODAY, can_correct=True)
    assert context["reading"].grade <= 8
    shown = render_to_string("letters/preview.html", {**context, "reading": Reading(9.5, ("A hard one.",))})
    assert "school grade 9.5" in shown
    assert "A hard one." in shown


def test_exam_r17_an_emergency_stands_first_with_the_telephone_on_the_first_page() -> None:
    """Source: exam reference, section 7 (common practice)."""
    case = letters.sore_ear()
    Record.objects.filter(pk=case.record.pk).update(urgency="E")
    fresh = Record.objects.select_related("visit__patient").get(pk=case.record.pk)
    document = compose(fresh, today=letters.TODAY)
    assert document.tone is Tone.NOW
    html = letter_html(document)
    order = [html.index(each) for each in ("short-now", " at once, day or night, if:", 'class="part-')]
    assert order == sorted(order), "the box, then whom to call, then every section"
    calm = letter_html(replace(document, tone=Tone.QUIET))
    assert "short-now" in html
    assert "short-now" not in calm
