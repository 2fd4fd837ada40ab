"""People compared by what they did whole, as the owner reads it. It names what can be seen, and never why."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing

from orders.yields.audit import Audited, SeasonAudit
from orders.yields.audit_charts import percent
from orders.yields.charts import crew_drawing, share
from orders.yields.crew import FEWEST_ANIMALS, Crew, PersonYield, compare

CANNOT = (
    "It can show that the animals one person did whole gave more or less than the others’. It cannot show why: who "
    "gets the big ones, the badly shot ones or the last of a long day is not in it. Look at the animals first."
)
DRAWN = (
    "Each person’s average is drawn toward that of all, the fewer animals the more: a few odd animals say little about "
    "anybody."
)


@dataclass(frozen=True, slots=True)
class CrewRow:
    """One person with enough animals to be shown, in percent of what was expected of them."""

    name: str
    n: int
    mean: str
    pooled: str
    between: str
    words: str
    animals: tuple[Audited, ...] = ()


@dataclass(frozen=True)
class CrewPage:
    """The comparison of a season: of how many animals, the rows, and how many people have too few to be shown."""

    crew: Crew
    names: tuple[str, ...]
    whole: int
    of: int
    rows: tuple[CrewRow, ...]
    too_few: int

    @property
    def average(self) -> str:
        return "" if self.crew.mean is None else percent(share(self.crew.mean))

    @property
    def drawing(self) -> Drawing:
        """The picture, for the page and for the paper."""
        return crew_drawing(self.crew, self.names, fewest=FEWEST_ANIMALS)

    @property
    def sentence(self) -> str:
        """Of what it speaks."""
        return (
            f"{self.whole} of {self.of} animals were done whole by one person, from the knife to the last pack; only "
            "these are compared. Where several touched an animal, nobody can say whose work its yield is."
        )

    @property
    def fewest(self) -> int:
        return FEWEST_ANIMALS


def crew_of(found: SeasonAudit) -> CrewPage:
    """Compare people by the animals of a season that each did whole."""
    by_person: dict[int, list[float]] = {}
    animals: dict[int, list[Audited]] = {}
    names: dict[int, str] = {}
    for each in found.compared:
        value, person = each.log_of_likely, each.record.alone
        if person is None or value is None or len(each.record.members) > 1:
            continue
        by_person.setdefault(person.pk, []).append(value)
        animals.setdefault(person.pk, []).append(each)
        names[person.pk] = str(person)
    in_order = sorted(by_person, key=lambda pk: names[pk])
    crew = compare({pk: by_person[pk] for pk in in_order})
    people = [(pk, names[pk], each) for pk, each in zip(in_order, crew.people, strict=True)]
    return CrewPage(
        crew=crew,
        names=tuple(name for _, name, _ in people),
        whole=sum(map(len, by_person.values())),
        of=len(found.compared),
        rows=tuple(
            _row(name, each, tuple(animals[pk])) for pk, name, each in people if each.n >= FEWEST_ANIMALS
        ),
        too_few=sum(each.n < FEWEST_ANIMALS for _, _, each in people),
    )


def _row(name: str, each: PersonYield, animals: tuple[Audited, ...]) -> CrewRow:
    mean = percent(share(each.mean))
    if each.pooled is None or each.low is None or each.high is None:
        return CrewRow(name, each.n, mean, "", "", "nobody to compare with", animals)
    between = f"{share(each.low):.1f} to {share(each.high):.1f} %"
    words = "apart from the others: look at these animals" if each.apart else "not apart from the others"
    return CrewRow(name, each.n, mean, percent(share(each.pooled)), between, words, animals)
