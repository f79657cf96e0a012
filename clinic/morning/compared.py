"""What is overdue now against an earlier day, by name. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass

SHOWN = 7  # names; the others stand together
WIDTH = 160  # of the bar's drawing


@dataclass(frozen=True)
class Compared:
    """`then` None: nobody counted that day. `bar` and `mark` are places on a ruler of WIDTH."""

    what: str
    now: int
    then: int | None
    bar: int
    mark: int

    @property
    def more(self) -> bool:
        return self.then is not None and self.now > self.then

    @property
    def words(self) -> str:
        """6 fewer; 3 more; as many; not counted then."""
        if self.then is None:
            return "not counted then"
        if self.now == self.then:
            return "as many"
        return f"{abs(self.now - self.then)} {'more' if self.now > self.then else 'fewer'}"


def compared(now: Mapping[str, int], then: Mapping[str, int] | None) -> tuple[list[Compared], Compared]:
    """Rows, what there is most of first; what is left over in one row; and all of it."""
    before = then or {}
    names = sorted({*now, *before}, key=lambda name: (-max(now.get(name, 0), before.get(name, 0)), name))
    counts = [(name, now.get(name, 0), before.get(name, 0)) for name in names]
    rest = counts[SHOWN:]
    if len(rest) > 1:
        counts = [*counts[:SHOWN], ("Other things", sum(n for _, n, _ in rest), sum(t for *_, t in rest))]
    most = max((max(n, t) for _, n, t in counts), default=0) or 1
    rows = [
        Compared(
            what=name,
            now=n,
            then=None if then is None else t,
            bar=round(n / most * WIDTH),
            mark=round(t / most * WIDTH),
        )
        for name, n, t in counts
    ]
    total = Compared("In all", sum(now.values()), None if then is None else sum(before.values()), 0, 0)
    return rows, total
