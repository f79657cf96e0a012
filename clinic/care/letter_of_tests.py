"""What a letter says of tests: what was found, in a clinician's sentence and as reported; what is awaited."""

from collections.abc import Sequence

from clinic.care.in_house import in_house_of, outcomes_of
from clinic.care.models import Test, TestResult
from clinic.letters.document import Dated, Line, Mark, Section, Sentence, Table, Walk
from clinic.letters.spelling import spelled
from clinic.letters.texts import Texts, variant_here
from clinic.letters.wording import ended, near_day

USUAL = frozenset({"negative", "inside"})
WHERE = {"low": "test.below", "high": "test.above"}
MANY = 3  # values of one report that are still said in one line


def standing_results(test: Test) -> list[TestResult]:
    """Those that were not struck out, as they were entered. `results` come prefetched."""
    return sorted((each for each in test.results.all() if each.struck_at is None), key=lambda each: each.pk)


def told_title(test: Test, w: Texts) -> str:
    """A test of the house by its name in the owner's language; any other as it was written."""
    own = in_house_of(test.kind, test.title) if test.in_house else None
    return _closed(f"in_house.{own.code}.title" if own else "", test.title, w)


def _outcome(each: TestResult) -> str:
    """The key of what was tapped, of a test of the house; empty for what was typed."""
    if not each.test.in_house:
        return ""
    offered = outcomes_of(each.test.kind)
    return next((f"in_house.{each.test.kind}.{one.code}" for one in offered if one.value == each.value), "")


def _closed(key: str, words: str, w: Texts) -> str:
    """Words of our own closed lists, as the owner's language or the clinic's country has them."""
    if key and w.english is not None and key in w:
        return w(key)
    return w.own(spelled(words, variant_here()) if key else words)


def tests_section(tests: Sequence[Test], w: Texts) -> Section:
    """Every test of a record, with its results or until when they are awaited."""
    walk = Walk(tuple(test_line(each, w, many=MANY) for each in tests))
    return Section("tests", w("test.title"), 80, (walk,) if tests else ())


def test_line(test: Test, w: Texts, *, many: int) -> Line:
    """One test; more than `many` values in one sentence of how many lie outside, and which."""
    results = standing_results(test)
    key = f"test:{test.pk}"
    if not results:
        label = w.sentence(key, "test.pending", "the test", test.title, what=told_title(test, w))
        return Line(label, _pending(test, key, w), Mark.PENDING)
    usual = all(each.meaning in USUAL for each in results)
    mark = Mark.NORMAL if usual else Mark.ABNORMAL
    label = _label(test, results, key, w, many)
    return Line(label, _outside(results, key, w) + _told(results, key, w), mark)


def value_words(each: TestResult) -> str:
    """Creatinine 248 µmol/l."""
    return " ".join(part for part in (each.analyte, each.value, each.unit) if part)


def values_table(test: Test, w: Texts) -> Table | None:
    """All values of a report side by side with the laboratory's own interval; None for a single finding."""
    results = standing_results(test)
    if len(results) < 2:
        return None
    rows = tuple(
        tuple(
            Sentence(f"value:{each.pk}:{column}", text, "the result", value_words(each))
            for column, text in enumerate(
                (
                    w.own(each.analyte or test.title),
                    f"{each.value} {each.unit}".strip(),
                    each.interval or w("test.none_given"),
                    w(f"test.meaning.{each.meaning}"),
                )
            )
        )
        for each in results
    )
    return Table(rows=rows, head=tuple(w.listed("test.head")))


def _label(test: Test, results: list[TestResult], key: str, w: Texts, many: int) -> Sentence:
    words = "; ".join(value_words(each) for each in results)
    what = told_title(test, w)
    if len(results) == 1 and (tapped := _outcome(results[0])):
        said = _closed(f"{tapped}.value", words, w)
        return w.sentence(key, "test.label", "the result", words, what=what, values=said)
    if len(results) <= many:
        values = "; ".join(_beside_usual(each, w) for each in results)
        return w.sentence(key, "test.label", "the result", words, what=what, values=values)
    unusual = [each for each in results if each.meaning not in USUAL]
    # what could not be read is not outside; it is named behind those that are
    outside = sum(each.meaning != "unclear" for each in unusual) or len(unusual)
    if not outside:
        return w.sentence(key, "test.all_usual", "the result", words, what=what, n=len(results))
    return w.sentence(key, "test.some", "the result", words, what=what, n=outside, all=len(results))


def _beside_usual(each: TestResult, w: Texts) -> str:
    """T4 96 nmol/l (above 10-60), or (high): a number alone says nothing to an owner."""
    value, text = w.own(value_words(each)), f"test.beside_{each.meaning}"
    if each.interval and text in w:
        return w(text, value=value, interval=each.interval)
    if each.meaning in WHERE:
        return w("test.beside", value=value, meaning=w(f"test.meaning.{each.meaning}"))
    return value


def _outside(results: list[TestResult], key: str, w: Texts) -> tuple[Sentence, ...]:
    if len(results) <= MANY:
        return ()
    return tuple(_where(each, f"{key}:value:{each.pk}", w) for each in results if each.meaning not in USUAL)


def _where(each: TestResult, key: str, w: Texts) -> Sentence:
    value, text = w.own(value_words(each)), WHERE.get(each.meaning)
    if text and each.interval:
        return w.sentence(key, text, "the result", each.value, value=value, interval=each.interval)
    meaning = w(f"test.meaning.{each.meaning}")
    return w.sentence(key, "test.not_usual", "the result", each.value, value=value, meaning=meaning)


def _told(results: list[TestResult], key: str, w: Texts) -> tuple[Sentence, ...]:
    """What clinicians say of it, each sentence once."""
    said: dict[str, TestResult] = {}
    for each in results:
        if each.for_owner and each.read_at:
            said.setdefault(ended(each.for_owner), each)
    return tuple(
        Sentence(
            f"{key}:{each.pk}",
            told_words(each, text, w),
            "the result",
            each.value,
            each.read_by.printed_name if each.read_by else "",
        )
        for text, each in said.items()
    )


def told_words(each: TestResult, text: str, w: Texts) -> str:
    """The owner's sentence that belongs to what was tapped, or what a clinician wrote."""
    tapped = _outcome(each)
    own = next((one for one in outcomes_of(each.test.kind) if one.value == each.value), None)
    return _closed(f"{tapped}.told" if tapped and own and ended(own.for_owner) == text else "", text, w)


def _pending(each: Test, key: str, w: Texts) -> tuple[Sentence, ...]:
    """What was taken, who calls by when, and what to do when nobody does."""
    line, told = each.plan_line, []
    if line and line.for_owner:
        told.append(Sentence(f"{key}:taken", w.own(ended(line.for_owner)), "the plan", line.text))
    if line and line.due_on and line.answerable:
        who, day = line.answerable.full_name, near_day(line.due_on, w)
        told.append(w.sentence(f"{key}:by", "test.by", "the plan", line.text, who, who=who, day=day))
    told.append(w.sentence(f"{key}:hear", "test.hear", "the test", each.title))
    return tuple(told)


def is_to_be_told(each: Test) -> bool:
    """Whether somebody calls about it on a day: no longer once a clinician has read its result, which the
    letter itself then tells."""
    line = each.plan_line
    read = any(result.for_owner and result.read_at for result in standing_results(each))
    return line is not None and line.due_on is not None and not read


def day_of_telling(each: Test, w: Texts) -> Dated:
    """The day by which somebody tells the owner. The plan line must have one."""
    line = each.plan_line
    assert line is not None
    assert line.due_on is not None
    key, what = f"test:{each.pk}:day", w.own(each.title)
    if line.answerable is None:
        return Dated(line.due_on, w.sentence(key, "test.we_call", "the plan", line.text, what=what))
    who = line.answerable.full_name
    said = w.sentence(key, "test.someone_calls", "the plan", line.text, who=who, what=what)
    return Dated(line.due_on, said)
