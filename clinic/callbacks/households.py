"""One household with what it is asked about on a day."""

from dataclasses import dataclass

from clinic.callbacks import planning
from clinic.people.models import Owner


@dataclass(frozen=True)
class Household:
    owner: Owner
    asked: tuple[planning.Asked, ...]
