"""Which lines a name answers for where it stands: of which limb, part of the lungs or jaw, with the scope."""

from __future__ import annotations

from exams.spoken.clause import Clause
from exams.spoken.naming import Naming
from exams.spoken.said import Named
from exams.spoken.sides import ALL_NECK, Place, sides_said
from exams.spoken.vocabulary import Noun


class Lines(Naming):
    """A step of `Listening`."""

    def _targets(self, name: Named, place: Place, clause: Clause) -> tuple[tuple[str, ...], tuple[str, ...]]:
        noun = name.noun
        normal, scope = noun.normal, noun.scope
        limb = name.limb or place.limb or self._limb_of_row(name, clause)
        limb = limb or (self.limb.limb if self._limbed(noun) else "")
        if limb == "fore" and noun.fore is not None:
            normal = noun.fore
            scope = (*noun.fore, *(s for s in scope if not s.startswith("HLB")))
        elif limb == "hind" and noun.hind is not None:
            normal = noun.hind
            scope = (*noun.hind, *(s for s in scope if not s.startswith("FLB")))
        elif limb == "all" and not normal and noun.fore is not None and noun.hind is not None:
            normal = (*noun.fore, *noun.hind)
        if noun.scoped is not None and place.has("in and out") and place.has("scope"):
            pass  # "clean outside and inside with the scope the right …": what is inside comes next
        elif noun.scoped is not None and place.has("in and out"):
            normal = (*noun.normal, *noun.scoped)
        elif noun.scoped is not None and place.has("outside"):
            normal = (
                (*noun.normal, *noun.scoped) if place.has("inside") and not place.has("scope") else normal
            )
        elif noun.scoped is not None and place.has("scope", "inside") and not clause.having("control", "no"):
            normal = noun.scoped
        if noun.to_tail and place.has("to ribs"):
            normal = tuple(x for x in normal if x == "SPN.thoracic")
        if noun.to_tail and (place.has("to tail") or self.to_tail == clause.sentence):
            normal = (*normal, *noun.to_tail)
        stations = {s.partition(".")[0] for s in normal}
        if stations == {"LUN"}:
            own = name.term is not None and name.term in clause.terms
            places = place.lungs or (() if own else self.lung_places)
            if places:
                normal = tuple(s for s in normal if s in places)
                scope = normal
        if name.key == "gums" and self._of_quadrant(clause):
            normal = scope = ("MTH.gums",)
        if name.key == "kidneys":
            said = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
            side = name.side or (said[0] if said else "")
            if side in ("left", "right"):
                normal = scope = (f"ABD.kidney-{side}",)
        own = name.term is not None and name.term in clause.terms
        droops = own and any(t.has("trait", "droops") for t in clause.terms)
        if noun.neuro and (self.neuro or droops or self.nerves == clause.sentence):
            normal, scope = noun.neuro, (*noun.neuro, *scope)
        if name.key == "neck":
            kept = self.neck_said[1] if self.neck_said[0] == clause.sentence else ()
            if place.neck and clause.having("control", "skip"):
                kept = ()  # "Up and down, no stiffness, sideways he wouldn't let me"
            told = self._told(clause)
            normal = tuple(dict.fromkeys((*(k for k in kept if k not in told), *place.neck)))
            if kept and not place.neck:
                scope = (*reversed(kept), *(x for x in scope if x not in ALL_NECK))
        return normal, scope

    def _of_quadrant(self, clause: Clause) -> bool:
        """ "Right lower gum is normal": what has sides and jaws is no colour."""
        jaw = clause.having("place", "upper", "lower")
        sides = [k for t in clause.terms for k in t.keys("side") if k in ("left", "right")]
        return bool(jaw) and len(set(sides)) == 1

    def _limb_of_row(self, name: Named, clause: Clause) -> str:
        """ "Left stifle, hock and foot fine": the foot of the limb that the others belong to."""
        if name.noun.fore is None or name.term not in clause.terms:
            return ""
        stations = {
            s.partition(".")[0]
            for t in clause.terms
            if t is not name.term
            for k in t.keys("noun")
            for s in self.vocabulary.nouns[k].normal
            if self.vocabulary.nouns[k].fore is None
        }
        return "hind" if stations == {"HLB"} else "fore" if stations == {"FLB"} else ""

    def _limb_over(self, structure: str, clause: Clause) -> None:
        """ "Right fore: carpus fine, elbow fine. … Carpus fine.": round again, so of another limb."""
        lines = self.limb_lines
        if structure.partition(".")[0] != self.limb.station or self.limb_sentence == clause.sentence:
            return
        if structure in lines and lines[-1] != structure:
            self.limb = Place()
        elif structure not in lines:
            lines.append(structure)

    def _limbed(self, noun: Noun) -> bool:
        return bool(self.limb.limb) and (noun.fore is not None or noun.hind is not None)
