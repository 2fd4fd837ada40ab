"""Emptying the demo's database, and only the demo's."""

from __future__ import annotations

import shutil

from django.conf import settings
from django.core.management import call_command
from django.db import connection

from orders.demo.build import is_demo
from orders.ledger import triggers


def empty() -> None:
    """Empty the database if it is the demo's, and what it printed; another shop's is left alone."""
    if not is_demo():
        return
    # The ledger is only added to; a demo that is built anew is the one exception.
    with triggers.lifted(connection):
        call_command("flush", interactive=False, verbosity=0)
    for folder in (settings.MEDIA_ROOT, settings.PRINT_ROOT):
        shutil.rmtree(folder, ignore_errors=True)
