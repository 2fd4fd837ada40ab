"""Pages as the owner's browser asks for them, and how long they take."""

from __future__ import annotations

import os
import subprocess
import sys

from django.test import Client

from shop.models import Person
from tests.bench.filler import OWNER


def owner() -> Client:
    """The owner, signed in."""
    client = Client(SERVER_NAME="localhost")
    client.force_login(Person.objects.get(username=OWNER))
    return client


def answer(client: Client, address: str) -> bytes:
    """A page's bytes. Raises RuntimeError where it is not what was asked for, so that no error page is timed."""
    response = client.get(address)
    if response.status_code != 200:
        raise RuntimeError(f"{address} answered {response.status_code}")
    return response.content


def first_seconds(address: str, database_url: str) -> float:
    """The time of a page as the first request of a new process: nothing imported, compiled or read before."""
    command = [sys.executable, "-m", "tests.bench.first_page", address]
    environment = {**os.environ, "DATABASE_URL": database_url}
    done = subprocess.run(command, env=environment, stdout=subprocess.PIPE, text=True, check=True)
    return float(done.stdout)
