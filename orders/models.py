"""All models of the app, gathered for Django from the steps."""

from orders.cutsheets.models import CutLine, CutRequest, CutSheet
from orders.intake.models import Animal, Contact, Order, Season
from orders.ledger.models import Event, Hold, Movement, Piece, Run, RunLine, Weighing
from orders.packing.models import Package
from orders.pickup.models import Release
from orders.yields.models import ShopFigure, YieldRecord

__all__ = [
    "Animal",
    "Contact",
    "CutLine",
    "CutRequest",
    "CutSheet",
    "Event",
    "Hold",
    "Movement",
    "Order",
    "Package",
    "Piece",
    "Release",
    "Run",
    "RunLine",
    "Season",
    "ShopFigure",
    "Weighing",
    "YieldRecord",
]
