"""Runs background jobs: letters one at a time, everything else beside them."""

import asyncio
import signal
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from procrastinate.contrib.django import app

from clinic.platform.warmup import warm_up

LETTERS = "letters"
# s beyond the grace: a database that went away is waited for by job after job, and nobody may watch any more
FAREWELL = 10
EVERYTHING, ONLY_LETTERS, ALL_BUT_LETTERS = "all", "letters", "others"


class Command(BaseCommand):
    help = "Runs background jobs until SIGTERM or Ctrl-C; jobs at work are finished first."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--queues", choices=[EVERYTHING, ONLY_LETTERS, ALL_BUT_LETTERS], default=EVERYTHING
        )
        parser.add_argument("--concurrency", type=int, default=2, help="jobs at once, letters not counted")

    def handle(self, *args: Any, **options: Any) -> None:
        app.perform_import_paths()  # type: ignore[no-untyped-call]
        if options["queues"] != ALL_BUT_LETTERS:
            warm_up()
        with app.replace_connector(app.connector.get_worker_connector()):  # type: ignore[attr-defined]
            asyncio.run(_work(options["queues"], options["concurrency"]))


async def _work(queues: str, concurrency: int) -> None:
    others = sorted({task.queue for task in app.tasks.values()} - {LETTERS})
    async with app.open_async():
        workers = []
        if queues != ALL_BUT_LETTERS:
            # rendering fills a processor, and a second one at the same time only makes both late
            workers.append(_worker([LETTERS], 1))
        if queues != ONLY_LETTERS:
            workers.append(_worker(others, concurrency))
        _end_on_signals(workers)
        await asyncio.gather(*workers, return_exceptions=True)
    for worker in workers:
        if not worker.cancelled():
            worker.result()


def _worker(queues: list[str], concurrency: int) -> asyncio.Task[None]:
    return asyncio.create_task(
        app.run_worker_async(
            queues=queues,
            concurrency=concurrency,
            name="-".join(queues),
            install_signal_handlers=False,
            shutdown_graceful_timeout=settings.WORKER_GRACE,
        )
    )


def _end_on_signals(workers: list[asyncio.Task[None]]) -> None:
    loop = asyncio.get_running_loop()
    still = list(workers)

    def end() -> None:
        if still:
            signal.alarm(int(settings.WORKER_GRACE) + FAREWELL)  # what is cut off is found and done again
        # once each: a second cancel would break off the orderly end that the first one began
        while still:
            still.pop().cancel()

    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, end)
    # one that fails takes the other along, so that whoever watches this process starts both again
    for worker in workers:
        worker.add_done_callback(lambda _: end())
