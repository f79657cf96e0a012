"""Rules of the published scales: from what was seen to a grade, and from a grade to finding codes.

Each function names its source; "from memory, to be checked" stands where no copy was at hand.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

TEN_MM = 10.0
GRIMACE_ITEMS = {"ears", "eyes", "muzzle", "whiskers", "head"}
USUALLY_NOT_FELT = ("axillary", "inguinal", "retropharyngeal", "parotid")


class GradeConflict(ValueError):
    """Two statements that cannot both hold, or a grade without what it needs; ask, do not save."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Finding codes to offer, the class where the rule fixes one, and a sentence for the clinician."""

    codes: tuple[str, ...] = ()
    urgency: str = ""
    prompt: str = ""


@dataclass(frozen=True, slots=True)
class Graded:
    """A grade of a scale; provisional until seen under anaesthesia or confirmed."""

    scale: str
    grade: int
    provisional: bool = False


@dataclass(frozen=True, slots=True)
class PainScore:
    """A total of an external pain scale with its maximum; `relief`: the scale suggests pain relief."""

    scale: str
    total: int
    maximum: int
    relief: bool

    @property
    def ratio(self) -> float:
        return self.total / self.maximum if self.maximum else 0.0


# ---- Heart


def murmur_grade(loudness: str, *, thrill: bool = False, lifted_off: bool = False) -> int:
    """Grade 1-6 from loudness against the heart sounds: faint, softer, equal or louder.

    Source: Veterinary Cardiovascular Society, murmur grading for screening; lift-off for VI: Vet360.
    """
    if lifted_off and not thrill:
        raise GradeConflict("heard with the stethoscope lifted off, but without a thrill")
    if thrill:
        return 6 if lifted_off else 5
    return {"faint": 1, "softer": 2, "equal": 3, "louder": 4}[loudness]


def murmur_code(grade: int, *, thrill: bool | None = None) -> str:
    """HRT-01, -02 or -03. A thrill means V or VI; without one it is IV at most (same source)."""
    if not 1 <= grade <= 6:
        raise GradeConflict("a murmur is graded I to VI")
    if thrill is not None and thrill != (grade >= 5):
        raise GradeConflict("with a thrill the grade is V or VI, without one IV at most")
    return {1: "HRT-01", 2: "HRT-01", 3: "HRT-02", 4: "HRT-02", 5: "HRT-03", 6: "HRT-03"}[grade]


def check_heart_stage(stage: str, *, role: str, imaging: bool) -> str:
    """A stage is entered, never reckoned: only by a clinician, and beyond A with imaging.

    Source: Keene et al., J Vet Intern Med 2019;33:1127-1140.
    """
    if role != "clinician":
        raise GradeConflict("only a clinician enters a stage")
    if stage in ("B1", "B2") and not imaging:
        raise GradeConflict(f"stage {stage} needs imaging; the physical exam alone cannot tell")
    return stage


# ---- Legs


def patella_grade(*, out_by_itself: bool, always_out: bool, returns: str) -> int:
    """Putnam style 0-4. returns: at-once, with-help, by-hand or never; "stays": cannot be pushed out.

    Source: Putnam 1968, restated in veterinary teaching.
    """
    if returns == "stays":
        return 0
    if always_out and returns == "never":
        return 4
    if out_by_itself or always_out:
        return 3
    return 1 if returns == "at-once" else 2


def patella_code(grade: int, *, side: str, direction: str) -> str:
    """HLB-08 to -11. Side and direction always (common practice)."""
    if side not in ("left", "right") or direction not in ("medial", "lateral", "both"):
        raise GradeConflict("a kneecap's grade needs its side and its direction")
    return {1: "HLB-08", 2: "HLB-09", 3: "HLB-10", 4: "HLB-11"}[grade]


def lameness_grade(severity: str, *, weight_bearing: str) -> Graded:
    """0-5, Colorado State. severity: none, barely, mild, moderate, severe; weight_bearing: full or hardly.

    Source: Goh, WSAVA congress 2019. Not validated; not the horse scale.
    """
    if weight_bearing == "hardly":
        return Graded("lameness-5", 5)
    return Graded("lameness-5", {"none": 0, "barely": 1, "mild": 2, "moderate": 3, "severe": 4}[severity])


# ---- Mouth


def periodontal_stage(attachment_loss_percent: float, *, furcation: int = 0, gingivitis: bool = True) -> int:
    """PD 0-4 of one tooth: the worse of attachment loss and furcation; 25% and 50% belong to PD 3.

    Source: AVDC periodontal stages.
    """
    by_loss = int(gingivitis)
    if attachment_loss_percent > 0:
        by_loss = 2 if attachment_loss_percent < 25 else 3 if attachment_loss_percent <= 50 else 4
    return max(by_loss, {0: 0, 1: 2, 2: 3, 3: 4}[furcation])


def periodontal(attachment_loss_percent: float, *, furcation: int = 0, awake: bool) -> Graded:
    """The stage, provisional in an awake animal (Bauer et al., PLOS ONE 2018;13(9):e0203930)."""
    stage = periodontal_stage(attachment_loss_percent, furcation=furcation)
    return Graded("periodontal-4", stage, provisional=awake)


def calculus_index(covered: float, *, below_gum: bool = False) -> int:
    """Plaque or calculus 0-3 from the part of the outer surface covered, 0 to 1 (common teaching table)."""
    if covered <= 0:
        return 0
    if covered > 2 / 3:
        return 3
    return 2 if covered >= 1 / 3 or below_gum else 1


def gingivitis_index(*, red: bool, bleeds: bool = False, to_mucogingival_line: bool = False) -> int:
    """Gingivitis 0-3 (common teaching table)."""
    if to_mucogingival_line:
        return 3
    return 2 if bleeds else int(red)


# ---- Pain, hydration, consciousness


def grimace(items: Mapping[str, int | None]) -> PainScore:
    """Feline Grimace Scale: five items 0-2, None when it cannot be scored and then left out of both sums.

    A ratio above 0.39 suggests pain relief. Source: Evangelista et al., Sci Rep 2019;9:19128.
    """
    scored = [v for v in items.values() if v is not None]
    if set(items) != GRIMACE_ITEMS or any(v not in (0, 1, 2) for v in scored):
        raise GradeConflict("ears, eyes, muzzle, whiskers and head, each 0 to 2")
    total, maximum = sum(scored), 2 * len(scored)
    return PainScore("feline-grimace", total, maximum, maximum > 0 and total / maximum > 0.39)


def pain_total(scale: str, total: int, maximum: int) -> PainScore:
    """A total of a scale whose form is not shown here, with its point of action.

    Sources: Brondani et al., BMC Vet Res 2013;9:143 (over 7); Belli et al., PeerJ 2021;9:e11225 (4 of 12);
    Reid et al. 2007 (6 of 24, 5 of 20) and 2017 (5 of 20): from memory, to be checked.
    """
    act_at = {
        ("ufeps", 30): 8,
        ("ufeps-sf", 12): 4,
        ("cmps-sf", 24): 6,
        ("cmps-sf", 20): 5,
        ("cmps-feline", 20): 5,
    }
    if (scale, maximum) not in act_at or not 0 <= total <= maximum:
        raise GradeConflict(f"{total} of {maximum} is not a total of {scale}")
    return PainScore(scale, total, maximum, total >= act_at[scale, maximum])


def dehydration(signs: Collection[str]) -> Suggestion:
    """The worst band that a sign belongs to. Source: AAHA fluid therapy guidelines, Table 5.

    signs: slight-turgor, semi-dry-gums; moderate-turgor, dry-gums, weak-fast-pulse, sunken-eyes;
    marked-turgor, very-sunken-eyes, fast-heart, very-dry-gums, thready-pulse, low-pressure, dull.
    """
    bands = {
        "GEN-15": {"marked-turgor", "very-sunken-eyes", "very-dry-gums", "thready-pulse", "low-pressure"},
        "GEN-14": {"moderate-turgor", "dry-gums", "weak-fast-pulse", "sunken-eyes"},
        "GEN-13": {"slight-turgor", "semi-dry-gums"},
    }
    known = {"fast-heart", "dull"}.union(*bands.values())
    if set(signs) - known:
        raise GradeConflict(f"not a sign of this table: {', '.join(sorted(set(signs) - known))}")
    for code, band in bands.items():
        if band & set(signs):
            return Suggestion((code,), "E" if code == "GEN-15" else "T")
    return Suggestion()


def coma_scale(motor: int, brainstem: int, consciousness: int) -> tuple[int, str]:
    """Total 3-18 and its band (Platt and Olby 2013; bands from memory, to be checked)."""
    parts = (motor, brainstem, consciousness)
    if any(not 1 <= p <= 6 for p in parts):
        raise GradeConflict("each part is 1 to 6")
    total = sum(parts)
    return total, "grave" if total <= 8 else "guarded" if total <= 14 else "good"


# ---- Eyes and nerves


def tear_test(species: str, mm_per_min: float, *, signs: bool = False) -> Suggestion:
    """EYE-11 at 10-14 mm/min, EYE-12 under 10, dogs only.

    Source: Gelatt, Veterinary Ophthalmology, 6th ed (from memory, to be checked). Stressed cats can read
    near 0.
    """
    if species == "cat":
        low = mm_per_min < 15 and not signs
        return Suggestion(prompt="low values are common in stressed cats: read with the signs" if low else "")
    if mm_per_min >= 15:
        return Suggestion()
    return Suggestion(("EYE-11",), "R") if mm_per_min >= 10 else Suggestion(("EYE-12",), "T")


def eye_pressure(
    mmhg: float, *, other_mmhg: float | None = None, painful: bool = False, vision_lost: bool = False
) -> Suggestion:
    """EYE-24 above the usual 10-25 mmHg; a difference of 8 or more between the eyes needs a look.

    Source: common teaching; Vet Ophthalmol 2011, cat tonometer table. Always an emergency over 30 or painful.
    """
    if mmhg > 30 or (mmhg > 25 and (painful or vision_lost)):
        return Suggestion(("EYE-24",), "E")
    if mmhg > 25:
        return Suggestion(("EYE-24",), prompt="above the usual range: measure again, name the device")
    if other_mmhg is not None and abs(mmhg - other_mmhg) >= 8:
        return Suggestion(prompt="the eyes differ by 8 mmHg or more")
    return Suggestion(prompt="below the usual range: look for inflammation" if mmhg < 10 else "")


def menace_absent(age_days: int, *, sudden: bool = False) -> Suggestion:
    """NEU-06; the reflex is learned, usually absent under 12 weeks (textbook page on menace response)."""
    if age_days < 84:
        return Suggestion(("NEU-06",), "M", "usually absent under 12 weeks")
    return Suggestion(("NEU-06", "EYE-27"), "E") if sudden else Suggestion(("NEU-06",), "T")


# ---- Lymph nodes, condition, pressure


def lymph_nodes(longest_mm: Mapping[str, float]) -> Suggestion:
    """By region ("mandibular left"): normal under 10 mm; two or more regions large: LYM-04.

    Source: Blois, Clinical Medicine 1, University of Guelph 2021; LYM-04 common practice.
    """
    large = {name.rpartition(" ")[0] or name for name, mm in longest_mm.items() if mm >= TEN_MM}
    if len(large) >= 2:
        return Suggestion(("LYM-04",), "T")
    if not large:
        felt = [n for n in longest_mm if n.startswith(USUALLY_NOT_FELT) and longest_mm[n] > 0]
        return Suggestion(("LYM-10",), "R") if felt else Suggestion()
    return Suggestion(("LYM-05",), "T", "say how large against its partner")


def condition_codes(species: str, bcs: int, muscle_loss: str = "") -> tuple[str, ...]:
    """Codes of a body condition score 1-9 and a muscle score ("", mild, moderate, severe) together.

    Ideal: dog 4-5, cat 5 (Merck Veterinary Manual). Both scores apart: WSAVA muscle condition score.
    """
    if not 1 <= bcs <= 9:
        raise GradeConflict("body condition is scored 1 to 9")
    ideal = {"dog": (4, 5), "cat": (5,)}[species]
    by_score = {1: "01", 2: "01", 3: "02", 4: "03", 6: "04", 7: "05", 8: "06", 9: "06"}
    codes = [] if bcs in ideal else [f"BCM-{by_score[bcs]}"]
    if muscle_loss:
        codes.append({"mild": "BCM-07", "moderate": "BCM-08", "severe": "BCM-09"}[muscle_loss])
        codes += ["BCM-10"] if bcs >= ideal[0] else []
    return tuple(codes)


def pressure_category(systolic_mmhg: float, *, breed_allowance_mmhg: float = 0) -> tuple[str, str, str]:
    """(name, risk of organ damage, finding code) of a systolic pressure.

    Source: ACVIM consensus, Acierno et al., J Vet Intern Med 2018;32:1803-1822; class limits from memory, to
    be checked. Under 90: common practice. Sighthounds: about 20 mmHg more (Small Animal Internal Medicine).
    """
    if systolic_mmhg < 90:
        return "low", "", "VIT-17"
    value = systolic_mmhg - breed_allowance_mmhg
    if value < 140:
        return "normotensive", "minimal", ""
    if value < 160:
        return "prehypertensive", "low", "VIT-14"
    return (
        ("hypertensive", "moderate", "VIT-15") if value < 180 else ("severely hypertensive", "high", "VIT-16")
    )
