"""What a letter says of tests: what was found, in a clinician's sentence and as reported; what is awaited."""

from collections.abc import Sequence

from clinic.care.models import Test, TestResult
from clinic.letters.document import Dated, Line, Mark, Section, Sentence, Table, Walk
from clinic.letters.texts import Texts
from clinic.letters.wording import ended, near_day

USUAL = frozenset({"negative", "inside"})
WHERE = {"low": "test.below", "high": "test.above"}
MANY = 3  # values of one report that are still said in one line


def standing_results(test: Test) -> list[TestResult]:
    """Those that were not struck out, as they were entered. `results` come prefetched."""
    return sorted((each for each in test.results.all() if each.struck_at is None), key=lambda each: each.pk)


def tests_section(tests: Sequence[Test], w: Texts) -> Section:
    """Every test of a record, with its results or until when they are awaited."""
    walk = Walk(tuple(test_line(each, w) for each in tests))
    return Section("tests", w("test.title"), 80, (walk,) if tests else ())


def test_line(test: Test, w: Texts) -> Line:
    """One test; many values in one sentence of how many lie outside, and which."""
    results = standing_results(test)
    key = f"test:{test.pk}"
    if not results:
        label = w.sentence(key, "test.pending", "the test", test.title, what=w.own(test.title))
        return Line(label, _pending(test, key, w), Mark.PENDING)
    usual = all(each.meaning in USUAL for each in results)
    mark = Mark.NORMAL if usual else Mark.ABNORMAL
    return Line(_label(test, results, key, w), _outside(results, key, w) + _told(results, key, w), mark)


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


def _label(test: Test, results: list[TestResult], key: str, w: Texts) -> Sentence:
    words = "; ".join(value_words(each) for each in results)
    what = w.own(test.title)
    if len(results) <= MANY:
        return w.sentence(key, "test.label", "the result", words, what=what, values=w.own(words))
    outside = sum(each.meaning not in USUAL for each in results)
    if not outside:
        return w.sentence(key, "test.all_usual", "the result", words, what=what, n=len(results))
    return w.sentence(key, "test.some", "the result", words, what=what, n=outside, all=len(results))


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
            w.own(text),
            "the result",
            each.value,
            each.read_by.printed_name if each.read_by else "",
        )
        for text, each in said.items()
    )


def _pending(each: Test, key: str, w: Texts) -> tuple[Sentence, ...]:
    """What was taken, who calls by when, and what to do when nobody does."""
    line, told = each.plan_line, []
    if line and line.for_owner:
        told.append(Sentence(f"{key}:taken", w.own(ended(line.for_owner)), "a plan line", line.text))
    if line and line.due_on and line.answerable:
        who, day = line.answerable.full_name, near_day(line.due_on, w)
        told.append(w.sentence(f"{key}:by", "test.by", "a plan line", line.text, who, who=who, day=day))
    told.append(w.sentence(f"{key}:hear", "test.hear", "the test", each.title))
    return tuple(told)


def day_of_telling(each: Test, w: Texts) -> Dated:
    """The day by which somebody tells the owner. The plan line must have one."""
    line = each.plan_line
    assert line is not None
    assert line.due_on is not None
    key, what = f"test:{each.pk}:day", w.own(each.title)
    if line.answerable is None:
        return Dated(line.due_on, w.sentence(key, "test.we_call", "a plan line", line.text, what=what))
    who = line.answerable.full_name
    said = w.sentence(key, "test.someone_calls", "a plan line", line.text, who=who, what=what)
    return Dated(line.due_on, said)
