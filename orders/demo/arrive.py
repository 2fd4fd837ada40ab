"""At the counter: who it is, what was brought, what is wanted of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from random import Random

from orders.cutsheets.actions import save_cut_sheet
from orders.cutsheets.rules import LineFacts
from orders.demo.hands import Hands, minutes, scale
from orders.demo.hunters import hunter, people
from orders.demo.plan import BIRDS, LARGE, OrderPlan
from orders.demo.pounds import QUARTERS, Pounds, of_animal, of_birds, tenths
from orders.intake.actions import (
    add_animal,
    all_pieces_in,
    bring_piece,
    name_hunter,
    new_order,
    record_order,
    record_tag,
)
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal, Contact, Order
from orders.ledger.scale import OnScale
from shop.models import PlaceKind

TAG_LETTERS = {"white-tailed-deer": "WT", "mule-deer": "MD", "elk": "EK", "pronghorn": "PH", "moose": "MS"}
COUNTER = "Counter"
# What hunters want: all of it ground, some of it chosen (with a split or without), the rest the house cut.
ALL_GROUND, SPLIT, CHOSEN = 0.34, 0.48, 0.92
HINDS = ("top-round", "bottom-round", "eye-of-round", "sirloin-tip", "sirloin-butt")


class Arrival:
    """One order's time at the counter."""

    def __init__(self, hands: Hands, plan: OrderPlan, rng: Random, known: dict[int, Contact]) -> None:
        self.hands, self.plan, self.rng, self.known = hands, plan, rng, known
        self.at = plan.arrives

    def write_order(self) -> Order:
        """Number first, then the hunter, then what concerns the whole order."""
        plan, do = self.plan, self.hands.do
        answer = do(new_order, self.hands.shop.season, COUNTER, self.at, self.rng, rush=plan.rush)
        order = answer.fetch(Order)
        who = self.known.get(plan.hunter)
        facts = None if who else hunter(plan.hunter).facts
        answer = do(name_hunter, order, COUNTER, self.at + minutes(1), self.rng, contact=who, facts=facts)
        if who is None:
            self.known[plan.hunter] = answer.fetch(Contact)
        odd = self.rng.random()
        if plan.together or plan.rush or odd < 0.2:
            do(
                record_order,
                order,
                COUNTER,
                self.at + minutes(2),
                self.rng,
                dropped_off_by=self.rng.choice(people()["friends"]) if odd < 0.1 else "",
                may_collect=self.rng.choice(people()["friends"]) if odd < 0.15 else "",
                note=self.rng.choice(people()["notes"]) if 0.1 < odd < 0.2 else "",
                rush=plan.rush,
                grind_together=plan.together,
                promised_on=(plan.arrives + timedelta(days=3)).date() if plan.rush else None,
            )
        return order

    def take_in(self, order: Order, species: str, n: int) -> tuple[Animal, Pounds]:
        """One animal, or one hunter's lot of birds, with its facts, tag and weights."""
        arrived = self._arrival(species)
        young = self.rng.random() < 0.2
        facts = self._facts_of_birds(species) if species in BIRDS else self._facts(species, arrived, young)
        pounds = self._pounds(species, arrived, young, facts)
        known = {
            "species": self.hands.shop.species[species],
            "arrived_as": arrived,
            "facts": facts,
            "place": self.hands.shop.tables[COUNTER],
            "weight": self._door_weight(arrived, pounds),
        }
        at = self.at + minutes(4 + 3 * n)
        if self.plan.case == "untagged_birds":
            self.hands.try_in_vain(add_animal, order, COUNTER, at, self.rng, **known)
            at += minutes(3)
        tag_no = self._tag(species, n)
        animal = self.hands.do(add_animal, order, COUNTER, at, self.rng, tag_no=tag_no, **known).fetch(Animal)
        self._follow_up(animal)
        if arrived in ("pieces", "boneless", "trim"):
            self._bring_pieces(animal, arrived, pounds)
        return animal, pounds

    def _pounds(self, species: str, arrived: str, young: bool, facts: AnimalFacts) -> Pounds:
        if species in BIRDS:
            return of_birds(self.rng, species, facts.bird_count or 1)
        hit_hard = "shoulder" in facts.regions_hit or "hind" in facts.regions_hit
        return of_animal(
            self.rng,
            species,
            sex=facts.sex,
            young=young,
            days=self.hands.shop.species[species].hang_days,
            hit_hard=hit_hard and arrived == "whole",
            all_ground=arrived in ("boneless", "trim"),
        )

    def write_cut_sheet(self, animal: Animal) -> None:
        """The house cut, all of it ground, or what this hunter chose."""
        style = SPLIT - 0.01 if self.plan.case == "split" else self.rng.random()
        lines = (
            self._bird_lines(animal, style) if animal.arrived_as == "birds" else self._lines(animal, style)
        )
        wrap = "paper" if self.rng.random() < 0.25 else "vacuum"
        at = self.at + minutes(12)
        self.hands.do(save_cut_sheet, animal, COUNTER, at, self.rng, lines=tuple(lines), wrap=wrap)

    def _lines(self, animal: Animal, style: float) -> list[LineFacts]:
        lines: list[LineFacts] = []
        if animal.arrived_as in ("whole", "skinned", "pieces"):
            if style < ALL_GROUND:
                lines = [self._line(part, "grind") for part in HINDS]
                lines.append(self._line("backstrap", "grind"))
            elif style < CHOSEN:
                backstrap = self.rng.choice(("butterflied", "whole", "halved", "steaks"))
                lines = [self._line("backstrap", backstrap, thickness_16ths=16, pieces_per_pack=4)]
                lines += [self._line(part, "grind") for part in HINDS[1:]]
                if style < SPLIT:
                    lines.append(self._line("top-round", "roast", share_bp=5_000, pack_oz=40))
                    half = {"share_bp": 5_000, "thickness_16ths": 12, "pieces_per_pack": 4}
                    lines.append(self._line("top-round", "steaks", **half))
        if style < 0.95:
            kind, ounces = self.rng.choice(("pork", "beef", "beef")), self.rng.choice((16, 32, 32))
            lines.append(self._line("grind-trim", "ground", pack_oz=ounces, fat_bp=1_000, fat_kind=kind))
        return lines

    def _bird_lines(self, animal: Animal, style: float) -> list[LineFacts]:
        """Some plucked and the others breasted, all of them breasted, all of them ground, or the house cut."""
        if style < 0.3 and (animal.bird_count or 1) % 2 == 0:
            half = {"share_bp": 5_000, "pieces_per_pack": 1}
            rest = {"share_bp": 5_000, "pieces_per_pack": 2}
            return [self._line("bird", "plucked-whole", **half), self._line("bird", "breast-fillets", **rest)]
        if style < 0.5:
            return [self._line("bird", "breast-fillets", pieces_per_pack=2)]
        if style < 0.6 and animal.species.code == "canada-goose":
            legs = self._line("loose-legs", "ground", pack_oz=16)
            return [self._line("bird", "ground", pack_oz=16, fat_bp=1_000, fat_kind="pork"), legs]
        return []

    def _line(self, part: str, choice: str, **values: int | str) -> LineFacts:
        found = self.hands.shop.parts[part]
        chosen = next(each for each in found.choices.all() if each.code == choice)
        return LineFacts(part=found, choice=chosen, **values)  # type: ignore[arg-type]

    def _arrival(self, species: str) -> str:
        if species in BIRDS:
            return "birds"
        if species in LARGE:
            return "pieces" if self.rng.random() < 0.9 else "whole"
        if self.plan.case:
            return "whole"
        return self.rng.choices(("whole", "skinned", "boneless", "trim"), (50, 10, 22, 18))[0]

    def _facts_of_birds(self, species: str) -> AnimalFacts:
        plan = self.plan
        return AnimalFacts(
            license_no=hunter(plan.hunter).facts.license_no,
            killed_on=self._killed_on(),
            kill_place=self.rng.choice(people()["kill_places"]),
            bird_count=1 if species == "wild-turkey" else self.rng.randint(2, 6),
        )

    def _killed_on(self) -> date:
        return (self.plan.arrives - timedelta(hours=self.rng.randint(2, 40))).date()

    def _facts(self, species: str, arrived: str, young: bool) -> AnimalFacts:
        rng, plan = self.rng, self.plan
        sex = "male" if rng.random() < 0.6 else "female"
        antlered = sex == "male" and not young and species not in ("black-bear", "wild-boar")
        inside = "present" if rng.random() < 0.72 else "field"
        facts = AnimalFacts(
            sex=sex,
            age_class="young" if young else "adult",
            license_no=hunter(plan.hunter).facts.license_no,
            killed_on=self._killed_on(),
            kill_place=rng.choice(people()["kill_places"]),
            dirty=rng.random() < 0.08,
            gut_shot=rng.random() < 0.05,
            regions_hit=tuple(rng.sample(("shoulder", "ribs", "neck", "hind", "loin"), rng.randint(1, 2))),
            tenderloin_left=inside,
            tenderloin_right=inside if rng.random() < 0.95 else "damaged",
            keep_head="antlers" if antlered else "discard",
            keep_cape="keep" if antlered and rng.random() < 0.12 else "discard",
            keep_hide="keep" if species == "black-bear" or rng.random() < 0.06 else "discard",
            keep_organs="discard",
        )
        if plan.case == "held_test" or (plan.case == "released_hold"):
            facts = replace(facts, disease_test="sampled", sample_no=f"S-{7000 + plan.n}")
        if plan.case == "unanswered":
            facts = replace(facts, tenderloin_left="", tenderloin_right="", keep_cape="", kill_place="")
        if arrived == "pieces":
            facts = replace(facts, keep_head="keep" if antlered else "absent", keep_hide="absent")
        return facts

    def _tag(self, species: str, n: int) -> str:
        if self.plan.case in ("no_tag", "no_tag_reason") or species == "wild-boar":
            return ""
        return f"{TAG_LETTERS.get(species, 'GB')}-{50_000 + self.plan.n * 10 + n}"

    def _door_weight(self, arrived: str, pounds: Pounds) -> OnScale | None:
        if arrived in ("pieces", "boneless", "trim"):
            return None
        return scale(pounds.received if arrived == "whole" else pounds.hanging)

    def _follow_up(self, animal: Animal) -> None:
        """The reason where there is no tag, unless the tag is still awaited."""
        if animal.tag_no or self.plan.case == "no_tag":
            return
        code = "no-tag-here" if animal.species.code == "wild-boar" else "landowner-exempt"
        reason = self.hands.shop.reasons[code]
        self.hands.do(record_tag, animal, COUNTER, self.at + minutes(8), self.rng, no_tag_reason=reason)

    def _bring_pieces(self, animal: Animal, arrived: str, pounds: Pounds) -> None:
        rows: tuple[tuple[str, int], ...] = QUARTERS
        if arrived != "pieces":
            form = "bag-boneless" if arrived == "boneless" else "bag-trim"
            rows = ((form, 980),) if self.rng.random() < 0.6 else ((form, 500), (form, 480))
        whole = pounds.hanging if arrived == "pieces" else pounds.trim * 1_000 // 900
        for offset, (form, thousandths) in enumerate(rows):
            self._bring(animal, form, scale(tenths(whole * thousandths // 1_000)), offset)
        if arrived == "pieces" and animal.keep_head == "keep":
            self._bring(animal, "head", None, len(rows))
        if self.rng.random() < 0.9:
            self.hands.do(all_pieces_in, animal, COUNTER, self.at + minutes(11), self.rng)

    def _bring(self, animal: Animal, form: str, weight: OnScale | None, offset: int) -> None:
        kept = self.hands.shop.forms[form].is_kept_part
        place = self.hands.place(PlaceKind.HOOK, self.rng) if kept else self.hands.shop.tables[COUNTER]
        at = self.at + minutes(5) + timedelta(seconds=40 * offset)
        self.hands.do(
            bring_piece,
            animal,
            COUNTER,
            at,
            self.rng,
            form=self.hands.shop.forms[form],
            place=place,
            weight=weight,
        )
