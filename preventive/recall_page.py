"""Who is told of a recalled lot and how, with each letter as it would leave: values for the page."""

from dataclasses import dataclass

from clinic.platform.addresses import one_line
from preventive.models import Lot
from preventive.recall_letter import House, Mail, letter_to
from preventive.recalls import Household, had_words, households_of, letter_house
from preventive.stock_page import letter_sent, letter_stands, reach_of
from preventive.wording import day

NO_WORDS = "(What it means and what to do: your words stand here.)"


@dataclass(frozen=True)
class Reached:
    """One household. `mail`: its letter, where it was not written to yet; for the post where no mail goes."""

    owner: str
    address: str
    reach: str
    had: tuple[str, ...]
    why_not: str
    stands: str
    told: str
    mail: Mail | None
    by_mail: bool


@dataclass(frozen=True)
class LettersPage:
    """`to_send` by e-mail now; `written` to already; `otherwise` by post or telephone.

    `words`: what the letters say in their middle; of those sent already, where nobody typed any.
    """

    lot: Lot
    recalled: str
    to_send: tuple[Reached, ...]
    written: tuple[Reached, ...]
    otherwise: tuple[Reached, ...]
    words: str


def letters_page(lot: Lot, *, words: str) -> LettersPage:
    """`words`: what every letter says in its middle; empty before anybody wrote it."""
    house, households = letter_house(lot), households_of(lot)
    said = words or next((each.letter.words for each in households if each.letter), "")
    rows = [_reached(each, said, house) for each in households]
    return LettersPage(
        lot=lot,
        recalled=day(lot.recalled_on) if lot.recalled_on else "",
        to_send=tuple(each for each in rows if each.by_mail and not each.stands),
        written=tuple(each for each in rows if each.stands),
        otherwise=tuple(each for each in rows if not each.by_mail and not each.stands),
        words=said,
    )


def _reached(household: Household, words: str, house: House) -> Reached:
    owner, letter = household.owner, household.letter
    told = [each.recall_told for each in household.given if getattr(each, "recall_told", None)]
    return Reached(
        owner=owner.name if owner else "nobody on record",
        address=one_line(owner) if owner else "",
        reach=reach_of(owner),
        had=tuple(f"{each.patient.name}: {had_words(each)}" for each in household.given),
        why_not=household.why_not,
        stands=(letter_sent(letter) or letter_stands(letter)) if letter else "",
        told="; ".join(each.how for each in told),
        mail=letter_to(household.named, words or NO_WORDS, house) if owner and not letter else None,
        by_mail=household.by_mail,
    )
