"""What several parts of a page ask is read once while it is put together, and anew for the next."""

from clinic.platform.asked import asked_once, once

READ: list[tuple[int, str]] = []


@once
def reading(number: int, *, word: str = "") -> int:
    READ.append((number, word))
    return len(READ)


def test_the_same_is_read_once_inside_and_anew_outside() -> None:
    READ.clear()
    with asked_once():
        assert reading(1) == reading(1) == 1
        with asked_once():
            assert reading(1) == 1, "one inside another is the outer one"
        assert reading(1, word="other") == 2
    assert [reading(1), reading(1)] == [3, 4]
    with asked_once():
        assert reading(1) == 5


def test_what_was_refused_is_not_kept() -> None:
    READ.clear()

    @once
    def refusing() -> int:
        READ.append((0, ""))
        raise LookupError

    with asked_once():
        for _ in range(2):
            try:
                refusing()
            except LookupError:
                continue
    assert len(READ) == 2
