"""The small drawings of Today, as numbers for SVG: the trail of a visit, the ruler of a wait. Pure."""

from dataclasses import dataclass

TRAIL_FROM, TRAIL_TO, TRAIL_STEPS = 5.0, 83.0, 6
RULER_FROM, RULER_TO, RULER_STEPS = 2.0, 126.0, 6
MINUTES_A_STEP = 10
LONG_WAIT_MINUTES = 20  # common practice; from then on the ruler is drawn as "look at this"


@dataclass(frozen=True)
class Dot:
    x: str
    css: str
    r: int


@dataclass(frozen=True)
class Trail:
    """Six steps walked as far as `at`. `words` says the same."""

    track: str
    words: str
    dots: tuple[Dot, ...]
    done_to: str


@dataclass(frozen=True)
class Wait:
    """Minutes drawn to scale: one step of the ruler is ten minutes; beyond an hour the words count on."""

    words: str
    marks: tuple[str, ...]
    run_to: str
    long: bool


def trail(track: str, at: int, words: str) -> Trail:
    """`at`: 0 to 5."""
    gap = (TRAIL_TO - TRAIL_FROM) / (TRAIL_STEPS - 1)
    dots = tuple(
        Dot(
            x=f"{TRAIL_FROM + gap * place:.1f}",
            css="trail-here" if place == at else "trail-dot-done" if place < at else "trail-dot",
            r=5 if place == at else 3,
        )
        for place in range(TRAIL_STEPS)
    )
    return Trail(track=track, words=words, dots=dots, done_to=dots[at].x if at else "")


def wait(minutes: int, doing: str) -> Wait:
    """`doing`: waiting, at intake, in exam. A negative number (a clock that was set) counts as none."""
    minutes = max(minutes, 0)
    gap = (RULER_TO - RULER_FROM) / RULER_STEPS
    run = min(minutes / MINUTES_A_STEP, RULER_STEPS)
    return Wait(
        words=f"{minutes_in_words(minutes)} {doing}",
        marks=tuple(f"{RULER_FROM + gap * mark:.1f}" for mark in range(RULER_STEPS + 1)),
        run_to=f"{RULER_FROM + gap * run:.1f}",
        long=minutes >= LONG_WAIT_MINUTES and doing == "waiting",
    )


def minutes_in_words(minutes: int) -> str:
    """9 min; 1 h 05; 2 days."""
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 48 * 60:
        return f"{minutes // 60} h {minutes % 60:02d}"
    return f"{minutes // (24 * 60)} days"
