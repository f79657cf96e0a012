"""The words that are listened for: built once per walk and language, then only read."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import Any, NamedTuple

from exams.spoken.language import FOLDER, Language, Mishearing, UnknownLanguage, languages, read_language
from exams.spoken.shapes import FORM_KINDS, Form
from exams.spoken.sounds import Sounds
from exams.spoken.tokens import LESS, MORE, OUT_OF
from exams.walk import Structure, Walk

__all__ = ["Noun", "Sense", "UnknownLanguage", "Vocabulary", "languages", "vocabulary_of"]

MEANINGS = Path(__file__).with_name("meanings.toml")
SOUNDED = ("noun", "trait", "finding")  # sections whose words are also matched by their sound
LOOKED_UP = (
    "direction",
    "tooth",
    "pronoun",
    "vertebra",
)  # sections that are no terms: looked for within what a clause says
SAID_OF_ANYTHING = (
    "good",
    "clear",
    "clean",
    "open",
)  # "mum cleans his ears": a verb, and no plural of a word
MANY_LINES = 4  # that are normal by one word: it fits anything
LONGEST_NAME = 5  # words of a finding's or structure's name that somebody would say


class Sense(NamedTuple):
    """One meaning of a form: a section of the language's file and its key. `plural`: said of several."""

    kind: str
    key: str
    plural: bool = False


@dataclass(frozen=True, slots=True)
class Either:
    """One thing that a name may mean: what decides it, traits, stations spoken of before, or a side."""

    noun: str
    traits: frozenset[str] = frozenset()
    near: frozenset[str] = frozenset()
    sided: bool = False


@dataclass(frozen=True, slots=True)
class Noun:
    """What a name answers for: see `meanings.toml`."""

    normal: tuple[str, ...] = ()
    scope: tuple[str, ...] = ()
    fore: tuple[str, ...] | None = None
    hind: tuple[str, ...] | None = None
    scoped: tuple[str, ...] | None = None
    absent: tuple[str, ...] | None = None
    unfelt: tuple[str, ...] | None = None
    to_tail: tuple[str, ...] = ()
    neuro: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    mute: tuple[str, ...] = ()
    digit: str = ""
    never: bool = False
    one: bool = False


Node = dict[str, Any]
END = "\0"


@dataclass
class Vocabulary:
    """Words of one walk in one language. Immutable once built."""

    walk: Walk
    language: Language
    nouns: Mapping[str, Noun]
    lines: Mapping[str, Mapping[str, str]]
    home: Mapping[str, tuple[str, ...]]
    denied: frozenset[str]
    graded: Mapping[str, str]
    worded: Mapping[str, frozenset[str]]
    placed: Mapping[str, frozenset[str]]
    strongest: tuple[tuple[str, ...], ...]
    explains: Mapping[str, frozenset[str]]
    shy: frozenset[str]
    of_all: frozenset[str]
    passing: frozenset[str]
    lone: frozenset[str]
    nearby: frozenset[str]
    beside_line: Mapping[str, Mapping[str, str]]
    silent: frozenset[str]
    tempered: Mapping[str, frozenset[str]]
    single: frozenset[str]
    headings: frozenset[str]
    either: Mapping[str, tuple[Either, ...]]
    tooth: Mapping[str, Mapping[str, str]]
    beside: Mapping[str, Mapping[str, str]]
    besides: Mapping[str, str]
    things: frozenset[str]
    of_lumps: frozenset[str]
    of_skin: frozenset[str]
    surface: frozenset[str]
    skin_looks: frozenset[str]
    regions: tuple[str, ...]
    blank: frozenset[str]
    over: Mapping[str, str]
    asks: frozenset[str]
    under: frozenset[str]
    undone: frozenset[str]
    tests: Mapping[str, str]
    below: Mapping[str, Mapping[str, str]]
    known_before: frozenset[str]
    trie: Node = field(default_factory=dict)
    known: set[str] = field(default_factory=set)
    misheard: Node = field(default_factory=dict)
    clipped: dict[str, str] = field(default_factory=dict)  # "cant": dictation leaves the apostrophe out
    sounds: Sounds = field(default_factory=Sounds)
    _meaning: dict[tuple[str, str], str] = field(default_factory=dict)

    def meaning(self, structure: str, trait: str) -> str:
        """What `trait` says of `structure`: "normal", a finding's code, several apart by "|", or nothing."""
        key = (structure, trait)
        found = self._meaning.get(key)
        if found is None:
            found = self._meaning[key] = self._look_up(structure, trait)
        return found

    def _look_up(self, structure: str, trait: str) -> str:
        finding = self.walk.finding.get(trait)
        if finding is not None:
            return trait if structure in finding.structures else ""
        for line in (structure, structure.partition(".")[0] + ".*", "*"):
            result = self.lines.get(line, {}).get(trait)
            if result:
                return result
        if trait == "wart" and structure.startswith(("GUM.", "PER.")):
            return self._look_up(structure, "mass")
        return ""

    def fits(self, noun: str, trait: str) -> bool:
        """Whether a trait says anything of what the noun names."""
        named = self.nouns[noun]
        lines = (*named.normal, *named.scope, *(named.fore or ()), *(named.hind or ()))
        return any(self.meaning(line, trait) for line in lines)

    def leads(self, noun: str, after: str) -> bool:
        """Whether `noun`, said right before `after`, is only the heading over it: "ears, flaps clean"."""
        above, below = self.nouns[noun], self.nouns[after]
        if noun in self.headings:
            shared = {x.partition(".")[0] for x in above.scope} & {x.partition(".")[0] for x in below.scope}
            return after not in self.headings or bool(shared)
        return noun not in self.walk.structure and bool(set(above.scope) & set(below.normal))

    @cached_property
    def calm(self) -> frozenset[str]:
        """Traits that say of some line that it is normal."""
        return frozenset(t for table in self.lines.values() for t, says in table.items() if says == "normal")

    @cached_property
    def broad(self) -> frozenset[str]:
        """Words that many lines are normal by: of which it was, nothing in them says."""
        said = Counter(t for table in self.lines.values() for t, says in table.items() if says == "normal")
        return frozenset(t for t, lines in said.items() if lines >= MANY_LINES)

    def undecided(self, noun: str) -> bool:
        """Whether the noun is a name that two things go by, and neither is the usual one."""
        choices = self.either.get(noun, ())
        return bool(choices) and all(c.traits or c.near for c in choices)

    def paired(self, noun: str) -> bool:
        """Whether what the noun names has sides."""
        named = self.nouns[noun]
        if named.one:
            return False
        lines = (*named.normal, *named.scope, *(named.fore or ()), *(named.hind or ()))
        return not lines or any(
            self.walk.structure[x].sided != "none"
            or self.walk.structure[x].side_text not in ("none", "midline")
            for x in lines
        )

    def senses(self, words: tuple[str, ...]) -> tuple[Sense, ...]:
        node: Node = self.trie
        for word in words:
            if word not in node:
                return ()
            node = node[word]
        return tuple(node.get(END, ()))


# of one phrase only one of these is meant
MEANT_ALIKE = (frozenset({"noun"}), frozenset({"says", "finding", "trait"}))


def vocabulary_of(
    walk: Walk, forms: Iterable[Form] = (), language: str = "en", folder: Path = FOLDER
) -> Vocabulary:
    """Spoken forms of the files, of the walk's own structures and findings, and those the clinic accepted.
    Raises UnknownLanguage."""
    words = read_language(language, folder)
    nouns, meant = _meanings()
    nouns = {**{code: Noun((code,), (code,)) for code in walk.structure}, **nouns}
    vocabulary = Vocabulary(walk, words, nouns, **meant)
    add = _Adding(vocabulary)
    for section, keys in words.forms.items():
        if section in LOOKED_UP:
            continue
        for key, said in keys.items():
            for phrase in said:
                add(Sense(section, key), phrase)
    vocabulary.known.update(words.numbers, words.common)
    for sign, key in ((OUT_OF, "of"), (LESS, "under"), (MORE, "over")):
        vocabulary.trie[sign] = {END: [Sense("number", key)]}
        vocabulary.known.add(sign)
    for structure in walk.structure.values():
        _add_structure(add, structure, words)
    for finding in walk.finding.values():
        if not finding.retired:
            for phrase in (_plain(finding.name), *finding.spoken):
                short = len(phrase.split()) <= LONGEST_NAME and not re.search(r"\d", phrase)
                if short or phrase in finding.spoken:
                    add(Sense("finding", finding.code), phrase)
    mishearings = list(words.mishearings)
    for form in forms:
        if form.kind not in FORM_KINDS:
            continue
        if form.kind == "mishearing":
            mishearings.append(Mishearing(tuple(_split(form.words)), tuple(_split(form.means))))
        elif form.kind == "normal" and form.means in walk.structure:
            add.instead(Sense("says", form.means), form.words)
        elif form.kind == "structure" and form.means in nouns:
            add.instead(Sense("noun", form.means), form.words)
        elif form.kind == "finding" and form.means in walk.finding:
            add.instead(Sense("finding", form.means), form.words)
    vocabulary.clipped = {
        word.replace("'", ""): word
        for word in vocabulary.known
        if word.endswith(words.clipped) and word.replace("'", "") not in vocabulary.known
    }
    for mishearing in (*mishearings, *_several_misheard(mishearings, vocabulary)):
        if len(mishearing.heard) > 1 and not (mishearing.before or mishearing.after or mishearing.unless):
            vocabulary.sounds.add_alias("".join(mishearing.heard), mishearing.meant)
        node = vocabulary.misheard
        for word in mishearing.heard:
            node = node.setdefault(word, {})
        node.setdefault(END, []).append(mishearing)
    return vocabulary


def _several_misheard(mishearings: Sequence[Mishearing], vocabulary: Vocabulary) -> Iterator[Mishearing]:
    """ "Stye full" is a stifle, so "stye fulls" are stifles."""
    listed = {m.heard for m in mishearings}
    for m in mishearings:
        for ending in vocabulary.language.plural:
            heard = (*m.heard[:-1], m.heard[-1] + ending)
            meant = (*m.meant[:-1], m.meant[-1] + ending)
            fits = meant[-1] in vocabulary.known and len(m.heard) > 1 and heard not in listed
            if fits and not m.heard[-1].endswith(ending):
                yield Mishearing(heard, meant, m.after, m.before, m.unless)


def _add_structure(add: _Adding, structure: Structure, words: Language) -> None:
    if structure.code not in words.forms.get("noun", {}):
        name = _plain(structure.name)
        if "," not in structure.name and len(name.split()) <= LONGEST_NAME:
            add(Sense("noun", structure.code, " and " in f" {name} "), name)
    elif _several_words(structure.name):
        add.unless_known(
            Sense("noun", structure.code, " and " in f" {structure.name} "), _plain(structure.name)
        )
    for phrase in structure.spoken:
        add(Sense("noun", structure.code), phrase)


def _several_words(name: str) -> bool:
    return "," not in name and 1 < len(_plain(name).split()) <= LONGEST_NAME


class _Adding:
    """Puts forms into the tree, with the plural of nouns."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self._plural = [(e, re.compile(after)) for e, after in vocabulary.language.plural.items()]
        self._instead = tuple(vocabulary.language.whose.items())
        self._sounded: set[str] = set()

    def __call__(self, sense: Sense, phrase: str) -> None:
        words = [self._bare(w) for w in _split(phrase)]
        if not words:
            return
        listed = self.vocabulary.language.several
        several = sense.kind == "noun" and (words[-1] in listed or phrase in listed)
        sense = sense._replace(plural=True) if several else sense
        if sense.kind == "noun" and sense.key.startswith("LYM."):
            for said in self._sided(words):
                self._put_all(sense, said)
        for said in self._whose(words) if sense.kind != "place" else (words,):
            self._put_all(sense, said)

    def _whose(self, words: list[str]) -> Iterator[list[str]]:
        """ "Under the jaw" is under his jaw and under her jaw."""
        yield words
        for article, instead in self._instead:
            if article in words and article in words[:-1]:
                for other in instead:
                    yield [other if w == article else w for w in words]

    def _sided(self, words: list[str]) -> Iterator[list[str]]:
        """ "In front of the shoulder" is in front of the left shoulder."""
        language = self.vocabulary.language
        at = next((i for i, w in enumerate(words[:-1]) if i and w in language.whose), 0)
        for side in (*language.left_words, *language.right_words) if at else ():
            yield from self._whose([*words[: at + 1], side, *words[at + 1 :]])

    def _put_all(self, sense: Sense, words: list[str]) -> None:
        """A form, and where it ends as a plural does."""
        self._put(sense, words)
        last = words[-1]
        if sense.kind == "noun":
            for ending, after in self._plural:
                if after.search(last):
                    self._put(sense._replace(plural=True), [*words[:-1], last + ending], ending)
        if sense.kind in ("trait", "finding") and len(last) > 3 and sense.key not in SAID_OF_ANYTHING:
            for ending, after in self._plural:
                if ending == "s" and after.search(last):
                    self._put(sense._replace(plural=True), [*words[:-1], last + ending])
        if sense.kind in SOUNDED:
            for word in words:
                if word not in self._sounded:
                    self._sounded.add(word)
                    self.vocabulary.sounds.add(word)

    def unless_known(self, sense: Sense, phrase: str) -> None:
        """A name of the walk, where no form of the files says something else with these words."""
        if not self.vocabulary.senses(tuple(_split(phrase))):
            self(sense, phrase)

    def instead(self, sense: Sense, phrase: str) -> None:
        """What the clinic accepted for these words, where the files have another meaning of them."""
        alike = next((kinds for kinds in MEANT_ALIKE if sense.kind in kinds), frozenset())
        node: Node | None = self.vocabulary.trie
        for word in map(self._bare, _split(phrase)):
            node = node.get(word) if node else None
        if node and END in node:
            node[END] = [s for s in node[END] if s.kind not in alike]
        self(sense, phrase)

    def _bare(self, word: str) -> str:
        """ "heart's" is the heart; as the words of a text are taken."""
        kept = word in self.vocabulary.language.kept
        return word if kept or not word.endswith("'s") else word[:-2]

    def _put(self, sense: Sense, words: list[str], ending: str = "") -> None:
        node = self.vocabulary.trie
        for word in words:
            node = node.setdefault(word, {})
        self.vocabulary.known.update(words)
        held = node.setdefault(END, [])
        if held and ending and (one := sense._replace(plural=False)) in held:
            held[held.index(one)] = sense  # listed by itself as well
        for s in held:
            if s.key == sense.key and s.kind == sense.kind:
                return
        held.append(sense)


def _split(phrase: str) -> list[str]:
    return re.findall(r"[^\W_]+(?:'[^\W_]+)*", phrase.lower())


def _plain(name: str) -> str:
    return " ".join(_split(re.sub(r"\(.*?\)", " ", name)))


@cache
def _meanings() -> tuple[dict[str, Noun], dict[str, Any]]:
    """Nouns, and the other fields of a vocabulary that come from `meanings.toml`."""
    data = tomllib.loads(MEANINGS.read_text(encoding="utf-8"))
    nouns = {}
    for key, entry in data["noun"].items():
        told: dict[str, Any] = {
            k.replace("-", "_"): tuple(v) if isinstance(v, list) else v for k, v in entry.items()
        }
        told.setdefault("scope", told.get("normal", ()))
        nouns[key] = Noun(**told)
    lines = {
        line: {
            trait: result for result, traits in table.items() for trait in traits.replace("|", " ").split()
        }
        for line, table in data["line"].items()
    }
    return nouns, {
        "lines": lines,
        "home": {trait: tuple(where.split()) for trait, where in data["home"].items()},
        "denied": frozenset(data["denied"]["normal"].split()),
        "silent": frozenset(data["denied"]["silent"].split()),
        "tempered": {trait: frozenset(by.split()) for trait, by in data["tempered"].items()},
        "single": frozenset(data["single"]["lines"].split()),
        "headings": frozenset(data["headings"]["nouns"].split()),
        "either": {
            noun: tuple(
                Either(told)
                if isinstance(told, str)
                else Either(
                    meant,
                    frozenset(told["traits"].split()),
                    frozenset(told["near"].split()),
                    told.get("sided", False),
                )
                for meant, told in choices.items()
            )
            for noun, choices in data["either"].items()
        },
        "tooth": data["tooth"],
        "beside": data["beside"],
        "besides": data["besides"],
        "regions": tuple(data["headings"]["regions"].split()),
        "over": data["over"],
        "blank": frozenset(data["headings"]["blank"].split()),
        "asks": frozenset(data["headings"]["asks"].split()),
        "under": frozenset(data["headings"]["under"].split()),
        "undone": frozenset(data["headings"]["undone"].split()),
        "tests": data["tests"],
        "below": data["under"],
        "known_before": frozenset(data["things"]["known"].split()),
        "things": frozenset(data["things"]["traits"].split()),
        "of_skin": frozenset(data["things"]["skin"].split()),
        "surface": frozenset(data["things"]["surface"].split()),
        "skin_looks": frozenset(data["things"]["looks"].split()),
        "of_lumps": frozenset(data["things"]["lumps"].split()),
        "graded": data["graded"],
        "placed": {code: frozenset(places.split()) for code, places in data["placed"].items()},
        "worded": {code: frozenset(words.split()) for code, words in data["worded"].items()},
        "explains": {code: frozenset(looks.split()) for code, looks in data["explains"].items()},
        "strongest": tuple(tuple(group.split()) for group in data["strongest"]["groups"]),
        "lone": frozenset(data["shy"]["lone"].split()),
        "nearby": frozenset(data["shy"]["nearby"].split()),
        "beside_line": data["beside-line"],
        "passing": frozenset(data["shy"]["passing"].split()),
        "shy": frozenset(data["shy"]["traits"].split()),
        "of_all": frozenset(data["shy"]["of-all"].split()),
    }
