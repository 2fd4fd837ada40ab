"""A deer that hung 100 lb: what animals like it give, and one that gave well, and one that gave too little."""

from __future__ import annotations

from dataclasses import replace

from orders.yields.flags import AnimalFacts, Range
from shop.weights import pounds

EXPECTED = Range(pounds(41), pounds(48), pounds(55))
GOOD = AnimalFacts(own_mg=pounds("47.2"), expected=EXPECTED, ordinary=EXPECTED, weighed_mg=pounds(100))
# Short by 5.0 lb of the least that animals like it give, with everything else noted and nothing else wrong.
SHORT = replace(
    GOOD,
    own_mg=pounds(36),
    bloodshot_known=True,
    waste_mg=pounds(39),
    usual_waste_mg=pounds(39),
)
