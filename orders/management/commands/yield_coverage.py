"""Try on simulated shops how often the stated yield ranges hold, and print it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from orders.yields.coverage import SHOPS, as_csv, as_text, right_settings, simulate_all, wrong_settings
from orders.yields.learning import PRIOR_DF, PRIOR_WEIGHT

FEWEST_SHOPS = 200
COUNTS = "How many animals the published figure counts for,"


class Command(BaseCommand):
    help = (
        "Simulates shops that learn their yield and prints how often their 90 % ranges hold: "
        "when the published figure is true of the shop, and how far it strays when it is not."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--shops", type=int, default=SHOPS, help="Shops for each setting, 200 or more.")
        parser.add_argument("--seed", type=int, default=1, help="The same seed prints the same table.")
        parser.add_argument("--weight", type=float, default=PRIOR_WEIGHT, help=f"{COUNTS} in share.")
        parser.add_argument("--df", type=float, default=PRIOR_DF, help=f"{COUNTS} in spread.")
        parser.add_argument("--csv", action="store_true", help="All numbers as CSV instead of the tables.")

    def handle(self, *args: Any, **options: Any) -> None:
        asked = {name: options[name] for name in ("seed", "shops", "weight", "df")}
        if options["shops"] < FEWEST_SHOPS:
            raise CommandError(f"Fewer than {FEWEST_SHOPS} shops say too little.")
        try:
            right = simulate_all(right_settings(), **asked)
            wrong = simulate_all(wrong_settings(), **asked)
        except ValueError as wrong_number:
            raise CommandError(str(wrong_number)) from wrong_number
        if options["csv"]:
            self.stdout.write(as_csv([*right, *wrong]), ending="")
            return
        self.stdout.write(
            f"Ranges stated to hold 90 % of animals; {options['shops']} simulated shops a line, "
            f"seed {options['seed']}.\nThe published figure counts for {options['weight']:g} animals in share and "
            f"{options['df']:g} in spread.\nShare: boneless of hanging. Spread: standard deviation of its logarithm. "
            "* outside 87 to 93 %.\n"
        )
        self.stdout.write(f"The shop is told the truth\n{as_text(right)}\n")
        self.stdout.write(f"The shop is told a wrong share, a wrong spread, or both\n{as_text(wrong)}")
        self.stdout.write("+ one animal in twenty gives a quarter less, and nobody noted why.")
