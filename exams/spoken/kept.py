"""What is kept from clause to clause: the topic, its side, the limb, a correction that is under way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from exams.spoken.clause import Clause, one_leg, plain_heading
from exams.spoken.counted import Figures, numbers_of
from exams.spoken.said import (
    GENERIC,
    LASTS,
    LIMB_STATIONS,
    Described,
    Named,
    Statement,
    stations_of,
    thing_there,
)
from exams.spoken.shapes import About
from exams.spoken.sides import UNRESOLVED, Place, opposite, sides_said
from exams.spoken.terms import FIGURE, UNKNOWN
from exams.spoken.vocabulary import Noun, Vocabulary

TRUNK = {"VIT", "EYE", "EAR", "NOS", "MTH", "THR", "LUN", "HRT", "ABD", "PER", "GUM"}  # stations of no limb
WHOLE_FACE = "face"
FACE = {"EYE", "EAR", "NOS", "MTH", "NEU", WHOLE_FACE}
REACH = 3  # sentences over which a lone "other side" reaches back to the side said last


@dataclass
class Kept:
    """Built for one text; `statements` is what its clauses came to."""

    vocabulary: Vocabulary
    about: About
    figures: Figures
    statements: list[Statement] = field(default_factory=list)
    topic: list[Named] = field(default_factory=list)
    topic_sentence: int = -1
    topic_named: int = -1  # the sentence that really names it
    topic_skipped: bool = False
    topic_alone: int = -9  # the sentence that names it and nothing else
    pending: list[Named] = field(default_factory=list)
    pending_sentence: int = -1
    station_side: dict[str, tuple[str, int]] = field(default_factory=dict)
    last_side: str = ""
    last_side_sentence: int = -9
    side_taken: int = -1  # the clause whose "other side" is already the side said last
    limb: Place = field(default_factory=Place)
    correcting: int = -1  # clause from which on what is said replaces what was said before it
    correcting_sentence: int = -1
    correcting_until: int = -1  # the last clause in a row that only corrects
    count: int = 0
    now: int = -1  # the sentence that is taken
    sentence_nouns: frozenset[str] = frozenset()  # everything that it names
    sentence_words: frozenset[str] = frozenset()
    last: list[Statement] = field(default_factory=list)
    last_denies: bool = False  # with a verb that is denied: "doesn't blink"
    described: list[Described] = field(default_factory=list)  # what `last` came from
    hedged_away: list[Statement] = field(default_factory=list)
    found_at: tuple[int, frozenset[str]] = (-9, frozenset())  # sentence; where the skin was not normal
    skin_found: tuple[int, str, frozenset[str]] = (-9, "", frozenset())  # sentence, side, names
    lung_places: tuple[str, ...] = ()
    lung_sentence: int = -1  # that said them
    lung_row: tuple[int, int] = (-1, -1)  # sentence and clause of a row of them: "front, middle, back"
    over: tuple[int, list[Named]] = field(default=(-1, []))  # "Lungs: …": what the sentence is headed with
    neuro: bool = False  # a neurological look is under way
    limb_sentence: int = -1
    limb_last: Place = field(default_factory=Place)  # the one that was named last
    limb_lines: list[str] = field(default_factory=list)  # said of it so far
    limb_gone: tuple[str, str] = ("", "")  # station and side of a limb that the animal has lost
    limb_fleeting: int = -1  # the sentence that the limb is only named in
    correcting_named: bool = False  # what corrects names something
    correcting_opens: bool = False  # the correction begins its sentence: it is about the one before
    rest_said: bool = False
    where: list[Named] = field(default_factory=list)  # names behind a preposition
    lumps_listed: bool = False
    lumps_title: int = -9  # the sentence that heads it
    lumps_headed: int = -9  # the last sentence of a list with lumps for its heading
    told_of: tuple[int, list[Named]] = field(default=(-9, []))  # what an owner spoke of
    lone_word: int = -9  # the clause that is one word
    thing_at: tuple[int, frozenset[str]] = (-9, frozenset())  # places of a thing nobody knows
    disliked: tuple[int, frozenset[str]] = (-9, frozenset())  # lines the speaker is not happy with
    place_only: tuple[int, frozenset[str]] = (-9, frozenset())  # the clause of a place, nothing said of it
    unread: int = -9  # the clause with a remark on its topic that nobody understood
    unread_topic: list[Named] | None = None
    that_limb: int = -9  # the sentence of "that foot"
    strange: int = -9  # the clause of two words or more that nobody knows
    bare_says: int = -9  # the clause that is a name and says something at once, and no more
    name_ended: bool = False  # the clause before closed with a name, behind what it says of it
    heading: str = ""  # a side that stands over what follows: "OD: …"
    heading_station: str = ""
    lone_side: tuple[int, str] = (-1, "")
    side_over: tuple[int, str] = (-1, "")  # "Other side, …": it stands over the rest of its sentence
    lone_grade: tuple[int, str] = (-1, "")
    lone_place: tuple[int, str] = (-1, "")
    gland: tuple[int, str] = (-1, "")  # "L3, …": said of this one
    tooth: tuple[int, tuple[str, ...]] = (-1, ())  # said last, and their sentence
    neck_said: tuple[int, tuple[str, ...]] = (-1, ())
    deed: tuple[int, int] = (-1, -9)  # the sentence and clause of what the speaker did and nobody knows
    nerves: int = -1  # the sentence in which a nerve of the face was found out
    to_tail: int = -1  # the sentence that goes along the back as far as the tail
    added: int = -9  # the clause that only says how much of what was found
    beside: int = -9  # the clause of nothing but a word that nobody knows
    queried: tuple[int, list[Named]] = field(default=(-9, []))  # what a question was about, and its sentence
    once: int = -9  # the sentence whose topic was only spoken of as it was before
    told_by: tuple[int, str] = (-9, "")  # the sentence of what somebody else said of one thing, and who
    likened: int = -9  # the sentence that says of "it" only what nobody knows
    told_staff: int = -1  # the sentence in which somebody was asked to do something
    skipped_row: int = -9  # the clause that left out what it names last, as what was before it
    sought: tuple[int, Described | None] = (-1, None)  # what was looked for, and its sentence
    sides_after: tuple[int, tuple[str, ...]] = (-9, ())  # said alone behind a statement, and in which clause
    same_said: tuple[int, int] = (-9, -9)  # sentence and clause of a "same" that found nothing to be of
    begun: int = 0  # the first clause of the sentence
    loose: tuple[int, tuple[str, ...]] = (-1, ())  # traits of a sentence that nobody knows whose they are
    asked: Clause | None = None
    asked_of: tuple[int, str] = (-9, "")  # the sentence of a question, and the one side that it is of
    skips: int = -1  # the sentence that lists what was not looked at
    hanging: int = -1  # the clause that ended with a doubt and said nothing behind it
    doubted: bool = False  # and this one goes on with it
    left_out: tuple[int, frozenset[str], tuple[str, ...]] = (-1, frozenset(), ())  # lines and sides not meant
    unread_lines: dict[str, tuple[int, str]] = field(default_factory=dict)  # something unread said of them
    denied_lines: dict[str, int] = field(default_factory=dict)  # of which a good word was denied: "not soft"
    spot: tuple[int, list[Named]] = field(default=(-1, []))  # where something was pressed, and its sentence
    region: tuple[Named | None, int] = (None, -1)  # the eye, the ear: what its parts are named after
    copied: tuple[int, list[Statement]] = field(default=(-1, []))
    lone_no: int = -9  # the sentence that was no and nothing else
    content: list[int] = field(default_factory=list)  # the clauses that speak of anything
    partly: tuple[int, Clause | None] = (-1, None)  # what kept from hearing, said before what was heard

    def _heading(self, clause: Clause, named: Sequence[Named]) -> None:
        """ "OD: …", "Left eye: …": the side holds until another is said, or something else is spoken of."""
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s != "?"]
        only = not any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms)
        mentioned = [n for n in named if not self._behind(n, clause)]
        # the side of a face holds for all that is in it
        stations = {WHOLE_FACE} if any(n.key == "face" for n in mentioned) else stations_of(mentioned)
        if stations == {"NEU"}:
            return  # the menace of that eye
        alone = (
            clause.closes or clause.terms[-1].text in self.vocabulary.language.ordinals
        )  # "O D first, because …"
        over = clause.colon or (clause.opens and alone and plain_heading(clause, self.vocabulary.regions))
        if over and only and len(sides) == 1 and sides[0] in ("left", "right") and len(stations) <= 1:
            limbs = clause.having("limb") or stations & {"FLB", "HLB"}
            eye = any(t.text in self.vocabulary.language.of_eye for t in clause.terms)
            station = "EYE" if eye and not stations else "".join(stations)
            self.heading, self.heading_station = ("", "") if limbs else (sides[0], station)
            if self.heading:
                for station in stations or set(self.station_side):
                    self.station_side.pop(station, None)
        elif (
            sides
            or any(n.plural and not self._several_of_one(n) for n in mentioned)
            or (stations and self.heading_station and not self._under_it(stations))
        ):
            self.heading = ""
        elif stations and self.heading and not self.heading_station:
            self.heading_station = next(iter(stations)) if len(stations) == 1 else ""

    def _under_it(self, stations: set[str]) -> bool:
        """What is named is under the heading: of its station, or of the face."""
        return self.heading_station in stations or (self.heading_station == WHOLE_FACE and stations <= FACE)

    def _several_of_one(self, name: Named) -> bool:
        """ "Lashes": of one eye there are several."""
        return name.term is not None and name.term.words[-1] in self.vocabulary.language.parts

    def _parts_of_one(self, name: Named) -> bool:
        return name.term is not None and name.term.text in self.vocabulary.language.parts

    def _recent(self, clause: Clause) -> str:
        """The side said last, if "that side" and "the other" can still mean it."""
        if clause.sentence - self.last_side_sentence <= (REACH if self._only_side(clause) else 1):
            return self.last_side
        nouns = [self.vocabulary.nouns[k] for t in clause.terms for k in t.keys("noun")]
        stations = {s.partition(".")[0] for n in nouns for s in n.normal}
        held = [self.station_side.get(x, ("", -9)) for x in stations]
        if len(held) == 1 and held[0][0] and clause.sentence - held[0][1] <= LASTS:
            return held[0][0]  # "Left canal full of wax. … Can't see the drum on that side"
        of_limb = any(s.startswith(self.limb.station + ".") for n in nouns for s in n.normal)
        return self.limb.sides[0] if self.limb.station and len(self.limb.sides) == 1 and of_limb else ""

    def _resolved(self, side: str, clause: Clause) -> str:
        if side == "other":
            return opposite(self._recent(clause))
        if side == "that":
            return self._recent(clause)
        return side

    def _topics(self, named: list[Named], clause: Clause) -> None:
        said = sides_said(clause.terms, self._recent(clause))
        if self.side_taken == self.count:
            said = [self.last_side]
        single = [s for s in said if s in ("left", "right")]
        heart = {
            k.split()[1] for t in clause.terms for k in t.keys("place") if k.startswith(("apex ", "base "))
        }
        if len(heart) == 1 and not single:
            self.last_side, self.last_side_sentence = next(iter(heart)), clause.sentence  # "… on that side"
        if len(set(single)) == 1 and "both" not in said:
            self.last_side = single[0]
            self.last_side_sentence = clause.sentence
        bare = not named and not any(
            t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms
        )
        counted = bare and any(t.kind == FIGURE for t in clause.terms)
        if counted and single and self.lone_side == (clause.sentence, opposite(single[0])):
            self.lone_side = (clause.sentence, "")  # "thirty on the left and twenty-eight on the right, firm"
        elif single or "both" in said or named:
            self.lone_side = (
                clause.sentence,
                single[0] if len(set(single)) == 1 and "both" not in said else "",
            )
        over = self._only_side(clause) or one_leg(clause, [n.key for n in named])
        if over and (len(set(single)) == 1 or UNRESOLVED in said) and "both" not in said:
            self.side_over = (clause.sentence, single[0] if single else UNRESOLVED)
        elif single or "both" in said:
            self.side_over = (-1, "")
        self._loose(clause, bare)
        of_one = self._side_before(clause)
        spoken = self.topic_named == clause.sentence or of_one
        if named and thing_there(named, clause, self.vocabulary.language.ones):
            self.topic, self.topic_sentence = [], clause.sentence
            named = []
        here = [s for s in self.statements[-3:] if s.clause == self.count]
        if (
            named
            and (spoken or any(s.structure == "SKN.lumps" for s in here))
            and all(self._behind(n, clause) for n in named)
        ):
            named = []  # only where something is: what was spoken of stays
        if named and clause.opens and self.topic_alone == clause.sentence - 1 and self._place_first(clause):
            named, self.topic_sentence = [], clause.sentence  # "Muscles. Over the back, fine."
        says = any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms)
        if named and self.where and not says and clause.having("control", "pressing"):
            named = self.where[-1:]  # "back, when I press at the lumbosacral …"
        spoke = bool(named)
        if not spoke:
            home = self._home_topic(clause)
            found = {s.structure for s in self.statements if s.clause == self.count}
            headed = self.over[0] == clause.sentence and not any(n.key in found for n in home)
            if home and not headed and not self._under_over(home, clause):
                named, spoke = home, True
        if spoke:
            if self.pending_sentence != clause.sentence:
                self.pending = []
            only = not any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms)
            self.pending = [*self.pending, *named] if only else []
            self.pending_sentence = clause.sentence
            self.topic, self.topic_sentence = named, clause.sentence
            self.topic_named = clause.sentence
            if only and clause.closes:
                self.topic_alone = clause.sentence
            if (
                len(named) == 1
                and named[0].key not in self.vocabulary.walk.structure
                and len(named[0].noun.scope) > 2
            ):
                self.region = (named[0], clause.sentence)
            elif not self._within(named):
                self.region = (None, -1)
            self.topic_skipped = bool(clause.having("control", "skip"))
            looked = [n for n in named if n.key not in self.vocabulary.regions]
            nerves = any(s.startswith("NEU.") for n in looked for s in (*n.noun.normal, *n.noun.scope))
            if not bare or nerves:
                made = {s.structure[:3] for s in self.statements if s.clause == self.count}
                kept = self.neuro and (nerves or all(n.noun.neuro for n in named))
                self.neuro = kept or made == {"NEU"} or (nerves and not clause.having("control", "skip"))
            for name in named:
                if self._behind(name, clause):
                    continue
                stations = {s.partition(".")[0] for s in (name.noun.normal or name.noun.scope)}
                for station in stations:
                    side = name.side or (single[0] if len(set(single)) == 1 else "")
                    if side in ("left", "right"):
                        self.station_side[station] = (side, clause.sentence)
                        if name.key == "legs":  # "left leg top to bottom, femur, knee, shin, all solid"
                            self.station_side |= dict.fromkeys(LIMB_STATIONS, (side, clause.sentence))
                    elif (name.plural and not self._parts_of_one(name)) or "both" in (*said, side):
                        self.station_side.pop(station, None)
        elif self._new_limb(clause):
            self.topic = []
        elif self.topic_sentence == clause.sentence - 1 and single:
            self.topic_sentence = clause.sentence
        first = next((t for t in clause.terms if not t.has("control", "filler")), clause.terms[0])
        led = not spoke and first.has("side", "left", "right")  # "now the right, it's red and swollen"
        if spoke or single:
            for name in self.topic:
                if (
                    len(set(single)) == 1
                    and (not name.plural or self._only_side(clause) or self._side_one(clause) or led)
                    and not self._behind(name, clause)
                ):
                    for s in name.noun.normal:
                        self.station_side[s.partition(".")[0]] = (single[0], clause.sentence)
        lungs = Place.of(clause.terms).lungs
        chest = any(s.startswith("LUN.") for n in named or self.topic for s in n.noun.normal)
        if lungs and (chest or not named):
            row = bare and self.lung_row == (clause.sentence, self.count - 1)
            self.lung_places = (*self.lung_places, *lungs) if row else lungs
            self.lung_sentence = clause.sentence
            self._field_row(clause)
        elif any(n.key == "lungs" for n in named):
            self.lung_places = ()

    def _field_row(self, clause: Clause) -> None:
        """ "Front, middle, back, all clear": names of fields alone, before anything is said of the lungs."""
        plain = all(
            t.has("place")
            or t.has("limb")
            or t.has("side")
            or t.has("noun", "back")
            or t.has("control", "and")
            for t in clause.terms
        )
        told = any(x.startswith("LUN.") for x in self._told(clause))
        self.lung_row = (clause.sentence, self.count) if plain and not told else (-1, -1)

    def _told(self, clause: Clause, back: int = 0) -> set[str]:
        """Lines that the sentence says something of, or one of the `back` before it."""
        return {s.structure for s in self.statements if s.sentence >= clause.sentence - back}

    def _side_alone(self, clause: Clause) -> str:
        """The one side that the sentence has named so far."""
        return self.lone_side[1] if self.lone_side[0] == clause.sentence else ""

    def _place_first(self, clause: Clause) -> bool:
        """The clause begins with where something is, and what was headed is nothing of its station."""
        keys = [k for t in clause.terms for k in t.keys("noun")]
        lines = {s.partition(".")[0] for k in keys for s in self.vocabulary.nouns[k].normal}
        here = stations_of(self.topic)
        return clause.terms[0].has("control", "prep") and not lines & here

    def _behind(self, name: Named, clause: Clause) -> bool:
        """The name only says where something is: "a cut on the left shoulder"."""
        if name.term is None or name.term not in clause.terms:
            return False
        before = [t for t in clause.terms[: clause.at(name.term)] if not t.has("limb")]
        while (
            before
            and not before[-1].has("control", "prep")
            and ((before[-1].has("side") and not before[-1].led) or before[-1].has("control", "filler"))
        ):
            before = before[:-1]
        led = bool(before) and (before[-1].has("control", "prep") or before[-1].has("side"))
        return led and any(t.has("trait") or t.has("finding") for t in before)

    def _led_off(self, name: Named, clause: Clause) -> bool:
        """ "Let me do it again without moving the elbow": not what is looked at."""
        at = clause.at(name.term)
        return any(t.has("control", "no") or t.has("trait") for t in clause.terms[:at])

    def _within(self, named: Sequence[Named]) -> bool:
        region = self.region[0]
        inside = set(region.noun.scope) if region else set()
        return bool(inside) and all(s in inside for n in named for s in n.noun.normal)

    def _loose(self, clause: Clause, bare: bool) -> None:
        """A grade or a place by itself waits for what it is of: "grade two, no, make that three, murmur"."""
        grade = self.figures.grades.get(id(clause), "")
        numbers = [t for t in numbers_of(self.figures, clause) if t.number]
        if bare and grade:
            self.lone_grade = (clause.sentence, grade)
        elif (
            bare
            and numbers
            and self.lone_grade[0] == clause.sentence
            and self.correcting_sentence == clause.sentence
        ):
            digits = numbers[0].number.digits if numbers[0].number else ""
            self.lone_grade = (clause.sentence, digits)
        sides = [k for t in clause.terms for k in t.keys("side") if k in ("left", "right")]
        if bare and len(numbers) == len(sides) == 1 and any(n.key == "mammary" for n in self.topic):
            digits = numbers[0].number.digits if numbers[0].number else ""
            self.gland = (clause.sentence, f"{sides[0][0].upper()}{digits}")
        where = next(
            (k for t in clause.terms for k in t.keys("place") if k.split()[0] in ("apex", "base", "sternum")),
            "",
        )
        if bare and where:
            self.lone_place = (clause.sentence, where)

    def _under_over(self, home: Sequence[Named], clause: Clause) -> bool:
        """ "Lungs, he's panting, but the front …": still of what the sentence is headed with."""
        over = self.over[1] if self.over[0] == clause.sentence else []
        stations = stations_of(over)
        return bool(stations) and {x.partition(".")[0] for n in home for x in n.noun.normal} <= stations

    def _home_topic(self, clause: Clause) -> list[Named]:
        """ "There's a slip on the left. Right side I don't feel one": the trait names its line."""
        for at, term in enumerate(clause.terms):
            if term.has("number-unit") and set(term.words) & set(self.vocabulary.language.breaths):
                rate = "VIT.respiratory-rate"  # "twenty breaths a minute, easy"
                return [Named(rate, self.vocabulary.nouns[rate], False, term)]
            keys = (*term.keys("trait"), *term.keys("finding"))
            likened = term.text in self.vocabulary.language.likened
            if likened and self.topic_sentence == clause.sentence:
                continue  # "the node in front of the shoulder, hard as a marble"
            if self._adjective(clause, at) or any(self.topic_matches(key) for key in keys):
                continue  # "ears: … no redness": theirs, whatever else a redness is of
            for key in keys:
                if key in self.vocabulary.nearby:
                    continue  # it has no home of its own
                if key in self.vocabulary.passing and self.topic_sentence == clause.sentence:
                    continue  # "belly is round, that's just milk"
                finding = self.vocabulary.walk.finding.get(key)
                homes = finding.structures[:1] if finding else self.vocabulary.home.get(key, ())
                homes = tuple(h for h in homes if h in self.vocabulary.nouns)
                if homes and key not in GENERIC and not self.topic_matches(key):
                    return [Named(homes[0], Noun(homes, homes), False, None)]
            for codes in term.keys("says"):
                homes = tuple(h for h in codes.split() if h in self.vocabulary.nouns)
                if homes:
                    return [Named(homes[0], Noun(homes, homes), True, None)]
        return []

    def _adjective(self, clause: Clause, at: int) -> bool:
        """ "a pink lump", "a pink spot": how something else looks, which is no word about what is named."""
        term = clause.terms[at]
        after = clause.terms[at + 1 : at + 2]
        if not term.has("trait") or not after:
            return False
        calm = any(k in self.vocabulary.calm for k in term.keys("trait"))
        definite = at > 0 and clause.terms[at - 1].has("word", "the")
        if calm and definite and after[0].has("control", "prep") and not term.has("noun"):
            return True  # "the pink around it is angry"
        found = after[0].has("trait") and not any(k in self.vocabulary.calm for k in after[0].keys("trait"))
        if found and term.has("trait", "big", "huge") and not after[0].has("control"):
            return True  # "a big mat under the armpit"
        if not any(k in self.vocabulary.calm for k in term.keys("trait")):
            return False
        alone = at == 0 and clause.opens and not any(t.has("noun") for t in clause.terms)
        if alone and after[0].has("severity") and len(clause.terms) > 2:
            after = clause.terms[at + 2 : at + 3]  # "regular little howler"
        if alone and after[0].kind == UNKNOWN and term.alone:
            return True  # "Regular food"
        something = after[0].kind == UNKNOWN and self._from_somewhere(clause, at + 2)
        if something and any(t.has("severity", "mild") for t in clause.terms[:at]):
            return True  # "a little clear snivel from both nostrils"
        lump = any(k in self.vocabulary.things for k in after[0].keys("trait"))
        articles = self.vocabulary.language.forms["word"].get("article", ())
        article = at > 0 and clause.terms[at - 1].words[-1:] and clause.terms[at - 1].words[-1] in articles
        like = at > 1 and clause.terms[at - 2].has("word", "like")  # "like a smooth chestnut"
        return lump or bool(article and after[0].kind == UNKNOWN and not like)

    def _from_somewhere(self, clause: Clause, at: int) -> bool:
        rest = clause.terms[at:]
        return bool(rest) and rest[0].has("control", "prep") and any(t.has("noun") for t in rest)

    def topic_matches(self, key: str) -> bool:
        return any(self.vocabulary.meaning(s, key) for n in self.topic for s in n.noun.scope)

    def _only_side(self, clause: Clause) -> bool:
        """ "Ears: left, canal red": a side by itself."""
        return all(t.has("side") or t.has("control", "filler") for t in clause.terms)

    def _heads(self, clause: Clause) -> bool:
        """A limb is spoken of from here on: it is named first, or nothing else is said."""
        first = next((t for t in clause.terms if not t.has("control", "filler")), clause.terms[0])
        lame = any(t.has("trait", "lame", "bad-sit") for t in clause.terms)
        told = [t for t in clause.terms if not t.has("word", "onward")]  # "starting up top on the left fore"
        said = any(t.has("trait") or t.has("finding") for t in told)
        led = first.has("limb") or first.has("side")
        at = clause.terms.index(first) + 1
        it = any(
            t.has("word", "subject") for t in clause.terms[at : at + 2]
        )  # "left fore she won't put down"
        return not said or (led and (not lame or clause.unstopped or it))

    def _side_one(self, clause: Clause) -> bool:
        """ "The left one's smelly, the flap's fine": one of them is spoken of."""
        return any(
            t.has("side", "left", "right") and t.words[-1] in self.vocabulary.language.pronouns
            for t in clause.terms
        )

    def _side_before(self, clause: Clause) -> bool:
        """ "Eyes. The left one has …": one of what the sentence before was about, and that alone."""
        first = next((t for t in clause.terms if not t.has("control", "filler")), clause.terms[0])
        one = first.has("side") and first.words[-1] in self.vocabulary.language.pronouns
        return clause.opens and one and self.topic_alone == clause.sentence - 1

    def _new_limb(self, clause: Clause) -> bool:
        """ "Right hind, nothing wrong": a limb begins a sentence, and what was spoken of is no part of it."""
        return bool(
            clause.opens
            and clause.having("limb")
            and self.topic
            and self.topic_sentence < clause.sentence
            and not all(n.noun.fore is not None for n in self.topic)
            and not (any(self._of_four(n) for n in self.topic) and clause.having("side", "left", "right"))
        )

    def _of_four(self, name: Named) -> bool:
        """What each of the four limbs is asked: "Placing, front feet quick. Hind left, quick."."""
        return any(self.vocabulary.walk.structure[x].sided == "four" for x in name.noun.normal)
