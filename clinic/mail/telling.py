"""How a mail is told wherever it stands: each state has its mark, each fault its plain words. Pure."""

from dataclasses import dataclass

from clinic.mail.refusals import meaning

# Keys are those of Message.State; words also go on after "the letter", "the e-mail to …".
MARKS = {
    "waiting": ("begun", "", "waits to leave"),
    "sending": ("begun", "", "on its way"),
    "sent": ("normal", "is-normal", "sent"),
    "held": ("flag", "is-look", "held back"),
    "failed": ("abnormal", "is-look", "did not arrive"),
    "unknown": ("abnormal", "is-look", "may not have arrived"),
    "cancelled": ("unseen", "is-unseen", "cancelled"),
}
OURSELVES = " It is tried again by itself."


@dataclass(frozen=True)
class Told:
    """`words`: the mark's. `why`: a sentence or two for whoever looks closer; `answer`: what a mail server
    wrote, as it wrote it. Both may be empty."""

    shape: str
    tone: str
    words: str
    why: str
    answer: str


def told(state: str, why: str) -> Told:
    """`why`: the message's own, kept as it came."""
    shape, tone, words = MARKS[state]
    found = meaning(why)
    if found is None:
        return Told(shape, tone, words, why, "")
    if state == "failed":
        words = f"{words}: {found.words}"
        tried = "It was tried again for hours. " if found.passing else ""
        return Told(shape, tone, words, tried + found.do, why)
    said = f"{found.words[:1].upper()}{found.words[1:]}."
    return Told(shape, tone, words, said + OURSELVES if state == "waiting" else said, why)
