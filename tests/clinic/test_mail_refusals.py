"""What mail servers answer, as staff read it. Codes: RFC 3463, RFC 5321, RFC 7372, RFC 7505."""

from clinic.mail.models import Message
from clinic.mail.refusals import ASK, OURS, meaning
from clinic.mail.telling import MARKS, told
from tests.for_each import for_each


@for_each(
    [
        ("550 5.1.1 mailbox unknown", "the address does not exist", False),
        ("it came back: 5.1.1 550 5.1.1 no such mailbox", "the address does not exist", False),
        ("it came back: smtp;550 5.1.1 no such mailbox", "the address does not exist", False),
        ("it came back: 5.0.0 550-5.1.1 The account", "the address does not exist", False),
        ("it came back: 5.1.1 550 5.0.0 no", "the address does not exist", False),
        ("550 5.1.10 null MX", "what stands behind the @ does not exist, or takes no mail", False),
        ("550 5.1.77 something new", "the address is not accepted", False),
        ("452 4.2.2 over quota", "the mailbox is full", True),
        ("552 5.2.2 over quota", "the mailbox is full", False),
        ("550 5.7.1 blocked [192.0.2.1]", "their mail server refuses mail from the clinic", False),
        (
            "550 5.7.26 SPF",
            "their mail server finds no proof that the mail is the clinic’s (SPF, DKIM)",
            False,
        ),
        ("535 5.7.8 bad credentials", "the mail server does not accept the clinic’s password", False),
        ("it came back: 4.4.7", "their mail server could not be reached in time", True),
        ("550 no such mailbox", "their mail server does not take mail for this address", False),
        ("421 mail 4.94.2 closing", "their mail server has trouble of its own", True),
        ("599 never heard of", "their mail server refuses mail from the clinic", False),
        ("no connection: [Errno 111] refused", "the clinic’s mail server could not be reached", True),
    ]
)
def test_an_answer_is_read_by_its_codes(case: tuple[str, str, bool]) -> None:
    answer, words, passing = case
    found = meaning(answer)
    assert found is not None, answer
    assert (found.words, found.passing) == (words, passing), answer


@for_each(["", "it came back", "it came back: my neighbour says so", "quiet hours", "10 of 5.1.1 letters"])
def test_what_no_server_said_is_left_as_it_is(words: str) -> None:
    assert meaning(words) is None
    assert (told("failed", words).why, told("failed", words).answer) == (words, "")


def test_every_state_has_its_one_mark() -> None:
    assert set(MARKS) == set(Message.State.values)
    lost = told("failed", "550 5.1.1 mailbox unknown")
    assert (lost.words, lost.why) == ("did not arrive: the address does not exist", ASK)
    assert lost.answer == "550 5.1.1 mailbox unknown"
    assert told("failed", "no connection: timed out").why == f"It was tried again for hours. {OURS}"
    later = told("waiting", "450 4.2.2 full")
    assert (later.words, later.why) == ("waits to leave", "The mailbox is full. It is tried again by itself.")
