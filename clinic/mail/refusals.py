"""What a mail server's answer means, in plain words, and what to do about it. Pure.

Read by its enhanced status code (RFC 3463, and what the registry of RFC 5248 holds by now: RFC 4954, 7372 and
7505), else by its reply code (RFC 5321, 4.2.3), never by its own words, which each server chooses for itself.
"""

import re
from dataclasses import dataclass

ASK = "Ask for the right address, or reach them another way."
LATER = "Send it again later, or reach them another way."
OTHERWISE = "Reach them another way."
OURS = "Tell whoever looks after the clinic’s mail: others may not be reached either."
NO_CONNECTION = "no connection"  # what `clinic.mail.actions` writes where no server answered at all


@dataclass(frozen=True)
class Meaning:
    """`words` go on after "did not arrive: "; `do` is a sentence. `passing`: what may be over by tomorrow."""

    words: str
    do: str
    passing: bool = False


_NOT_THERE = "the address does not exist"
_NO_HOST = "what stands behind the @ does not exist, or takes no mail"
_SENDER = "the clinic’s own address is not accepted as the sender"
_FULL = "the mailbox is full"
_LARGE = "the mail is larger than they take"
_TROUBLE = "their mail server has trouble of its own"
_REFUSED = "their mail server refuses mail from the clinic"
_SIGN_IN = "the mail server does not accept the clinic’s password"
_UNPROVEN = "their mail server finds no proof that the mail is the clinic’s (SPF, DKIM)"

# subject and detail of a status; a detail that is not listed means what its subject means
_DETAILS = {
    (1, 1): (_NOT_THERE, ASK),
    (1, 2): (_NO_HOST, ASK),
    (1, 3): ("the address is not written as addresses are", ASK),
    (1, 6): ("the mailbox has moved, and nobody says where to", ASK),
    (1, 7): (_SENDER, OURS),
    (1, 8): (_SENDER, OURS),
    (1, 10): (_NO_HOST, ASK),  # RFC 7505
    (2, 1): ("the mailbox is switched off", ASK),
    (2, 2): (_FULL, "Tell them, and send it again when there is room; or reach them another way."),
    (2, 3): (_LARGE, OTHERWISE),
    (3, 4): (_LARGE, OTHERWISE),
    (7, 8): (_SIGN_IN, OURS),  # RFC 4954
    **{(7, each): (_UNPROVEN, OURS) for each in range(20, 27)},  # RFC 7372
    (7, 27): (_SENDER, OURS),  # RFC 7505
}
_SUBJECTS = {
    1: ("the address is not accepted", ASK),
    2: ("the mailbox takes no mail", ASK),
    3: (_TROUBLE, LATER),
    4: ("their mail server could not be reached in time", LATER),
    5: ("the two mail servers did not understand each other", OURS),
    6: ("their mail server does not take what the mail contains", OTHERWISE),
    7: (_REFUSED, f"{OTHERWISE} {OURS}"),
}
_REPLIES = {
    421: (_TROUBLE, LATER),
    450: ("the mailbox cannot be reached now", LATER),
    451: (_TROUBLE, LATER),
    452: ("there is no room for it now", LATER),
    530: (_SIGN_IN, OURS),
    535: (_SIGN_IN, OURS),
    # RFC 5321 leaves open which: not found, no access, or refused as a rule of theirs
    550: ("their mail server does not take mail for this address", ASK),
    551: (_NOT_THERE, ASK),
    552: (_FULL, LATER),
    553: ("the address is not accepted", ASK),
    554: (_REFUSED, f"{OTHERWISE} {OURS}"),
}
_STATUS = re.compile(r"([45])\.(\d{1,3})\.(\d{1,3})")
_REPLY = re.compile(r"[45]\d\d")
_BEFORE = re.compile(r"^(it came back: )?(smtp\s*;\s*)?", re.IGNORECASE)


def meaning(answer: str) -> Meaning | None:
    """None for what is no answer of a server: words of our own, or of whoever noted that it came back."""
    if answer.startswith(NO_CONNECTION):
        return Meaning("the clinic’s mail server could not be reached", OURS, passing=True)
    status, reply = _codes(answer)
    if status is None and reply is None:
        return None
    if status and (known := _DETAILS.get(status[1:]) or _SUBJECTS.get(status[1])):
        return Meaning(*known, passing=status[0] == 4)
    number = reply or (status[0] if status else 5) * 100
    passing = number < 500
    words, do = _REPLIES.get(number, (_TROUBLE, LATER) if passing else (_REFUSED, OTHERWISE))
    return Meaning(words, do, passing=passing)


def _codes(answer: str) -> tuple[tuple[int, int, int] | None, int | None]:
    """The codes at the beginning: the last status that says more than "other", and the reply.

    A report gives its own status before the server's answer. Numbers farther on may be anything: the address
    of a machine, the version of a program.
    """
    status, reply = None, None
    for word in re.split(r"[\s-]+", _BEFORE.sub("", answer)):
        if found := _STATUS.fullmatch(word):
            told = (int(found[1]), int(found[2]), int(found[3]))
            status = told if status is None or told[1] else status
        elif _REPLY.fullmatch(word):
            reply = int(word)
        else:
            break
    return status, reply
