"""What an exam refuses, and why: sides, species, sex, roles, grades, heads-ups.

Roles after Maryland COMAR 15.14.13.13 (technicians do not diagnose) and common practice; the clinic's own
table of roles stands in front of this one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from exams.lines import Line, Lines, finding_fits
from exams.qualifiers import LASTING, how, problem
from exams.state import ExamState, HeadsUp
from exams.walk import FindingCode, Reason, Walk

ROLES = ("assistant", "technician", "clinician")
CLINICIAN = "clinician"
INTERPRETED = ("HRT", "LUN", "ABD", "NEU")

SHARED_QUALIFIERS: Mapping[str, tuple[str, ...]] = {
    "extent": ("focal", "multifocal", "diffuse"),
    "onset": ("sudden", "gradual"),
    "duration": ("hours", "days", "weeks", "months", "years", "unknown"),
    "change": ("new", "unchanged", "better", "worse", "not recorded before"),
    "seen by": ("examiner", "owner", "historical"),
    "certainty": ("definite", "suspected"),
    "number": ("1", "2", "3", "4-10", "more than 10"),
    "side": ("left", "right", "both", "midline"),
    "thrill": ("yes", "no"),
    "sedated?": ("yes", "no"),
}
DIRECTION = "medial / lateral"
DIRECTIONS = ("medial", "lateral", "both")


class Refusal(Exception):
    """An operation that is not applied. `code` is for programs, `words` for the person who tapped."""

    def __init__(self, code: str, words: str) -> None:
        super().__init__(words)
        self.code = code
        self.words = words


def check_line(line: Line, absent: str) -> None:
    if absent:
        raise Refusal("not-applicable", f"{line.name}: not applicable ({absent})")


def check_role(role: str, line: Line) -> None:
    """An assistant records values and looks, not what heart, lungs, belly or nerves mean."""
    if role not in ROLES:
        raise Refusal("role", f"{role or 'nobody'} does not record findings")
    if role == "assistant" and line.depth != "measured" and line.station in INTERPRETED:
        raise Refusal("role", "an assistant does not record this station")


def check_code(walk: Walk, lines: Lines, line: Line, code: str) -> FindingCode:
    """The finding, when it may stand on this line of this animal."""
    finding = walk.finding.get(code)
    if finding is None:
        raise Refusal("no-such-finding", f"{code} is not in this walk")
    against = finding_fits(finding, lines.animal)
    if against:
        raise Refusal("not-for-this-animal", f"{finding.name}: not in this animal ({against})")
    stations = {line.station, *(k.partition(".")[0] for k in line.stored_at)}
    if code not in (*line.codes, *line.limits) and finding.station not in stations:
        raise Refusal("other-station", f"{finding.name} belongs to another station")
    if finding.whole_station and not line.whole_station:
        raise Refusal("whole-station", f"{finding.name} is recorded for the whole station")
    return finding


def check_side(finding: FindingCode, line: Line, structure_side: str, qualifiers: Mapping[str, str]) -> None:
    """A finding that has a side cannot stand without one, wherever the line does not give it."""
    if line.side != "-" and "side" in qualifiers:
        raise Refusal("side", f"{finding.name}: the side follows from the line ({line.side_words})")
    needs = finding.side_text in ("L/R", "L/R or midline") and line.side == "-"
    if needs and not line.whole_station and structure_side not in ("L", "R") and not qualifiers.get("side"):
        raise Refusal("needs-side", f"{finding.name}: say left, right or both")
    if finding.side_text == "L/R" and qualifiers.get("side") == "midline":
        raise Refusal("needs-side", f"{finding.name}: say left, right or both")


def check_severity(finding: FindingCode, severity: str) -> None:
    if severity and severity not in finding.severity_words:
        words = " or ".join(finding.severity_words) or "no severity"
        raise Refusal("severity", f"{finding.name} takes {words}")


def check_grade(walk: Walk, finding: FindingCode, grade: str, scale: str) -> tuple[str, str]:
    """(scale, grade) as stored: a grade never stands without its scale; a code with one grade carries it."""
    if not finding.grade_scale:
        if grade or scale:
            raise Refusal("grade-without-scale", f"{finding.name} has no grade")
        return "", ""
    if scale and scale != finding.grade_scale:
        raise Refusal("other-scale", f"{finding.name} is graded on {finding.grade_scale}, not {scale}")
    if not grade:
        return finding.grade_scale, finding.grades[0] if len(finding.grades) == 1 else ""
    known = {g.key for g in walk.scale[finding.grade_scale].grades}
    if grade not in known or (finding.grades and grade not in finding.grades):
        raise Refusal("grade", f"{finding.name}: {grade} is not one of its grades")
    return finding.grade_scale, grade


def check_thrill(finding: FindingCode, grade: str, qualifiers: Mapping[str, str]) -> None:
    """A thrill means V or VI (Veterinary Cardiovascular Society); without one it is IV at most."""
    if finding.grade_scale != "murmur-6" or not grade:
        return
    thrill = qualifiers.get("thrill", "")
    if (thrill == "yes" and grade not in ("5", "6")) or (thrill == "no" and grade in ("5", "6")):
        raise Refusal("thrill", "with a thrill the grade is V or VI, without one IV at most: which is it?")


def is_undirected(finding: FindingCode, qualifiers: Mapping[str, str]) -> bool:
    return finding.grade_scale == "patella-4" and qualifiers.get(DIRECTION) not in DIRECTIONS


def check_direction(finding: FindingCode, qualifiers: Mapping[str, str]) -> None:
    if is_undirected(finding, qualifiers):
        raise Refusal("needs-direction", f"{finding.name}: say medial, lateral or both")


def check_qualifiers(walk: Walk, finding: FindingCode, qualifiers: Mapping[str, str]) -> None:
    """Shared qualifiers take their listed values; the others are the finding's own: words, or numbers."""
    for name, value in qualifiers.items():
        allowed = SHARED_QUALIFIERS.get(name)
        if allowed is None and name not in finding.qualifiers and name != LASTING:
            raise Refusal("qualifier", f"{finding.name} has no {name!r}")
        wrong = "" if allowed else problem(how(walk.qualifiers, finding.code, name), value)
        if wrong:
            raise Refusal("qualifier", f"{finding.name}, {name}: {wrong}")
        if allowed is not None and value not in allowed and not (name == "extent" and value.endswith("%")):
            raise Refusal("qualifier", f"{name}: {value!r} is not one of {', '.join(allowed)}")


def check_reason(walk: Walk, use: str, key: str, words: str, role: str) -> None:
    """An empty reason may wait until the signing; a chosen one must exist for this use and this role."""
    if not key:
        return
    reason: Reason | None = walk.reason.get(key)
    if reason is None or use not in reason.use:
        raise Refusal("reason", f"{key!r} is not a reason for {use.replace('-', ' ')}")
    if reason.roles and role not in reason.roles:
        raise Refusal("role", f"only a {' or '.join(reason.roles)} says {reason.words!r}")
    if reason.needs_words and not words:
        raise Refusal("reason", "say the reason in words")


def check_heads_ups(state: ExamState, stations: Sequence[str], despite: Sequence[str]) -> None:
    """Nothing is normal beside an unanswered heads-up unless the person was asked and said so."""
    still: list[HeadsUp] = [h for h in state.open_heads_ups(tuple(stations)) if h.id not in despite]
    if still:
        raise Refusal("heads-up-open", f"Heads-up not answered: {still[0].words}. Normal all the same?")
