"""Make a fresh shop ready for its first animal."""

from __future__ import annotations

import getpass
from typing import Any
from uuid import uuid4

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop import people, setup
from shop.models import Role


class Command(BaseCommand):
    help = "Makes the stations, places and endings that a shop starts with, and with --owner its owner."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--owner", metavar="USERNAME", help="Also add an owner; the password is asked for."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        made = setup.set_up()
        self.stdout.write(f"Made: {', '.join(made)}." if made else "The shop has its stations and places.")
        if options["owner"]:
            self._add_owner(options["owner"])
        elif not setup.has_owner():
            self.stdout.write(
                "Nobody can log in as the owner yet. Next: manage.py setup_shop --owner USERNAME"
            )

    def _add_owner(self, username: str) -> None:
        password = getpass.getpass("Password: ")
        if password != getpass.getpass("The same again: "):
            raise CommandError("The two passwords are not the same. Nobody was added.")
        facts = people.Facts(username, username.capitalize(), "", Role.OWNER, password=password)
        try:
            validate_password(password)
            people.add(facts, sender_id=uuid4())
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        except people.PersonRefused as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(f"{username} can log in as the owner.")
