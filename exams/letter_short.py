"""What the exam says at the head of a letter: how things stand, what it was about, when to call."""

from __future__ import annotations

from collections.abc import Callable

from clinic.letters.document import Point, Sentence
from exams import came_for
from exams.came_for import spoken_of
from exams.letter_findings import WHOLE, Told, lower_first
from exams.letter_walk import WalkInWords, is_asked, is_limited
from exams.sentences import joined
from exams.state import NOT_YET
from exams.state import standing as line_standing

WEIGHT = "VIT.weight"
NOT_LOOKED = (came_for.Told.UNSEEN, came_for.Told.NOTHING)
MOST_PLACES = 3  # named in one breath


class InShort:
    """The head of the letter, from one walk in words."""

    def __init__(self, words: WalkInWords) -> None:
        self.words, self.t = words, words.t
        self.found_at = {told.line.station for told in words.found}

    def answers(self, owners_words: str) -> tuple[Sentence, ...]:
        """What was recorded where the owner's own words point; nothing where they point nowhere."""
        by: dict[came_for.Told, list[str]] = {}
        spoken = spoken_of(owners_words)
        # the body's condition speaks of the weight as well
        in_condition = "BCM" in spoken and any(told.line.station == "BCM" for told in self.words.found)
        for station in self.words.walk.stations:
            if station.code in spoken:
                own = [x for x in self.words.lines.at(station.code) if x.applies and not x.whole_station]
                answers = [(x, a) for x in own if (a := self.words.state.answers.get(x.stored_at[0]))]
                here = [told for told in self.words.found if told.line.station == station.code]
                if station.code == "VIT" and in_condition:
                    here = [told for told in here if told.line.structure != WEIGHT]
                    if not here:
                        continue
                what = came_for.told(
                    found=bool(here) or any(a.is_abnormal for _x, a in answers),
                    normal=self.words.has_normal(station),
                    limited=any(is_limited(x, a) for x, a in answers),
                )
                other = {"FLB": "HLB", "HLB": "FLB"}.get(station.code)
                if what in NOT_LOOKED and other in self.found_at:
                    continue  # a nail, a limp: the leg that was meant has been found
                where = [lower_first(self.words.named(each)) for each in here]
                name = lower_first(self.t(f"station.{station.code}.name"))
                if len(dict.fromkeys(where)) > 1 and station.code not in WHOLE:
                    where = [name]
                by.setdefault(what, []).extend(dict.fromkeys(where or [name]))
        if came_for.Told.FOUND in by:  # what is normal beside it would sound like the answer
            by.pop(came_for.Told.NORMAL, None)
            by.pop(came_for.Told.PART, None)
        return tuple(
            self.t.sentence(
                f"asked:{what}", f"asked.{what}", "the exam", f"{owners_words.strip()}: {what}",
                names=joined(names, self.t),
            )
            for what, names in by.items()
        )  # fmt: skip

    def headline(self, well: Callable[[], bool] = lambda: False) -> Sentence | None:
        """`well`: whether nothing else speaks against good health; asked where nothing found here does."""
        if self.words.found:
            return self._headline_of_findings()
        full, looked_at = (
            self.words.state.kind == "full",
            any(a.status == "normal" for a in self.words.state.answers.values()),
        )
        if not looked_at or (full and self._routine_open()):
            return None  # nobody has looked at all of it yet
        if full and not self._left_out() and well():
            recorded = "nothing abnormal recorded, nothing left out, no open problem, medicine or test"
            return self.t.sentence("headline", "headline.well", "the visit", recorded, pet=self.words.pet)
        key = "headline.full" if full else "headline.focused"
        return self.t.sentence("headline", key, "the exam", "nothing abnormal recorded", pet=self.words.pet)

    def _left_out(self) -> bool:
        """Whether anything was not examined, or only in part, that the letter has to say, or not measured."""
        if any(self.words.not_taken(station) for station in self.words.walk.stations):
            return True
        answers = ((x, self.words.state.answers.get(x.stored_at[0])) for x in self.words.lines if x.applies)
        return any(a is not None and is_limited(x, a) for x, a in answers)

    def _routine_open(self) -> bool:
        """Whether a line that every full walk looks at has no answer yet."""
        return any(
            line_standing(self.words.state, self.words.lines, line.key)[0] == NOT_YET
            for line in self.words.lines
            if is_asked(line)
        )

    def _headline_of_findings(self) -> Sentence:
        """By the most urgent class recorded; what it may be, only an assessment says."""
        classes = [told.urgency for told in self.words.found]
        recorded = "; ".join(
            f"{self.words.where(told, self.t)}: class {told.urgency}" for told in self.words.found
        )
        if "E" in classes or "T" in classes:
            key = "headline.now" if "E" in classes else "headline.treat"
            return self.t.sentence("headline", key, "the exam", recorded, pet=self.words.pet)
        key = "headline.again" if "R" in classes else "headline.watch"
        spoken = _weight_once(self.words.found)
        places = list(dict.fromkeys(lower_first(self._place(told)) for told in spoken))
        if len(places) <= MOST_PLACES:
            where = "; ".join(places)
            return self.t.sentence("headline", f"{key}_at", "the exam", recorded, where=where)
        return self.t.sentence("headline", key, "the exam", recorded, n=len(classes))

    def _place(self, told: Told) -> str:
        """As it stands on the walk below."""
        return self.words.heading(told, self.words.for_owner(told, told.entry), self.t)

    def points(self) -> tuple[Point, ...]:
        """Urgent findings that no problem of today speaks of; the others come with their problem."""
        bare = [
            t for t in self.words.found if t.urgency in ("E", "T") and not set(t.keys) & self.words.planned
        ]
        return tuple(Point(self._short(t), t.urgency) for t in bare)

    def watch(self) -> tuple[Sentence, ...]:
        """What to call about at once because of what was found here, where a text says so."""
        found = {told.entry.code: told for told in self.words.found}
        return tuple(
            self.t.sentence(f"call-now:{code}", f"watch.{code}", "the exam", "", told.by, pet=self.words.pet)
            for code, told in found.items()
            if self.t.entry(f"watch.{code}") is not None
        )

    def calls(self, letter: str) -> tuple[Sentence, ...]:
        """What an urgent finding asks the owner to watch: one line for all of them."""
        here = [told for told in self.words.found if told.urgency == letter]
        if not here:
            return ()
        names = dict.fromkeys(self.words.lower(self._watched(told)) for told in _weight_once(here))
        # the whole of a place speaks of its sides as well
        whole = [name for name in names if not any(name.startswith(f"{other}, ") for other in names)]
        last = sorted(whole, key=lambda name: self.t("walk.and") in name)
        where = joined(last, self.t, pet=self.words.pet)
        key = f"call:{letter}:{here[0].keys[0]}"
        return (self.t.sentence(key, "walk.worse", "the exam", where, where=where),)

    def _watched(self, told: Told) -> str:
        """What an owner can see of it: the place, or, where that is the whole animal, what was said of it."""
        if told.line.station not in WHOLE or told.line.depth == "measured":
            return self.words.named(told)
        said = self.words.for_owner(told, told.entry)
        return self.words.where(told, self.t) if said.lang else said.text.partition(". ")[0].rstrip(".")

    def _short(self, told: Told) -> Sentence:
        said = self.words.for_owner(told, told.entry)
        t, key = self.words.texts_for(said), f"point:{told.keys[0]}:{told.entry.code}"
        text = t("walk.line", where=self.words.heading(told, said, t), what=self.words.lower(said.text))
        grave = self.words.both(told, said)
        return Sentence(key, text, "the exam", by=told.by, lang=said.lang, both=grave)


def _weight_once(found: list[Told]) -> list[Told]:
    """Without the weight, where a finding of the body's condition speaks of it as well."""
    in_condition = any(told.line.station == "BCM" for told in found)
    return [told for told in found if not (in_condition and told.line.structure == WEIGHT)]
