"""What a summary is composed from: plain facts of one patient, gathered elsewhere. Pure."""

from dataclasses import dataclass
from datetime import date

from clinic.letters.document import Block


@dataclass(frozen=True)
class OurClinic:
    name: str
    lines: tuple[str, ...]
    phone: str
    email: str
    paper: str


@dataclass(frozen=True)
class Animal:
    """`born`: with how sure it is; `left`: died, or left the practice, and when."""

    name: str
    species: str
    breed: str
    sex: str
    born: str
    colour: str
    chips: tuple[str, ...]
    left: str = ""


@dataclass(frozen=True)
class Keeper:
    """Of the owner only what a colleague needs to reach them."""

    name: str
    phone: str


@dataclass(frozen=True)
class Asked:
    """Why it is made; `agreed`: who consented, how and when, or why it goes without, as one sentence."""

    purpose: str
    to_whom: str
    why: str
    agreed: str


@dataclass(frozen=True)
class Thought:
    """One assessment. `signed` False: its record is still open."""

    text: str
    certainty: str
    course: str
    on: date
    by: str
    signed: bool


@dataclass(frozen=True)
class OpenMatter:
    """An open problem with the assessments of the newest record that has any, the likeliest first."""

    title: str
    since: date
    thoughts: tuple[Thought, ...]


@dataclass(frozen=True)
class Lasting:
    """An allergy, an alert, a condition, a part that is gone."""

    kind: str
    words: str
    since: date | None
    allergy: bool = False


@dataclass(frozen=True)
class Directed:
    """A medicine in use. `directions` word for word."""

    name: str
    directions: str
    reason: str
    on: date
    by: str
    until: date | None
    signed: bool


@dataclass(frozen=True)
class GivenByOwner:
    name: str
    words: str


@dataclass(frozen=True)
class Weighing:
    """What was measured on one day, in words; empty: not measured."""

    on: date
    weight: str = ""
    condition: str = ""
    muscle: str = ""


@dataclass(frozen=True)
class Result:
    what: str
    value: str
    unit: str
    interval: str
    meaning: str
    read: bool


@dataclass(frozen=True)
class Tested:
    title: str
    on: date
    results: tuple[Result, ...]


@dataclass(frozen=True)
class Eaten:
    """As told at intake: which meal or treat, which food, how much."""

    part: str
    food: str
    amount: str
    since: date


@dataclass(frozen=True)
class Awaited:
    """Something still to come: what, by when, who answers for it."""

    what: str
    by: date | None
    who: str


@dataclass(frozen=True)
class Told:
    """A room's own part, ready as blocks; empty ones are said to be empty."""

    name: str
    title: str
    order: int
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Facts:
    """`older_weights`, `older_tests`: how many there are besides those that are told."""

    clinic: OurClinic
    animal: Animal
    keepers: tuple[Keeper, ...]
    asked: Asked
    problems: tuple[OpenMatter, ...]
    lasting: tuple[Lasting, ...]
    medicines: tuple[Directed, ...]
    at_home: tuple[GivenByOwner, ...]
    weighings: tuple[Weighing, ...]
    tests: tuple[Tested, ...]
    diet: tuple[Eaten, ...]
    awaited: tuple[Awaited, ...]
    rooms: tuple[Told, ...]
    signer: str
    today: date
    older_weights: int = 0
    older_tests: int = 0
