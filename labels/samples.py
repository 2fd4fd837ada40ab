"""Invented values for every design, by name of design and sample: for trying a printer, and for the tests."""

from __future__ import annotations

from typing import Any

from shop.codes import Kind, make_code, spaced

SHOP = "Crooked Lantern Game Processing"
ADDRESS = "14 Sawmill Lane, Tamarack Fork"
PHONE = "555-0142"
_SHOP = {"shop": SHOP, "shop_address": ADDRESS}
_ORDER = {"order": "26-0147", "code": make_code(Kind.ORDER, 147)}

_CUT_LINES = [
    {"part": "Backstrap", "choice": "Steaks", "details": "3/4 in, 4 a pack"},
    {"part": "Tenderloin", "choice": "Whole", "details": "both in one pack"},
    {"part": "Top round", "choice": "Steaks", "details": "1/2 in, 4 a pack", "house": True},
    {"part": "Bottom round", "choice": "Roast", "details": "about 3 lb", "house": True},
    {"part": "Sirloin tip", "choice": "Roast", "details": "about 3 lb"},
    {"part": "Shoulder", "choice": "Grind", "details": ""},
    {"part": "Neck", "choice": "Roast", "details": "boneless, rolled"},
    {"part": "Grind trim", "choice": "Grind", "details": "1 lb packs, 10 % beef fat", "house": True},
]
_BOX_LINES = [
    {"cut": "Backstrap steaks", "count": 6, "weight": "5.40 lb"},
    {"cut": "Tenderloin, whole", "count": 1, "weight": "0.88 lb"},
    {"cut": "Top round steaks", "count": 5, "weight": "5.05 lb"},
    {"cut": "Sirloin tip roast", "count": 2, "weight": "5.92 lb"},
    {"cut": "Ground, 10 % beef fat", "count": 10, "weight": "10.15 lb"},
]
_PACKED = [
    {"what": "Tenderloin, whole", "packs": "2", "weight": "0.90 lb"},
    {"what": "Backstrap, steaks, 24 pieces", "packs": "6", "weight": "7.35 lb"},
    {"what": "Sirloin tip, roast", "packs": "2", "weight": "8.25 lb"},
    {"what": "Ground, with beef fat", "packs": "30", "weight": "30.00 lb, nominal"},
]
_WENT = [
    {"what": "Received", "weight": "101.50 lb", "remark": "whole, hide on. Nov 14, 2026", "point": True},
    {"what": "Antlers", "weight": "\u22123.10 lb", "remark": "taken off, kept for you"},
    {"what": "Feet", "weight": "not weighed"},
    {"what": "Hide, head, feet", "weight": "\u221215.90 lb", "remark": "not weighed apart"},
    {"what": "Hung", "weight": "82.50 lb", "point": True},
    {"what": "Dried", "weight": "not weighed", "remark": "in 4 days of hanging"},
    {"what": "At the block", "weight": "not weighed", "point": True},
    {"what": "Bone and fat", "weight": "\u221222.00 lb"},
    {"what": "Waste", "weight": "not weighed"},
    {"what": "Drying, waste", "weight": "\u221215.30 lb", "remark": "not weighed apart"},
    {"what": "Off the block, in lugs", "weight": "45.20 lb", "point": True},
    {"what": "Beef fat", "weight": "+1.90 lb", "remark": "added in the grinder, not your own meat"},
    {"what": "What stays on the tables", "weight": "\u22120.60 lb"},
    {"what": "Packed", "weight": "46.50 lb", "remark": "40 packs, Nov 18, 2026", "point": True},
    {"what": "Less beef fat", "weight": "\u22121.90 lb", "remark": "added, not your own meat"},
    {"what": "Your own meat", "weight": "44.60 lb", "point": True},
]
_SIGNATURE = [
    [
        [80, 620],
        [140, 260],
        [190, 640],
        [240, 300],
        [290, 650],
        [350, 560],
        [400, 500],
        [430, 620],
        [480, 520],
    ],
    [[520, 640], [560, 480], [620, 470], [640, 620], [700, 500], [780, 610], [900, 540]],
    [[100, 780], [900, 740]],
]
_SEASON = {
    **_SHOP,
    "season": "Fall 2026",
    "period": "Sep 1, 2026 to Feb 15, 2027",
    "printed": "Tue Feb 16, 2027, 8:05 am",
    "unit": "lb",
}
_REGISTER_COLUMNS = [
    "Order", "Received", "Delivered by", "Taken by", "Address of taker", "License", "Tag or confirmation",
    "Species", "Sex", "Count", "Killed", "Where killed", "Dressed lb", "Tag now", "Left on", "Left with",
]  # fmt: skip
_REGISTER_ROW = [
    "26-0147", "2026-11-14 09:42", "Ines Vardal", "Marta Okonek", "8 Quarry Road, Tamarack Fork", "L-204417",
    "M 3381 7720", "White-tailed deer", "buck", "1", "2026-11-14", "Alder County, unit 12", "101.5",
    "filed, drawer B", "2026-11-24", "Marta Okonek",
]  # fmt: skip


def _package(**more: Any) -> dict[str, Any]:
    return {
        "code": make_code(Kind.PACKAGE, 58213),
        "order": "26-0147",
        "owner": "Marta Okonek",
        "cut": "Backstrap steaks",
        "style": "3/4 in, 4 a pack",
        "net": "1.25 lb",
        "number": 3,
        "of": 24,
        "packed": "2026-11-18",
        "species": "White-tailed deer",
        **_SHOP,
        **more,
    }


def _piece(**more: Any) -> dict[str, Any]:
    return {
        "code": make_code(Kind.PIECE, 4471),
        "order": "26-0147",
        "animal": 1,
        "species": "White-tailed deer",
        "hunter": "Marta Okonek",
        "tag": "M 3381 7720",
        "received": "2026-11-14 9:42 am",
        "piece": "Whole carcass",
        "number": 1,
        "of": 3,
        **more,
    }


SAMPLES: dict[str, dict[str, dict[str, Any]]] = {
    "claim_slip": {
        "deer": {
            **_ORDER,
            **_SHOP,
            "shop_phone": PHONE,
            "hunter": "Marta Okonek",
            "phone": "(208) 555-0118",
            "received": "Sat Nov 14, 2026, 9:42 am",
            "dropped_off_by": "Ines Vardal",
            "may_collect": "Ines Vardal, Lena Brandt",
            "animals": [
                {
                    "number": 1,
                    "species": "White-tailed deer, buck",
                    "tag": "M 3381 7720",
                    "received_weight": "101.5 lb, hide on",
                    "kept": "antlers, cape",
                    "condition": "bloodshot left shoulder; clean; cold; tenderloins in",
                },
                {
                    "number": 2,
                    "species": "Elk, cow",
                    "tag": "E 5520 0193",
                    "received_weight": "171.0 lb, four quarters",
                    "kept": "nothing",
                },
            ],
            "terms": "Bring this slip. We call when it is ready; please collect within 7 days.",
        }
    },
    "piece_tag": {
        "carcass": _piece(),
        "kept": _piece(code=make_code(Kind.PIECE, 4472), piece="Antlers", number=None, of=None, kept=True),
        "held": _piece(code=make_code(Kind.PIECE, 4474), hold="test result pending"),
        "so far": _piece(code=make_code(Kind.PIECE, 4476), piece="Hind quarter, left", of=3, so_far=True),
    },
    "lug_card": {
        "grind": {
            "code": make_code(Kind.LUG, 902),
            "order": "26-0147",
            "hunter": "Marta Okonek",
            "species": "White-tailed deer",
            "tag": "M 3381 7720",
            "filed": "drawer B, envelope 31",
            "content": "Grind trim",
            "number": 2,
            "weight": "23.4 lb",
            "note": "10 % beef fat, no pork",
        },
        "unweighed": {
            "code": make_code(Kind.LUG, 903),
            "order": "26-0147",
            "hunter": "Marta Okonek",
            "species": "White-tailed deer",
            "tag": "M 3381 7720",
            "content": "Whole cuts",
            "number": 1,
        },
    },
    "package_label": {
        "deer": _package(),
        "counted": _package(code=make_code(Kind.PACKAGE, 58214), net="count: 4", of=None),
        "bear": _package(
            code=make_code(Kind.PACKAGE, 58215),
            species="Black bear",
            cut="Summer sausage, garlic",
            style="2 lb stick",
            net="nominal 2 lb",
            origin="Pooled batch 31",
            caution="BEAR: cook to 165 °F inside; freezing and smoking do not make it safe. "
            "Local rules and licensed practice decide.",
            ingredients="Ingredients: bear, pork, water, salt, dextrose, garlic, spices, sodium nitrite.",
        ),
    },
    "box_label": {
        "deer": {
            "code": make_code(Kind.BOX, 311),
            "order": "26-0147",
            "hunter": "Marta Okonek",
            "number": 1,
            "of": 3,
            "lines": _BOX_LINES,
            "total": "24 packages, 27.40 lb",
            "packed": "2026-11-18",
            "shop": f"{SHOP}, {ADDRESS}",
        }
    },
    "place_code": {
        "rail": {"code": make_code(Kind.PLACE, 12), "name": "Rail B", "detail": "Cooler 1"},
        "shelf": {"code": make_code(Kind.PLACE, 40), "name": "Freezer 2, shelf 4, left"},
    },
    "station_code": {"block": {"code": make_code(Kind.STATION, 3), "name": "Block 1", "detail": "Breakdown"}},
    "staff_badge": {"floor": {"badge": "402918773365", "name": "Tobin Reyes", "shop": SHOP}},
    "outgoing_receipt": {
        "signed": {
            **_ORDER,
            **_SHOP,
            "shop_phone": PHONE,
            "number": "R-26-0093",
            "owner": "Marta Okonek, 8 Quarry Road, Tamarack Fork",
            "animals": ["1 white-tailed deer, buck"],
            "tags": "M 3381 7720",
            "leaving": [
                {
                    "what": "Box 1 of 3",
                    "code": spaced(make_code(Kind.BOX, 311)),
                    "count": "24 packages",
                    "weight": "27.40 lb",
                },
                {
                    "what": "Box 2 of 3",
                    "code": spaced(make_code(Kind.BOX, 312)),
                    "count": "19 packages",
                    "weight": "21.15 lb",
                },
                {"what": "Antlers", "code": spaced(make_code(Kind.PIECE, 4472)), "count": "1"},
            ],
            "total": "2 boxes, 43 packages, 48.55 lb; antlers",
            "remains": "Box 3 of 3 (summer sausage, waits for its batch); cape",
            "collector": "Ines Vardal",
            "at": "Tue Nov 24, 2026, 5:18 pm",
            "clerk": "Tobin Reyes",
            "mark": _SIGNATURE,
        },
        "initials": {
            **_ORDER,
            **_SHOP,
            "owner": "Marta Okonek",
            "animals": ["1 white-tailed deer, buck"],
            "tags": "M 3381 7720",
            "leaving": [{"what": "Cape", "count": "1"}],
            "total": "cape",
            "remains": "Nothing is left in the shop.",
            "collector": "Marta Okonek",
            "at": "Fri Dec 4, 2026, 10:02 am",
            "clerk": "Tobin Reyes",
            "initials": "M.O.",
        },
    },
    "read_back": {
        "deer": {
            **_ORDER,
            **_SHOP,
            "hunter": "Marta Okonek",
            "animal": "1  White-tailed deer, buck, 101.5 lb hide on",
            "tag": "M 3381 7720",
            "lines": _CUT_LINES,
            "agreed": "Sat Nov 14, 2026, 9:47 am, by Tobin Reyes",
            "kept": "antlers, cape",
            "note": "No pork in anything.",
            "expected": "35 to 48 lb of boneless meat, likely 42 lb",
        }
    },
    "yield_statement": {
        "deer": {
            **_ORDER,
            **_SHOP,
            "hunter": "Marta Okonek",
            "animal": "1  White-tailed deer, buck",
            "tag": "M 3381 7720",
            "went": _WENT,
            "points_weighed": "4 of 6 points weighed. What was not weighed apart is given together.",
            "like_this": "What animals like this one give",
            "expected_low": "35.1 lb",
            "expected_likely": "41.8 lb",
            "expected_high": "48.2 lb",
            "packed": "44.60 lb",
            "expected_mg": [15_921_000, 18_960_000, 21_863_000],
            "packed_mg": 20_230_000,
            "covers": "90 % of animals like it lie between low and high: boneless meat of the animal with both "
            "tenderloins, no organs, no added fat; worked from 82.5 lb, hanging weight.",
            "cuts": _PACKED,
            "sums": ["Of this animal alone, nothing pooled: 40 packs, 46.50 lb with the fat in it."],
            "notes": ["The range comes from published figures; ask to see each step and its source."],
        }
    },
    "season_report": {
        "empty": {**_SEASON, "season": "Spring 2026", "period": "Mar 1, 2026 to Jun 30, 2026", "tables": []},
        "season": {
            **_SEASON,
            "words": "Not in these sums: 12 not packed yet, 1 spoiled.",
            "tables": [
                {
                    "title": "By species",
                    "columns": ["Species", "Animals", "Hung", "Packed, own", "Yield", "Flags"],
                    "rows": [
                        ["White-tailed deer", "38", "3,114.2", "1,512.0", "48.6 %", "4"],
                        ["Elk", "3", "640.5 (2)", "352.1", "55.0 % (2)", "0"],
                    ],
                    "total": ["Season", "41", "3,754.7 (40)", "1,864.1", "49.6 % (40)", "4"],
                }
            ],
            "notes": ["Own meat is what was packed less the fat and other meat that was added."],
        },
    },
    "custody_register": {
        "season": {
            **_SHOP,
            "period": "2026-11-01 to 2026-11-30",
            "printed": "2026-12-01 7:15 am",
            "columns": _REGISTER_COLUMNS,
            "rows": [
                _REGISTER_ROW,
                ["26-0148", *_REGISTER_ROW[1:5], "", *_REGISTER_ROW[6:14], "—", "—"],
                *([f"26-{number:04d}", *_REGISTER_ROW[1:]] for number in range(149, 189)),
            ],
        }
    },
}
