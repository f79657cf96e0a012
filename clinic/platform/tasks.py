"""Jobs that keep the job queue itself in order."""

from procrastinate.contrib.django import app

STALLED_AFTER_SECONDS = 30
KEEP_FINISHED_HOURS = 24 * 14


@app.periodic(cron="* * * * *")
@app.task(queue="default", queueing_lock="rescue_stalled_jobs")
async def rescue_stalled_jobs(timestamp: int) -> None:
    """Give the jobs of a worker that died back to the queue; every task is idempotent, so this is safe.

    It holds no `lock`: a lock kept by a dead worker's own rescue would stop all rescues.
    """
    manager = app.job_manager
    for job in await manager.get_stalled_jobs(seconds_since_heartbeat=STALLED_AFTER_SECONDS):
        await manager.retry_job(job)


@app.periodic(cron="23 3 * * *")
@app.task(queue="default", queueing_lock="forget_old_jobs")
async def forget_old_jobs(timestamp: int) -> None:
    """Delete jobs that ended well two weeks ago; failed ones stay until somebody has looked at them."""
    await app.job_manager.delete_old_jobs(nb_hours=KEEP_FINISHED_HOURS)
