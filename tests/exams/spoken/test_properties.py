"""What holds for any text: nothing normal without its words, less said is never more normal, talk changes nothing."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exams.spoken import About, Heard, hear
from exams.spoken.borders import misplaced
from exams.spoken.making import OWN_NAME
from exams.spoken.normalise import normalise
from exams.spoken.shapes import NORMAL, PARTIAL, STATES
from exams.spoken.terms import terms_of
from exams.spoken.tokens import tokens_of
from exams.spoken.vocabulary import Vocabulary
from tests.exams.spoken.scoring import GIVEN, MORE, about, gold, language_of, names, text, vocabulary, walk

DOG = About("dog", "male-neutered", 60)
SIDE = re.compile(r"\b(left|right|izquierd[oa]|derech[oa]|front|hind|fore|o[ds])\b")
CASES = [pytest.param(GIVEN, name, id=name) for name in names(GIVEN)] + [
    pytest.param(MORE, name, id=name, marks=pytest.mark.long) for name in names(MORE)
]
TALK = [
    "Good girl.", "Who's a handsome boy then?", "Pass me the otoscope please.", "The phone's ringing.",
    "Hold his head for me.", "Is it raining again?", "Shh, nearly done.", "My own cat has the same lump.",
    "Your other dog was the one with fleas.", "Did you remember the stool sample?", "Watch your fingers.",
    "He's been drinking loads at home.", "Any vomiting or diarrhea?", "We'll check the anal glands in a minute.",
]  # fmt: skip
# statements that stand by themselves, one station each
STATEMENTS = [
    "Both corneas are clear.", "Ears clean.", "Left ear canal red.", "Gums pink.", "Belly soft.", "No murmur.",
    "Lungs clear on both sides.", "Kneecaps stay in.", "Right hip sore on extension.", "Coat glossy.", "No ticks.",
    "Teeth clean.", "Spleen smooth.", "Bladder small and soft.", "Submandibulars small and soft.",
    "Hips not done, he will not lie on his back.", "Heart rate ninety-two.", "Anal sacs empty.", "Tail moves freely.",
    "Nuclear sclerosis in both lenses.", "Weight twelve point four kilos.", "No discharge from the nose.",
]  # fmt: skip
WORDS = [
    "left", "right", "both", "no", "not", "and", "but", "the", "ear", "ears", "canal", "eyes", "cornea", "clear",
    "clean", "red", "normal", "fine", "murmur", "grade", "two", "oh", "point", "kilos", "kneecap", "same", "other",
    "side", "sorry", "maybe", "skipped", "belly", "soft", "lungs", "one", "hundred", "nails", "front", "hind", ".",
    ",", "?", ":", "plan", "owner says", "last year", "by", "millimetres", "teeth", "three oh four", "none", "lump",
    "nothing", "all good", "actually", "as far as i can hear", "milligrams", "palpebral", "zxqv",
]  # fmt: skip


def one_line(structure: str) -> str:
    """A look that is listed at two stations is one: either may be the one that is heard."""
    return walk().structure[structure].twin or structure


def normals(heard: Heard) -> set[tuple[str, str]]:
    return {(one_line(p.structure), p.side) for p in heard.proposals if p.state == NORMAL}


def by_name(heard: Heard) -> set[tuple[str, str]]:
    return {(one_line(p.structure), p.side) for p in heard.proposals if p.reason == OWN_NAME}


def fine_by_gold(record: Any) -> set[tuple[str, str]]:
    """What the narration itself says to be normal, whether its whole is understood or not."""
    code = {(x.station, x.name): key for key, x in walk().structure.items()}
    fine = [f for f in record["findings"] if f["state"] == "normal" and not f.get("partial")]
    return {(one_line(code[f["station"], f["structure"]]), f["side"]) for f in fine}


def breathless(said: str, v: Vocabulary) -> bool:
    """Its full stops stand where somebody drew breath."""
    return misplaced(terms_of(normalise(tokens_of(said), v), v), v)


def spoken_of(heard: Heard) -> set[str]:
    return {one_line(p.structure) for p in heard.proposals if p.state != NORMAL}


def check(heard: Heard, said: str) -> None:
    """Shapes, and words behind everything."""
    lines = walk().structure
    for p in heard.proposals:
        assert p.state in STATES
        assert p.structure in lines
        assert p.spans, p
        for span in p.spans:
            assert 0 <= span.start < span.end <= len(said)
            assert said[span.start : span.end].strip()
        assert 0 < p.confidence <= 1
        assert p.reason
        assert bool(p.codes or p.one_of) == (p.state == "abnormal")
        if p.state in (NORMAL, PARTIAL):
            words = " ".join(said[s.start : s.end] for s in p.spans)
            assert re.search(r"[^\W\d_]", words), p
    for m in heard.measurements:
        assert m.spans
        assert float(m.value.lstrip("<>")) >= 0
    for line in (*heard.heads_ups, *heard.plan):
        assert line.words == said[line.spans[0].start : line.spans[0].end]


@given(st.text(max_size=300))
def test_any_text_at_all_is_heard_without_an_error(said: str) -> None:
    check(hear(said, DOG, vocabulary()), said)


@given(st.lists(st.sampled_from(WORDS), max_size=60).map(" ".join))
def test_any_words_of_the_trade_in_any_order(said: str) -> None:
    heard = hear(said, DOG, vocabulary())
    check(heard, said)
    assert heard == hear(said, DOG, vocabulary())


@given(st.lists(st.sampled_from(WORDS), max_size=40).map(" ".join))
def test_a_normal_stands_on_words_that_name_its_line_or_a_group_of_it(said: str) -> None:
    """The words behind a normal, heard alone, name its station: a noun, a phrase or a trait with a home there."""
    from exams.spoken.normalise import normalise
    from exams.spoken.terms import terms_of
    from exams.spoken.tokens import tokens_of

    v = vocabulary()
    terms = terms_of(normalise(tokens_of(said), v), v)
    for p in hear(said, DOG, v).proposals:
        if p.state not in (NORMAL, PARTIAL):
            continue
        last = max(s.end for s in p.spans)
        behind = [t for t in terms if t.end <= last]
        lines = {
            x
            for t in behind
            for s in t.senses
            for x in (
                (*v.nouns[s.key].normal, *v.nouns[s.key].scope, *(v.nouns[s.key].fore or ()),
                 *(v.nouns[s.key].hind or ()), *(v.nouns[s.key].unfelt or ()), *(v.nouns[s.key].scoped or ()),
                 *v.nouns[s.key].neuro, *v.nouns[s.key].to_tail, *v.nouns[s.key].also)
                if s.kind == "noun"
                else s.key.split() if s.kind == "says" else v.home.get(s.key, ())
            )
        }  # fmt: skip
        lines |= {"MTH.teeth"} if any(t.number and t.number.tooth() for t in behind) else set()
        gait = {"GEN.gait", "FLB.gait", "HLB.gait"}
        neck = {"NEK.up", "NEK.down", "NEK.side"}
        assert p.structure in lines or (p.structure in gait and lines & gait) or (
            p.structure in neck and lines & neck
        ), (p, said)  # fmt: skip


@pytest.mark.parametrize(("folder", "name"), CASES)
def test_leaving_a_sentence_out_adds_no_normal(folder: Path, name: str, long_run: bool) -> None:
    """Of every narration, each sentence in turn (every third in a short run). A line of which the left out sentence
    says something else may become what the rest says of it; no line that nobody spoke of becomes normal. Where the
    left out sentence names a side or a limb, what comes next goes on with the one named before ("Right hind. Hock
    fine."): then nothing becomes normal but what was normal of another side, or is named by its own name. What its gold
    calls normal may be understood only now. Texts whose full stops stand at every breath have no sentences to leave
    out."""
    record = gold(folder, name)
    language = language_of(name, record)
    who, v, said = about(record, language), vocabulary(language), text(folder, name)
    if breathless(said, v):
        pytest.skip("its full stops end no sentences")
    whole = hear(said, who, v)
    sentences = [s for s in re.split(r"(?<=[.?!])\s+", said) if s]
    for i in range(0, len(sentences), 1 if long_run else 3):
        rest = " ".join(sentences[:i] + sentences[i + 1 :])
        less = hear(rest, who, v)
        added = {n for n in normals(less) - normals(whole) if n[0] not in spoken_of(whole)}
        if v.language.sided.search(sentences[i].lower()) or SIDE.search(sentences[i].lower()):
            added -= by_name(less)
            added = {n for n in added if n[0] not in {line for line, _ in normals(whole)}}
        assert not added - fine_by_gold(record), (sentences[i], added)


@given(st.lists(st.sampled_from(STATEMENTS), max_size=12, unique=True), st.data())
def test_fewer_statements_are_never_more_normal(said: list[str], data: st.DataObject) -> None:
    whole = normals(hear(" ".join(said), DOG, vocabulary()))
    kept = [s for s in said if data.draw(st.booleans())]
    assert normals(hear(" ".join(kept), DOG, vocabulary())) <= whole


@given(st.permutations(STATEMENTS))
def test_the_order_of_stations_does_not_matter(said: list[str]) -> None:
    def told(heard: Heard) -> set[object]:
        return {(p.structure, p.side, p.state, p.codes, p.severity, p.note) for p in heard.proposals} | {
            (m.what, m.value, m.unit) for m in heard.measurements
        }

    first = told(hear(" ".join(STATEMENTS), DOG, vocabulary()))
    assert told(hear(" ".join(said), DOG, vocabulary())) == first


@given(st.lists(st.sampled_from(STATEMENTS), min_size=1, max_size=10, unique=True), st.data())
def test_small_talk_between_changes_nothing(said: list[str], data: st.DataObject) -> None:
    def told(heard: Heard) -> list[object]:
        return [(p.structure, p.side, p.state, p.codes) for p in heard.proposals] + [
            (m.what, m.value) for m in heard.measurements
        ]

    mixed: list[str] = []
    for statement in said:
        mixed += data.draw(st.lists(st.sampled_from(TALK), max_size=2))
        mixed.append(statement)
    assert told(hear(" ".join(mixed), DOG, vocabulary())) == told(hear(" ".join(said), DOG, vocabulary()))


@given(
    st.sampled_from(["meloxicam", "amoxicillin", "prednisolone", "the drops", "insulin", "pimobendan"]),
    st.integers(1, 500),
    st.sampled_from(["milligrams", "mg", "ml", "tablets", "micrograms", "units", "cc"]),
)
def test_a_dose_is_never_taken(medicine: str, number: int, unit: str) -> None:
    said = f"Heart ninety-two. Give {medicine} {number} {unit} now. Plan: {medicine} {number} {unit} twice daily, recheck."
    heard = hear(said, DOG, vocabulary())
    assert [m.value for m in heard.measurements] == ["92"]
    assert not any(str(number) in line.words for line in (*heard.plan, *heard.heads_ups))
    assert not any(p.size_mm for p in heard.proposals)
