"""What a worker loads before its first job, so that the first letter of the day is as quick as the second."""

from collections.abc import Callable

_steps: list[Callable[[], None]] = []


def before_first_job(step: Callable[[], None]) -> Callable[[], None]:
    """Decorator: run `step` in each worker process before it takes a job of the queue `letters`."""
    _steps.append(step)
    return step


def warm_up() -> None:
    """Run every registered step."""
    for step in _steps:
        step()
