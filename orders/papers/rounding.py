"""Weights as a paper prints them: one unit, one number of decimals, and parts that add up to their printed total."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from shop.context import shop_settings
from shop.weights import MG_PER_UNIT, mg_in

MINUS = "\u2212"


@dataclass(frozen=True, slots=True)
class Printed:
    """How a paper prints weights."""

    unit: str
    decimals: int

    @classmethod
    def as_on_labels(cls) -> Printed:
        """In the shop's unit with the decimals of its labels, so that a paper agrees with the packs."""
        shop = shop_settings()
        return cls(shop.unit, shop.label_decimals)

    def of(self, mg: int) -> Decimal:
        """Milligrams rounded on their own, half to even."""
        return mg_in(mg, self.unit, self.decimals)

    def text(self, value: Decimal) -> str:
        return f"{value} {self.unit}"

    def off(self, value: Decimal) -> str:
        """What went off, with a minus; a plus where it is less than nothing; no sign at zero."""
        sign = MINUS if value > 0 else "+" if value else ""
        return f"{sign}{abs(value)} {self.unit}"

    def added(self, value: Decimal) -> str:
        return self.off(-value)

    def share_out(self, total: Decimal, parts_mg: Sequence[int]) -> list[Decimal]:
        """The parts rounded so that they add up to `total`, which is their sum as it is printed elsewhere.

        Each is cut to the printed step, and the steps that are left go to the largest remainders, the first of
        equals first. Raises ValueError when there is no part for a total that is not zero.
        """
        step_mg = Fraction(MG_PER_UNIT[self.unit]) / 10**self.decimals
        exact = [mg / step_mg for mg in parts_mg]
        steps = [math.floor(value) for value in exact]
        left = int(total.scaleb(self.decimals)) - sum(steps)
        if left and not steps:
            raise ValueError("A total needs parts to add up to it.")
        order = sorted(range(len(steps)), key=lambda index: steps[index] - exact[index])
        while left:
            # Once round is enough where the total is the parts' own sum; a total rounded elsewhere may be a step off.
            turn = order[:left] if left > 0 else order[left:]
            for index in turn:
                steps[index] += 1 if left > 0 else -1
            left -= len(turn) if left > 0 else -len(turn)
        return [Decimal(count).scaleb(-self.decimals) for count in steps]
