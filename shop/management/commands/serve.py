"""Serve the pages and work the job rows, in one process with nothing else to install."""

from __future__ import annotations

import errno
import signal
import socket
import threading
import warnings
from typing import Any, NoReturn

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from waitress.server import create_server

from shop import jobs

LOCAL = {"127.0.0.1", "localhost", "::1"}
THREADS = 8
JOB_SECONDS = 30


class Command(BaseCommand):
    help = "Serves Gambrel on this computer and works its jobs. Ctrl-C stops it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="Address to listen on; 0.0.0.0 for tablets.")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--check", action="store_true", help="Only say whether the port is free.")

    def handle(self, *args: Any, **options: Any) -> None:
        host, port = options["host"], options["port"]
        if not 0 < port < 65536:
            raise CommandError(f"Cannot listen on port {port}: ports go from 1 to 65535.")
        if options["check"]:
            self._refuse_taken_port(host, port)
            return
        self._refuse_old_database()
        server = self._listen(host, port)
        stop = threading.Event()
        worker = threading.Thread(target=jobs.run_loop, args=(stop,), name="jobs", daemon=True)
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, _leave)
        try:
            worker.start()
            self._announce(host, port)
            server.run()
        except SystemExit:
            pass
        finally:
            self._shut_down(server, stop, worker)

    def _refuse_taken_port(self, host: str, port: int) -> None:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        try:
            socket.create_server((host, port), family=family).close()
        except (OSError, OverflowError) as error:
            raise _cannot_listen(host, port, error) from error

    def _refuse_old_database(self) -> None:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            raise CommandError("The database is not up to date. Run “python manage.py migrate” first.")
        connection.close()

    def _listen(self, host: str, port: int) -> Any:
        # Static files come from the apps until they are collected.
        warnings.filterwarnings("ignore", "No directory at", UserWarning)
        from shop.wsgi import application

        try:
            return create_server(application, host=host, port=port, threads=THREADS, ident="")
        except (OSError, OverflowError, ValueError) as error:
            raise _cannot_listen(host, port, error) from error

    def _announce(self, host: str, port: int) -> None:
        shown = host if host not in {"0.0.0.0", "::"} else "localhost"
        shown = f"[{shown}]" if ":" in shown else shown
        self.stdout.write(f"Gambrel is at http://{shown}:{port}/  (Ctrl-C stops it)")
        if host not in LOCAL and set(settings.ALLOWED_HOSTS) <= LOCAL | {"[::1]"}:
            self.stdout.write(
                "Other devices are answered once ALLOWED_HOSTS names this computer's address on the network."
            )
        self.stdout.flush()

    def _shut_down(self, server: Any, stop: threading.Event, worker: threading.Thread) -> None:
        """No new requests, then the job in hand; whatever is cut off is done again when its lease ends."""
        server.close()
        stop.set()
        if worker.is_alive():
            worker.join(JOB_SECONDS)
        self.stdout.write("Stopped.")
        self.stdout.flush()


def _leave(*_: Any) -> NoReturn:
    raise SystemExit(0)


def _cannot_listen(host: str, port: int, error: Exception) -> CommandError:
    if isinstance(error, OSError) and error.errno == errno.EADDRINUSE:
        return CommandError(
            f"Port {port} is already taken, perhaps by another Gambrel. Stop that one or choose another port."
        )
    return CommandError(f"Cannot listen on {host}, port {port}: {error}")
