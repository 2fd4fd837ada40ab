"""At the counter: who it is, what was brought, what is wanted of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from random import Random

from orders.cutsheets.actions import save_cut_sheet
from orders.cutsheets.rules import LineFacts
from orders.demo.hands import Hands, minutes, scale
from orders.demo.hunters import hunter, people
from orders.demo.plan import BIRDS, LARGE, OrderPlan
from orders.demo.pounds import QUARTERS, Pounds, of_animal, tenths
from orders.intake.actions import add_animal, bring_piece, name_hunter, new_order, record_order, record_tag
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal, Contact, Order
from shop.models import NoTagReason, PlaceKind

TAG_LETTERS = {"white-tailed-deer": "WT", "mule-deer": "MD", "elk": "EK", "pronghorn": "PH", "moose": "MS"}
COUNTER = "Counter"
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

    def take_in(self, order: Order, species: str, n: int) -> tuple[Animal, Pounds | None]:
        """One animal with its facts, tag and weights; its pounds are None where nothing will be cut of it."""
        rng = self.rng
        arrived = self._arrival(species)
        young = rng.random() < 0.2
        facts = self._facts(species, arrived, young)
        pounds = None
        if species not in BIRDS:
            hit_hard = "shoulder" in facts.regions_hit or "hind" in facts.regions_hit
            pounds = of_animal(
                rng,
                species,
                sex=facts.sex,
                young=young,
                days=self.hands.shop.species[species].hang_days,
                hit_hard=hit_hard and arrived == "whole",
                all_ground=arrived in ("boneless", "trim"),
            )
        weight = self._door_weight(arrived, pounds)
        answer = self.hands.do(
            add_animal,
            order,
            COUNTER,
            self.at + minutes(4 + 3 * n),
            rng,
            species=self.hands.shop.species[species],
            arrived_as=arrived,
            facts=facts,
            place=self.hands.shop.tables[COUNTER],
            tag_no=self._tag(species, n),
            weight=weight,
        )
        animal = answer.fetch(Animal)
        self._follow_up(animal)
        if arrived in ("pieces", "boneless", "trim") and pounds is not None:
            self._bring_pieces(animal, arrived, pounds)
        return animal, pounds

    def write_cut_sheet(self, animal: Animal) -> None:
        """The house cut, all of it ground, or what this hunter chose."""
        style, at = self.rng.random(), self.at + minutes(12)
        lines: list[LineFacts] = []
        if animal.arrived_as in ("whole", "skinned", "pieces"):
            if style < 0.2:
                lines = [self._line(part, "grind") for part in HINDS]
                lines.append(self._line("backstrap", "grind"))
            elif style < 0.8:
                backstrap = self.rng.choice(("butterflied", "whole", "halved", "steaks"))
                lines = [self._line("backstrap", backstrap, thickness_16ths=16, pieces_per_pack=4)]
                lines += [self._line(part, "grind") for part in HINDS[1:]]
                if style < 0.35:
                    lines.append(self._line("top-round", "roast", share_bp=5_000, pack_oz=40))
                    half = {"share_bp": 5_000, "thickness_16ths": 12, "pieces_per_pack": 4}
                    lines.append(self._line("top-round", "steaks", **half))
        if animal.species.code not in BIRDS and style < 0.85:
            kind, ounces = self.rng.choice(("pork", "beef", "beef")), self.rng.choice((16, 32, 32))
            lines.append(self._line("grind-trim", "ground", pack_oz=ounces, fat_bp=1_000, fat_kind=kind))
        wrap = "paper" if self.rng.random() < 0.25 else "vacuum"
        self.hands.do(save_cut_sheet, animal, COUNTER, at, self.rng, lines=tuple(lines), wrap=wrap)

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

    def _facts(self, species: str, arrived: str, young: bool) -> AnimalFacts:
        rng, plan = self.rng, self.plan
        killed = (plan.arrives - timedelta(hours=rng.randint(2, 40))).date()
        birds = rng.randint(2, 6) if species != "wild-turkey" else 1
        sex = "male" if rng.random() < 0.6 else "female"
        antlered = sex == "male" and not young and species not in ("black-bear", "wild-boar", *BIRDS)
        inside = "present" if rng.random() < 0.72 else "field"
        facts = AnimalFacts(
            sex=sex,
            age_class="young" if young else "adult",
            license_no=hunter(plan.hunter).facts.license_no,
            killed_on=killed,
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
            bird_count=birds if species in BIRDS else None,
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

    def _door_weight(self, arrived: str, pounds: Pounds | None) -> object:
        if pounds is None or arrived in ("pieces", "boneless", "trim"):
            return None
        return scale(pounds.received if arrived == "whole" else pounds.hanging)

    def _follow_up(self, animal: Animal) -> None:
        """The reason where there is no tag, unless the tag is still awaited."""
        if animal.tag_no or self.plan.case == "no_tag":
            return
        code = "no-tag-here" if animal.species.code == "wild-boar" else "landowner-exempt"
        reason = NoTagReason.objects.get(code=code)
        self.hands.do(record_tag, animal, COUNTER, self.at + minutes(8), self.rng, no_tag_reason=reason)

    def _bring_pieces(self, animal: Animal, arrived: str, pounds: Pounds) -> None:
        rows: tuple[tuple[str, int], ...] = QUARTERS
        if arrived != "pieces":
            form = "bag-boneless" if arrived == "boneless" else "bag-trim"
            rows = ((form, 500), (form, 480))
        whole = pounds.hanging if arrived == "pieces" else pounds.trim * 1_000 // 900
        for offset, (form, thousandths) in enumerate(rows):
            self._bring(animal, form, scale(tenths(whole * thousandths // 1_000)), offset)
        if arrived == "pieces" and animal.keep_head == "keep":
            self._bring(animal, "head", None, len(rows))

    def _bring(self, animal: Animal, form: str, weight: object, offset: int) -> None:
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
