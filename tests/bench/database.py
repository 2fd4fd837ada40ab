"""Databases of the bench's own, on whatever DATABASE_URL names; never the shop's, and gone afterwards."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

from django.db import connection

PREFIX = "gambrel_bench_"


@dataclass
class Databases:
    """Several databases side by side; one at a time is the connected one."""

    folder: Path
    url: str
    names: list[str]

    @property
    def vendor(self) -> str:
        return connection.vendor

    def create(self, name: str) -> None:
        """A new one with all migrations, connected."""
        connection.close()
        connection.settings_dict["TEST"]["NAME"] = self._place(name)
        connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
        self.names.append(name)

    def copy(self, name: str, to: str) -> None:
        """A second one with the same rows."""
        connection.close()
        if connection.vendor == "sqlite":
            # The last connection to close has brought everything into the one file.
            shutil.copyfile(self._place(name), self._place(to))
        else:
            self._run(f"DROP DATABASE IF EXISTS {PREFIX}{to}")
            self._run(f"CREATE DATABASE {PREFIX}{to} TEMPLATE {PREFIX}{name}")
        self.names.append(to)

    def use(self, name: str) -> None:
        """Connect to one of them."""
        connection.close()
        connection.settings_dict["NAME"] = self._place(name)

    def analyze(self) -> None:
        """On PostgreSQL what autovacuum does by itself after a while; SQLite has no such thing and gets none."""
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("VACUUM ANALYZE")

    def url_of(self, name: str) -> str:
        """DATABASE_URL for another process."""
        if connection.vendor == "sqlite":
            return f"sqlite:///{self._place(name)}"
        return urlunsplit(urlsplit(self.url)._replace(path=f"/{PREFIX}{name}"))

    def drop(self) -> None:
        connection.close()
        if connection.vendor == "postgresql":
            for name in self.names:
                self._run(f"DROP DATABASE IF EXISTS {PREFIX}{name}")

    def _place(self, name: str) -> str:
        return str(self.folder / f"{name}.sqlite3") if connection.vendor == "sqlite" else PREFIX + name

    def _run(self, statement: str) -> None:
        with connection._nodb_cursor() as cursor:
            cursor.execute(statement)


@contextmanager
def databases(folder: Path, url: str) -> Iterator[Databases]:
    """The bench's databases, dropped at the end whatever happens."""
    kept = connection.settings_dict["NAME"]
    found = Databases(folder, url, [])
    try:
        yield found
    finally:
        found.drop()
        connection.settings_dict["NAME"] = kept
