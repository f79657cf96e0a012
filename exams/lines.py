"""Which lines of the walk one patient has: structure and side, and what does not apply, with the reason.

A line's key is `STATION.structure|side`: `EAR.canal|left`, `NOS.planum|-`, `NEU.gait|LF`,
`GUM.mammary|left-3`, `MTH.gums|upper-left`, `MTH.teeth|108`. `LYM.*|-` and `HLB.*|left` carry findings of a
whole station.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from exams.teeth import QUADRANT_KEYS, dentition, tooth
from exams.walk import FindingCode, Station, Structure, Walk

SIX_MONTHS_DAYS = 183
SIXTEEN_WEEKS_DAYS = 112

LIMB_WORDS = {"LF": "left front", "RF": "right front", "LH": "left hind", "RH": "right hind"}
LIMB_LINE = {"LF": ("FLB", "left"), "RF": ("FLB", "right"), "LH": ("HLB", "left"), "RH": ("HLB", "right")}
GLANDS = {"dog": 5, "cat": 4}
HIDDEN_WHEN = ("species", "sex", "age")


@dataclass(frozen=True, slots=True)
class Absence:
    """A lasting fact of the patient: there is none of it.

    `what`: `limb:LH`, `station:EYE|left`, `structure:SPN.tail`, `line:GUM.mammary|left-3`, `tooth:409`.
    `words`: why ("amputated 2024").
    """

    what: str
    words: str


@dataclass(frozen=True, slots=True)
class Line:
    """One row to answer.

    `stored_at`: the keys under which an answer given here is kept (another station's line for a twin; both
    sides of a paired home for an unpaired twin). `covered_by`: the home line whose normal answers this one
    too. `absent`: empty, or species, sex, neutered, age, absent; `why`: that in words.
    `codes`: findings offered, likeliest first; `limits`: findings that say how far the look went.
    """

    key: str
    structure: str
    station: str
    side: str
    name: str
    side_words: str
    depth: str
    asked: str
    value: str
    stored_at: tuple[str, ...]
    covered_by: str = ""
    within: str = ""
    absent: str = ""
    why: str = ""
    codes: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()

    @property
    def applies(self) -> bool:
        return not self.absent

    @property
    def hidden(self) -> bool:
        """Nothing an exam of this animal would ever show (a cat's rectal prostate)."""
        return self.absent in HIDDEN_WHEN

    @property
    def whole_station(self) -> bool:
        return self.structure.endswith(".*")


@dataclass(frozen=True, slots=True)
class Animal:
    """What of the patient decides its lines. `neutered` None and `sex` "" mean unknown: show all."""

    species: str
    sex: str = ""
    neutered: bool | None = None
    age_days: int | None = None
    absences: tuple[Absence, ...] = ()


class Lines:
    """All lines of one patient in walking order, looked up by key; `in`, `[]`, `len` and iteration work."""

    def __init__(self, lines: Iterable[Line], animal: Animal) -> None:
        self.all = tuple(lines)
        self.animal = animal
        self._by_key = {line.key: line for line in self.all}
        covers: dict[str, list[str]] = {}
        for line in self.all:
            if line.covered_by and not line.absent:
                covers.setdefault(line.covered_by, []).extend(line.stored_at)
        self._covers = {home: tuple(dict.fromkeys(keys)) for home, keys in covers.items()}
        self._at: dict[str, tuple[Line, ...]] = {}

    def __iter__(self) -> Iterator[Line]:
        return iter(self.all)

    def __len__(self) -> int:
        return len(self.all)

    def __contains__(self, key: object) -> bool:
        return key in self._by_key

    def __getitem__(self, key: str) -> Line:
        return self._by_key[key]

    def covers(self, key: str) -> tuple[str, ...]:
        """The stored keys of the sided twins that this home's normal answers as well."""
        return self._covers.get(key, ())

    def at(self, target: str) -> tuple[Line, ...]:
        """The lines of a station (`EAR`), of one side of it (`FLB|left`) or of a structure (`MTH.teeth`)."""
        if target in self._at:
            return self._at[target]
        place, _, side = target.partition("|")
        found = tuple(
            line
            for line in self.all
            if place in (line.station, line.structure) and (not side or line.side == side)
        )
        if found:  # whatever else is asked for comes from outside and may be anything
            self._at[target] = found
        return found


def applicable(
    walk: Walk,
    species: str,
    sex: str = "",
    neutered: bool | None = None,
    age_days: int | None = None,
    facts: Iterable[Absence] = (),
) -> Lines:
    """Every line in walking order, those that do not apply marked with why.

    Raises KeyError for a species the walk does not know.
    """
    animal = Animal(species, sex, neutered, age_days, tuple(facts))
    return Lines(
        (
            line
            for station in walk.stations
            for line in (
                *(x for s in station.structures for x in _lines_of(walk, s, animal)),
                *_station_lines(walk, station, animal),
            )
        ),
        animal,
    )


def side_words(side: str, species: str = "dog") -> str:
    """The side in full words: "left", "left front", "left 3", "108, upper right fourth premolar"."""
    if side == "-":
        return ""
    if side in LIMB_WORDS:
        return LIMB_WORDS[side]
    if side.isdigit():
        return f"{side}, {tooth(species, int(side)).name}"
    return side.replace("-", " ")


def fits(when: str, animal: Animal, *, age_unknown: bool) -> str:
    """Empty when `applies_when` holds, else what stands against it: sex, neutered or age."""
    if when.startswith("under-"):
        limit = SIX_MONTHS_DAYS if when == "under-6-months" else SIXTEEN_WEEKS_DAYS
        young = age_unknown if animal.age_days is None else animal.age_days < limit
        return "" if young else "age"
    sex, _, intact = when.partition("-")
    if sex and animal.sex not in ("", sex):
        return "sex"
    return "neutered" if intact and animal.neutered else ""


def finding_fits(finding: FindingCode, animal: Animal) -> str:
    """Empty when the finding can stand in this animal, else species, sex, neutered or age."""
    if animal.species not in finding.species:
        return "species"
    return fits(finding.applies_when, animal, age_unknown=True)


def _sides(structure: Structure, animal: Animal) -> tuple[str, ...]:
    glands = range(1, GLANDS[animal.species] + 1)
    return {
        "none": ("-",),
        "pair": ("left", "right"),
        "limb": ("left", "right"),
        "four": ("LF", "RF", "LH", "RH"),
        "gland": (*(f"left-{n}" for n in glands), *(f"right-{n}" for n in glands)),
        "quadrant": QUADRANT_KEYS,
        "tooth": tuple(str(n) for n in dentition(animal.species, animal.age_days)),
    }[structure.sided]


def _lines_of(walk: Walk, s: Structure, animal: Animal) -> Iterable[Line]:
    sides = _sides(s, animal)
    by_limb = {side: _offered(walk, s.code, side, animal) for side in sides[: 4 if s.sided == "four" else 1]}
    for side in sides:
        codes, limits = by_limb.get(side, by_limb[sides[0]])
        stored_at, covered_by = _home(walk, s, side)
        absent, why = _absent(s, side, animal)
        yield Line(
            key=f"{s.code}|{side}",
            structure=s.code,
            station=s.station,
            side=side,
            name=s.title,
            side_words=side_words(side, animal.species),
            depth=s.depth,
            asked=s.asked,
            value=s.value,
            stored_at=stored_at,
            covered_by=covered_by,
            within=f"{s.within}|{side}" if s.within else "",
            absent=absent,
            why=why,
            codes=codes,
            limits=limits,
        )


def _station_lines(walk: Walk, station: Station, animal: Animal) -> Iterable[Line]:
    found = [f for f in station.findings if f.whole_station and not finding_fits(f, animal)]
    if not found:
        return
    for side in ("left", "right") if station.per_side else ("-",):
        key = f"{station.code}.*|{side}"
        yield Line(
            key=key,
            structure=f"{station.code}.*",
            station=station.code,
            side=side,
            name=station.title.partition(" (")[0],
            side_words=side_words(side),
            depth="station",
            asked="called-for",
            value="",
            stored_at=(key,),
            codes=tuple(f.code for f in found if f.variant != "limit"),
            limits=tuple(f.code for f in found if f.variant == "limit"),
        )


def _home(walk: Walk, s: Structure, side: str) -> tuple[tuple[str, ...], str]:
    """Where an answer is stored, and the home line whose normal covers it."""
    if not s.twin:
        return (f"{s.code}|{side}",), ""
    home = walk.structure[s.twin]
    if home.sided == "none" and side != "-":
        cover = f"{home.code}|-"
        if s.sided == "four":
            station, limb = LIMB_LINE[side]
            same = next((t for t in walk.twins[s.twin] if t.station == station and t.sided == "limb"), None)
            return ((f"{same.code}|{limb}",) if same else (f"{s.code}|{side}",)), cover
        return (f"{s.code}|{side}",), cover
    if home.sided == "pair" and side == "-":
        return (f"{home.code}|left", f"{home.code}|right"), ""
    return (f"{home.code}|{side}",), ""


def _absent(s: Structure, side: str, animal: Animal) -> tuple[str, str]:
    if animal.species not in s.species:
        return "species", f"{animal.species}s are not examined here"
    against = fits(s.applies_when, animal, age_unknown=False)
    if against:
        words = {"sex": f"not in a {animal.sex}", "neutered": "neutered", "age": "only in young animals"}
        return against, words[against]
    key = f"{s.code}|{side}"
    fact = next((a for a in animal.absences if takes_away(a.what, key)), None)
    return ("absent", fact.words) if fact else ("", "")


def takes_away(what: str, key: str) -> bool:
    """Whether a lasting absence (`Absence.what`) means that the line of this key is not there."""
    kind, _, name = what.partition(":")
    structure, _, side = key.partition("|")
    station = structure.partition(".")[0]
    limb = next((k for k, v in LIMB_LINE.items() if v == (station, side)), side if side in LIMB_LINE else "")
    return {
        "limb": (name == limb and not structure.endswith(".*")) or (key, name) in _NODES_OF_LIMB,
        "station": f"{station}|{side}" == name,
        "structure": structure == name,
        "line": key == name,
        "tooth": key == f"MTH.teeth|{name}",
    }.get(kind, False)


_NODES_OF_LIMB = {("LYM.popliteal|left", "LH"), ("LYM.popliteal|right", "RH")}


def _offered(walk: Walk, code: str, side: str, animal: Animal) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Codes and limits that this animal is offered there, in the order of the page."""
    fit = [f for f in offered(walk, code, side) if not finding_fits(f, animal)]
    plain = tuple(f.code for f in fit if f.variant != "limit")
    return plain, tuple(f.code for f in fit if f.variant == "limit")


def offered(walk: Walk, code: str, side: str) -> list[FindingCode]:
    """What some animal is offered at a structure: what the clinic wants first, then findings of the structure
    and its twins, those naming it first by rank, then others, then borrowed. Nothing that is retired."""
    ordered: list[FindingCode] = []
    for name in _family(walk, code, side):
        fs = [f for f in walk.station[name.partition(".")[0]].findings if name in f.structures]
        # A twin without sides cannot take a finding that must have one: it belongs on the sided line.
        fs = [f for f in fs if name == code or side != "-" or f.side_text != "L/R"]
        fs.sort(key=lambda f: (f.structures[0] != name, f.rank, f.code))
        ordered += fs
    ordered += [walk.finding[c] for c in walk.structure[code].borrows]
    wanted = {c: n for n, c in enumerate(walk.structure[code].first)}
    found = [f for f in dict.fromkeys(ordered) if not f.retired]
    return sorted(found, key=lambda f: wanted.get(f.code, len(wanted)))


def _family(walk: Walk, code: str, side: str) -> list[str]:
    """The structure, then its home and twins; of the limbs only the one that this side belongs to."""
    s = walk.structure[code]
    home = s.twin or code
    limb_station = s.station if s.sided == "limb" else LIMB_LINE[side][0] if side in LIMB_LINE else ""
    others = [
        t.code
        for t in walk.twins.get(home, ())
        if not (limb_station and t.sided == "limb" and t.station != limb_station)
    ]
    return list(dict.fromkeys((code, home, *others)))
