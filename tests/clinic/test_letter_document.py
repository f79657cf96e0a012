"""A letter's document survives the database's JSON, and every sentence can be found and changed."""

import json
from dataclasses import replace
from datetime import date

from clinic.letters.document import (
    Dated,
    Document,
    Figure,
    Figures,
    Head,
    Line,
    Mark,
    Point,
    Section,
    Sentence,
    Signed,
    Table,
    Text,
    Tone,
    Walk,
    from_json,
    map_sentences,
    sentences,
    to_json,
)  # fmt: skip


def said(key: str, text: str = "It is so.") -> Sentence:
    return Sentence(key, text, "the exam")


def letter() -> Document:
    blocks = (
        Text((said("t1"),), Mark.NORMAL),
        Walk((Line(said("w1"), (said("w2"),), Mark.ABNORMAL),)),
        Table(((said("c1"), said("c2")),), ("What", "When")),
        Figures((Figure("<svg/>", "a dog"),), Table(((said("c3"),),)), (said("f1"),)),
    )
    return Document(
        language="en",
        tone=Tone.LOOK,
        head=Head(
            "Q",
            ("4 Weir Lane",),
            "555-0100",
            "Q",
            "555-0199",
            "H D",
            ("4 Lane",),
            "Pomfret",
            "Dog",
            "11 March",
        ),
        headline=said("headline"),
        points=(Point(said("p1"), "T", said("p2"), None),),
        call_now=(said("n1"),),
        call_within_a_day=(said("d1"),),
        sections=(Section("walk", "Nose to tail", 30, blocks),),
        next_things=(Dated(date(2026, 3, 12), said("x1"), exact=False),),
        signed=Signed((said("s1"),), "Corrected copy", (said("a1"),)),
    )


def test_a_document_comes_back_from_json_unchanged() -> None:
    assert from_json(json.loads(json.dumps(to_json(letter())))) == letter()


def test_every_sentence_is_found_once_in_reading_order() -> None:
    keys = [each.key for each in sentences(letter())]
    assert keys == [
        "headline",
        "p1",
        "p2",
        "n1",
        "d1",
        "t1",
        "w1",
        "w2",
        "c1",
        "c2",
        "c3",
        "f1",
        "x1",
        "s1",
        "a1",
    ]


def test_a_correction_reaches_a_cell_of_a_table_beside_a_map() -> None:
    changed = map_sentences(letter(), lambda each: replace(each, text="Ours.") if each.key == "c3" else each)
    assert [each.key for each in sentences(changed) if each.text == "Ours."] == ["c3"]
