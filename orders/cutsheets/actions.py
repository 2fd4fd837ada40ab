"""Writing down what the hunter wants; nothing stays unanswered, and what cannot be is refused."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from orders.cutsheets.models import CutLine, CutRequest, CutSheet
from orders.cutsheets.rules import LineFacts, Offer, house_line, offers
from orders.intake.models import Animal
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.models import RunKind
from orders.ledger.refusal import Refusal
from orders.ledger.runs import runs_of

WHOLE_BP = 10_000
MAX_FAT_BP = 5_000
WRAPS = ("paper", "vacuum")


@action("save_cut_sheet")
def save_cut_sheet(
    entry: Entry,
    animal: Animal,
    *,
    lines: tuple[LineFacts, ...] = (),
    wrap: str = "vacuum",
    note: str = "",
    based_on: int | None = None,
) -> Answer:
    """A new version of an animal's cut sheet. Parts without a line fall to the house cut, marked as such.

    No lines at all is the house cut. After cutting began a change is a request (`ask_change`). `based_on` is the
    version that was on the screen (0: none): a newer one is not overwritten unseen (`sheet_changed`).
    """
    entry.about(animal)
    _refuse_too_late(animal)
    if wrap not in WRAPS:
        raise Refusal("wrap_unknown", "Choose freezer paper or vacuum.", "wrap")
    whole = _with_house_cuts(animal, lines)
    last = _last_version(animal, based_on)
    if last is not None:
        animal.cut_sheets.filter(current=True).update(current=False)
    sheet = CutSheet.objects.create(
        animal=animal,
        version=last.version + 1 if last else 1,
        made_at=entry.at,
        made_by=entry.by.person,
        wrap=wrap,
        note=note.strip()[:80],
    )
    CutLine.objects.bulk_create(_line(sheet, line) for line in whole)
    return Answer(f"{animal.label}: cut sheet, version {sheet.version}.", {"cutsheet": sheet.pk})


def _refuse_too_late(animal: Animal) -> None:
    """Refuse when there is nothing to cut any more, or the cutter has begun (`animal_ended`, `cutting_began`)."""
    if animal.ended:
        raise Refusal("animal_ended", f"{animal.label} is {animal.get_state_display().lower()}.")
    if runs_of(animal, RunKind.CUT).exists():
        raise Refusal("cutting_began", f"{animal.label} is at the block: ask the cutter for the change.")


def _with_house_cuts(animal: Animal, lines: tuple[LineFacts, ...]) -> list[LineFacts]:
    """The lines, checked, and the house cut of every part that has none."""
    offered = {offer.part.pk: offer for offer in offers(animal)}
    check_lines(lines, offered)
    answered = {line.part.pk for line in lines}
    return [*lines, *(house_line(offer) for part, offer in offered.items() if part not in answered)]


def _last_version(animal: Animal, based_on: int | None) -> CutSheet | None:
    """The newest version there is. Refuses when it is not the one that was on the screen (`sheet_changed`)."""
    last = animal.cut_sheets.select_related("made_by").order_by("-version").first()
    if last is not None and based_on is not None and last.version != based_on:
        said = f"{last.made_by} has saved version {last.version} meanwhile. Look at it, then change what is left."
        raise Refusal("sheet_changed", said)
    return last


def _line(sheet: CutSheet, line: LineFacts) -> CutLine:
    return CutLine(
        sheet=sheet,
        part=line.part,
        choice=line.choice,
        share_bp=line.share_bp,
        thickness_16ths=line.thickness_16ths if line.choice.wants_thickness else None,
        pieces_per_pack=line.pieces_per_pack if line.choice.wants_pieces else None,
        pack_oz=line.pack_oz if line.choice.wants_pack else None,
        fat_bp=line.fat_bp,
        fat_kind=line.fat_kind if line.fat_bp else "",
        note=line.note.strip()[:80],
        from_house=line.from_house,
    )


def check_lines(lines: Sequence[LineFacts], offered: dict[int, Offer]) -> None:
    """Refuse a part the animal did not bring, a choice that cannot be, a half answer, shares that are not a whole."""
    shares: dict[int, int] = defaultdict(int)
    seen = set()
    for line in lines:
        offer = offered.get(line.part.pk)
        name = line.part.name.lower()
        if offer is None:
            raise Refusal("part_absent", f"This animal has no {name} to cut.", line.part.code)
        if line.choice not in offer.choices:
            said = f"{line.part.name} cannot be made into {line.choice.name.lower()} here."
            raise Refusal("choice_impossible", said, line.part.code)
        if (line.part.pk, line.choice.pk) in seen:
            raise Refusal("choice_twice", f"{line.part.name}: the same choice stands twice.", line.part.code)
        seen.add((line.part.pk, line.choice.pk))
        _check_details(line)
        shares[line.part.pk] += line.share_bp
    for line in lines:
        if shares[line.part.pk] != WHOLE_BP:
            said = f"The split of the {line.part.name.lower()} adds up to {shares[line.part.pk] / 100:g} %, not 100 %."
            raise Refusal("split_not_whole", said, line.part.code)


def _check_details(line: LineFacts) -> None:
    code, choice = line.part.code, line.choice
    if line.share_bp < 1:
        raise Refusal("share_wrong", "A share is more than nothing.", code)
    if choice.wants_thickness and not (line.thickness_16ths and 2 <= line.thickness_16ths <= 64):
        raise Refusal("thickness_missing", f"{line.part.name}: say how thick, from 1/8 to 4 inches.", code)
    if choice.wants_pieces and not (line.pieces_per_pack and 1 <= line.pieces_per_pack <= 50):
        raise Refusal("pieces_missing", f"{line.part.name}: say how many in a pack, from 1 to 50.", code)
    if choice.wants_pack and not (line.pack_oz and 4 <= line.pack_oz <= 400):
        raise Refusal("pack_missing", f"{line.part.name}: say the pack size, from 1/4 to 25 lb.", code)
    if line.fat_bp and not choice.is_grind:
        raise Refusal("fat_not_here", f"{line.part.name}: fat is added to the grind only.", code)
    if not 0 <= line.fat_bp <= MAX_FAT_BP:
        raise Refusal("fat_too_much", "Added fat is between 0 and 50 %.", code)
    if line.fat_bp and line.fat_kind not in ("pork", "beef"):
        raise Refusal("fat_kind_missing", "Say which fat is added: pork or beef.", code)


@action("ask_change")
def ask_change(entry: Entry, animal: Animal, *, text: str) -> Answer:
    """A change asked for after cutting began; the cutter sees it and answers before the animal is done."""
    entry.about(animal)
    if not text.strip():
        raise Refusal("text_missing", "Write down what the hunter asks for.", "text")
    run = runs_of(animal, RunKind.CUT).order_by("-id").first()
    if run is None:
        raise Refusal("not_cutting", "Cutting has not begun: change the cut sheet itself.", "text")
    if run.closed_at is not None:
        raise Refusal("cut_already", f"{animal.label} is broken down: it is too late for a change.", "text")
    made = CutRequest.objects.create(
        animal=animal, text=text.strip()[:160], asked_at=entry.at, asked_by=entry.by.person
    )
    return Answer(f"{animal.label}: the cutter is asked.", {"cutrequest": made.pk})


@action("answer_change")
def answer_change(entry: Entry, request: CutRequest, *, accepted: bool, answer: str = "") -> Answer:
    """The cutter says yes or no."""
    entry.about(request.animal)
    changed = CutRequest.objects.filter(pk=request.pk, answered_at=None).update(
        answered_at=entry.at, answered_by=entry.by.person, accepted=accepted, answer=answer.strip()[:160]
    )
    if changed != 1:
        raise Refusal("answered_already", "This is answered already.")
    return Answer(f"{request.animal.label}: {'yes' if accepted else 'no'} to “{request.text}”.")
