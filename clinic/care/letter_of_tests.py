"""What a letter says of tests: what was found, in a clinician's sentence and as reported; what is awaited."""

from collections.abc import Sequence

from clinic.care.models import Test, TestResult
from clinic.letters.document import Dated, Line, Mark, Section, Sentence, Table, Walk
from clinic.letters.wording import ended, near_day

USUAL = frozenset({"negative", "inside"})
WHERE = {"low": "below", "high": "above"}
MANY = 3  # values of one report that are still said in one line


def standing_results(test: Test) -> list[TestResult]:
    """Those that were not struck out, as they were entered. `results` come prefetched."""
    return sorted((each for each in test.results.all() if each.struck_at is None), key=lambda each: each.pk)


def tests_section(tests: Sequence[Test]) -> Section:
    """Every test of a record, with its results or until when they are awaited."""
    walk = Walk(tuple(test_line(each) for each in tests))
    return Section("tests", "Tests", 80, (walk,) if tests else ())


def test_line(test: Test) -> Line:
    """One test; many values in one sentence of how many lie outside, and which."""
    results = standing_results(test)
    key = f"test:{test.pk}"
    if not results:
        label = Sentence(key, f"{test.title}: result pending.", "the test", test.title)
        return Line(label, _pending(test, key), Mark.PENDING)
    usual = all(each.meaning in USUAL for each in results)
    words = "; ".join(value_words(each) for each in results)
    label = Sentence(key, _label(test, results, words), "the result", words)
    return Line(label, _outside(results, key) + _told(results, key), Mark.NORMAL if usual else Mark.ABNORMAL)


def value_words(each: TestResult) -> str:
    """Creatinine 248 µmol/l."""
    return " ".join(part for part in (each.analyte, each.value, each.unit) if part)


def values_table(test: Test) -> Table | None:
    """All values of a report side by side with the laboratory's own interval; None for a single finding."""
    results = standing_results(test)
    if len(results) < 2:
        return None
    rows = tuple(
        tuple(
            Sentence(f"value:{each.pk}:{column}", text, "the result", value_words(each))
            for column, text in enumerate(
                (
                    each.analyte or test.title,
                    f"{each.value} {each.unit}".strip(),
                    each.interval or "none given",
                    each.meaning,
                )
            )
        )
        for each in results
    )
    return Table(rows=rows, head=("What", "Result", "Usual here", "It is"))


def _label(test: Test, results: list[TestResult], words: str) -> str:
    if len(results) <= MANY:
        return f"{test.title}: {words}."
    outside = [each for each in results if each.meaning not in USUAL]
    if not outside:
        return f"{test.title}: all {len(results)} values are as usual."
    verb = "is" if len(outside) == 1 else "are"
    return f"{test.title}: {len(outside)} of {len(results)} values {verb} not as usual."


def _outside(results: list[TestResult], key: str) -> tuple[Sentence, ...]:
    if len(results) <= MANY:
        return ()
    return tuple(
        Sentence(f"{key}:value:{each.pk}", f"{value_words(each)}{_where(each)}.", "the result", each.value)
        for each in results
        if each.meaning not in USUAL
    )


def _where(each: TestResult) -> str:
    where = WHERE.get(each.meaning)
    return f", {where} {each.interval}" if where and each.interval else f", {each.meaning}"


def _told(results: list[TestResult], key: str) -> tuple[Sentence, ...]:
    """What clinicians say of it, each sentence once."""
    said: dict[str, TestResult] = {}
    for each in results:
        if each.for_owner and each.read_at:
            said.setdefault(ended(each.for_owner), each)
    return tuple(
        Sentence(
            f"{key}:{each.pk}",
            text,
            "the result",
            each.value,
            each.read_by.printed_name if each.read_by else "",
        )
        for text, each in said.items()
    )


def _pending(each: Test, key: str) -> tuple[Sentence, ...]:
    """What was taken, who calls by when, and what to do when nobody does."""
    line, told = each.plan_line, []
    if line and line.for_owner:
        told.append(Sentence(f"{key}:taken", ended(line.for_owner), "a plan line", line.text))
    if line and line.due_on and line.answerable:
        who = line.answerable.printed_name
        told.append(
            Sentence(
                f"{key}:by", f"{who} calls you by {near_day(line.due_on)}.", "a plan line", line.text, who
            )
        )
    told.append(Sentence(f"{key}:hear", "If you hear nothing from us, please call.", "the test", each.title))
    return tuple(told)


def day_of_telling(each: Test) -> Dated:
    """The day by which somebody tells the owner. The plan line must have one."""
    line = each.plan_line
    assert line is not None
    assert line.due_on is not None
    who = line.answerable.printed_name if line.answerable else "We"
    words = f"{who} {'calls' if line.answerable else 'call'} you about the result: {each.title}"
    return Dated(line.due_on, Sentence(f"test:{each.pk}:day", words, "a plan line", line.text))
