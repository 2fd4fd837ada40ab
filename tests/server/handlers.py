"""Work for the worker under test, given to it with `celery --include`."""

from __future__ import annotations

import os
from typing import Any

from shop import jobs


@jobs.register("test-server")
def add(payload: Any) -> dict[str, Any]:
    return {"sum": sum(payload), "process": os.getpid()}
