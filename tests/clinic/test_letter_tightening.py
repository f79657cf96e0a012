"""Said once: what stands in short is not said again below, and nothing is lost by it."""

from dataclasses import replace

from clinic.letters.document import Point, Section, Sentence, Text, Tone, sentences
from clinic.letters.tightening import tightened
from tests.clinic.test_letter_document import letter, said


def with_to_do(*texts: str, point: str):
    to_do = Section("to-do", "To do", 25, tuple(Text((said(f"to-do:{n}", t),)) for n, t in enumerate(texts)))
    points = (Point(said("p1"), "T", said("p1:do", point), None),)
    return replace(letter(), points=points, sections=(*letter().sections, to_do))


def to_do(told) -> list[str]:
    return [
        s.text
        for section in told.sections
        if section.name == "to-do"
        for b in section.blocks
        for s in b.sentences
    ]


def test_what_is_to_be_done_stands_once():
    told = tightened(with_to_do("Brush the teeth.", "Keep water out.", point="Brush the teeth."))
    assert to_do(told) == ["Keep water out."]


def test_a_section_of_which_nothing_is_left_goes():
    told = tightened(with_to_do("Brush the teeth.", point="Brush the teeth."))
    assert "to-do" not in {section.name for section in told.sections}


def test_every_text_is_still_there():
    before = with_to_do("Brush the teeth.", "Keep water out.", point="Brush the teeth.")
    assert {s.text for s in sentences(before)} == {s.text for s in sentences(tightened(before))}


def test_the_same_words_elsewhere_stay():
    """Of two medicines with the same directions each keeps its own."""
    twice = Section(
        "medicine", "Medicine", 20, (Text((said("m1", "Once a day."),)), Text((said("m2", "Once a day."),)))
    )
    before = replace(letter(), sections=(twice,))
    assert tightened(before).sections == (twice,)


def test_what_asks_for_a_call_at_once_leaves_no_day_to_wait():
    eats, vomits = said("call-day:eats", "Ludo does not eat."), said("call-day:vomits", "Ludo vomits.")
    for now in ("call-now:unweaned", "call-now:low_sugar"):
        told = replace(letter(), call_within_a_day=(eats, vomits), call_now=(said(now, "Ludo is weak."),))
        assert tightened(told).call_within_a_day == (vomits,)
    assert tightened(replace(told, call_now=())).call_within_a_day == (eats, vomits)


def test_something_gets_worse_yields_to_what_does():
    own, usual = (
        Sentence("call:T:EAR", "What we found today gets worse: left ear.", "the exam"),
        said("call-day:worse", "Something we found today gets worse."),
    )
    both = replace(letter(), call_within_a_day=(own, usual))
    assert tightened(both).call_within_a_day == (own,)
    alone = replace(letter(), call_within_a_day=(usual,))
    assert tightened(alone).call_within_a_day == (usual,)
    assert tightened(replace(alone, tone=Tone.WELL)).call_within_a_day == (usual,)  # a line says otherwise
    assert tightened(replace(alone, tone=Tone.WELL, sections=())).call_within_a_day == ()
