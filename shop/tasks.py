"""Celery's way into the job rows. A message that comes twice, or late, or for no row, does no harm."""

from __future__ import annotations

from shop import jobs
from shop.celery import app

SWEEP_LIMIT = 200


@app.task
def run_job(job_id: int) -> None:
    """Work one job, named by its row."""
    jobs.work(job_id)


# Expires, so that beat does not pile up messages while no worker runs.
@app.task(expires=30)
def sweep() -> int:
    """Work whatever is open: new rows without a message, retries now due, and jobs whose worker vanished."""
    return jobs.work_all(limit=SWEEP_LIMIT)
