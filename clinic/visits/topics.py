"""What may have changed at home: a closed list of topics, and the answers. Pure."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Topic:
    code: str
    title: str
    hint: str = ""


TOPICS = (
    Topic("appetite", "Appetite", "eats as before, with the same eagerness"),
    Topic("thirst", "Thirst", "how often the bowl is filled"),
    Topic("urine", "Urine", "how much, how often, where"),
    Topic("stools", "Stools", "how often, how firm, colour"),
    Topic("vomiting", "Vomiting", "when, what, how often"),
    Topic("cough", "Cough", "at night, at play, dry or wet"),
    Topic("sneezing", "Sneezing and nose"),
    Topic("itching", "Itching", "scratches, licks, rubs: where"),
    Topic("energy", "Energy", "on walks, at play"),
    Topic("moving", "Moving", "stairs, jumping, getting up"),
    Topic("behaviour", "Behaviour", "sleep, hiding, temper"),
    Topic("weight", "Weight seen", "thinner or rounder to the owner’s eye"),
)
TOPIC_CODES = frozenset(topic.code for topic in TOPICS)

ANSWERS = (
    ("as-before", "as before", "normal"),
    ("more", "more", "high"),
    ("less", "less", "low"),
    ("changed", "changed", "abnormal"),
    ("not-known", "not known", "unseen"),
)
ANSWER_CODES = frozenset(code for code, _title, _shape in ANSWERS)
