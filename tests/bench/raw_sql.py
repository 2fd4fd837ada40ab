"""A season's yields in hand-written SQL: what somebody who knows the tables would type, to measure the pages against.

Received, hung (with the tenderloins bagged before), packs, packed, added and own meat, by animal or by what was ground
together; from run lines and weighings, nothing voided counted, and nothing said that was not weighed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import connection

from orders.yields.models import YieldRecord
from orders.yields.queries import Yield

BODY = """
WITH weighed AS (
    SELECT a.id AS animal_id, p.id AS piece_id, p.kind, p.made_at, w.point, w.mg,
           MAX(CASE WHEN w.point = 'hanging' THEN e.at END) OVER (PARTITION BY a.id) AS hung_at,
           ROW_NUMBER() OVER (PARTITION BY p.id, w.point ORDER BY w.id DESC) AS place
    FROM orders_order o
    JOIN orders_animal a ON a.order_id = o.id
    JOIN orders_piece p ON p.animal_id = a.id AND p.kind IN ('carcass', 'quarter', 'bag', 'tenderloin')
    LEFT JOIN orders_weighing w ON w.piece_id = p.id AND w.point IN ('received', 'hanging', 'part_off')
        AND NOT EXISTS (SELECT 1 FROM orders_event v WHERE v.voids_id = w.event_id)
    LEFT JOIN orders_event e ON e.uid = w.event_id
    WHERE o.season_id = %s AND p.state <> 'void'
),
summed AS (
    SELECT animal_id,
           COUNT(DISTINCT CASE WHEN kind <> 'tenderloin' THEN piece_id END) AS pieces,
           COUNT(CASE WHEN point = 'received' THEN 1 END) AS received,
           SUM(CASE WHEN point = 'received' THEN mg END) AS received_mg,
           COUNT(CASE WHEN point = 'hanging' THEN 1 END) AS hung,
           SUM(CASE WHEN point = 'hanging' THEN mg END) AS hung_mg,
           SUM(CASE WHEN kind = 'tenderloin' AND point = 'part_off' AND made_at <= hung_at THEN mg END)
               AS bags_mg
    FROM weighed WHERE place = 1
    GROUP BY animal_id
)
SELECT animal_id,
       CASE WHEN received = pieces THEN received_mg END,
       CASE WHEN hung = pieces THEN hung_mg + COALESCE(bags_mg, 0) END
FROM summed
"""

LINES = """
SELECT r.animal_id, r.order_id,
       COUNT(p.id),
       COUNT(CASE WHEN p.id IS NOT NULL AND t.code NOT IN ('organs', 'bones') AND w.id IS NULL THEN 1 END),
       SUM(CASE WHEN p.id IS NOT NULL AND t.code NOT IN ('organs', 'bones') THEN w.mg END),
       COUNT(CASE WHEN l.direction = 'added' AND w.id IS NULL THEN 1 END),
       COALESCE(SUM(CASE WHEN l.direction = 'added' THEN w.mg END), 0)
FROM ({runs}) r
JOIN orders_runline l ON l.run_id = r.id
LEFT JOIN orders_piece p ON p.id = l.piece_id
LEFT JOIN orders_package k ON k.piece_id = p.id
LEFT JOIN shop_part t ON t.id = k.part_id
LEFT JOIN orders_weighing w ON w.id = l.weighing_id
WHERE ((r.kind = 'wrap' AND l.direction = 'out' AND p.kind = 'package' AND p.state <> 'void')
       OR (r.kind = 'grind' AND l.direction = 'added'))
  AND NOT EXISTS (SELECT 1 FROM orders_event v WHERE v.voids_id = l.event_id)
GROUP BY r.animal_id, r.order_id
""".format(
    runs="""
    SELECT r.id, r.kind, r.animal_id, r.order_id
    FROM orders_order o JOIN orders_animal a ON a.order_id = o.id JOIN orders_run r ON r.animal_id = a.id
    WHERE o.season_id = %s AND NOT r.put_back AND r.kind IN ('wrap', 'grind')
    UNION ALL
    SELECT r.id, r.kind, r.animal_id, r.order_id
    FROM orders_order o JOIN orders_run r ON r.order_id = o.id
    WHERE o.season_id = %s AND NOT r.put_back AND r.kind IN ('wrap', 'grind')"""
)

MEMBERS = """
SELECT a.id, a.order_id FROM orders_animal a JOIN orders_order o ON o.id = a.order_id
WHERE o.season_id = %s AND a.ended = '' ORDER BY a.id
"""

RECORDS = """
SELECT animal_id, received_mg, hung_mg, packs, packed_mg, added_mg, own_mg
FROM orders_yieldrecord WHERE season_id = %s
"""


@dataclass(frozen=True, slots=True)
class Numbers:
    """Milligrams, None for not weighed; and how many packs."""

    received: int | None
    hung: int | None
    packs: int
    packed: int | None
    added: int | None
    own: int | None


def from_ledger(season_id: int) -> dict[int, Numbers]:
    """By the first animal of what is reckoned together; three statements over the ledger's own rows."""
    body = {animal: weights for animal, *weights in _rows(BODY, season_id)}
    lines = {(animal, order): sums for animal, order, *sums in _rows(LINES, season_id, season_id)}
    members: dict[int, list[int]] = defaultdict(list)
    for animal, order in _rows(MEMBERS, season_id):
        members[order].append(animal)
    found = {}
    for order, animals in members.items():
        pool = lines.get((None, order))
        for group in [animals] if pool else [[animal] for animal in animals]:
            sums = [lines[animal, None] for animal in group if (animal, None) in lines]
            found[group[0]] = _numbers([body[animal] for animal in group], [*sums, pool] if pool else sums)
    return found


def _numbers(bodies: list[list[Any]], sums: list[list[Any]]) -> Numbers:
    packs, unweighed, packed, fat_unweighed, added = (sum(each[i] or 0 for each in sums) for i in range(5))
    packed_mg = None if unweighed or not packs else int(packed)
    added_mg = None if fat_unweighed else int(added)
    own = None if packed_mg is None or added_mg is None else packed_mg - added_mg
    return Numbers(_sum(bodies, 0), _sum(bodies, 1), packs, packed_mg, added_mg, own)


def _sum(bodies: list[list[Any]], index: int) -> int | None:
    weights = [each[index] for each in bodies]
    return None if None in weights else int(sum(weights))


def from_records(season_id: int) -> dict[int, Numbers]:
    """The same from the yield records, in one statement."""
    return {animal: Numbers(*numbers) for animal, *numbers in _rows(RECORDS, season_id)}


def through_models(season_id: int) -> dict[int, Numbers]:
    """The same from the yield records, as a page reads them that shows numbers alone."""
    rows = YieldRecord.objects.filter(season=season_id).defer("members", "observed", "facts")
    return {
        row.animal_id: Numbers(
            row.received_mg, row.hung_mg, row.packs, row.packed_mg, row.added_mg, row.own_mg
        )
        for row in rows
    }


def of_yields(found: Iterable[Yield]) -> dict[int, Numbers]:
    """What the program itself reckoned from the ledger, in the same shape."""
    numbers = {}
    for each in found:
        points = {point.key: point.mg for point in each.account.points}
        numbers[each.animals[0].pk] = Numbers(
            points.get("received"),
            points.get("hanging"),
            each.account.pack_count,
            each.account.packed_mg,
            each.account.added_mg,
            each.own_mg,
        )
    return numbers


def _rows(statement: str, *values: int) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return cursor.fetchall()
