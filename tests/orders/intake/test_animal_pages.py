"""An animal at the counter: taken in, weighed, corrected, held and ended through its pages."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from orders.intake.actions import end_animal, record_tag, weigh_received
from orders.intake.cautions import DECIDE, DISEASE_TEST, GUT_SHOT, TENDERLOINS, WARM
from orders.intake.facts import AnimalFacts
from orders.intake.models import Animal
from orders.ledger.holds import open_hold
from orders.ledger.models import Event, Hold
from orders.ledger.voids import void_piece
from orders.ledger.weights import received_mg
from orders.papers.intake import animal_tags
from shop.models import NoTagReason, PieceForm, ShopSettings, Species
from shop.weights import pounds
from tests.conftest import Places
from tests.orders.intake.conftest import codes
from tests.scenario import Scenario, lb

pytestmark = pytest.mark.django_db
Send = Callable[..., Any]


@pytest.fixture
def deer_form(scenario: Scenario) -> dict[str, Any]:
    """What a clerk sends for a whole deer."""
    return {
        "species": Species.objects.get(code="white-tailed-deer").pk,
        "arrived_as": "whole",
        "tag_no": "WT-1",
        "weight": "131.5",
        "place": scenario.places.door.pk,
        "weight_basis": "dressed_feet_on",
    }


@pytest.fixture
def address(scenario: Scenario) -> str:
    return f"/orders/{scenario.order().number}/animals/add/"


# --- taking it in ---------------------------------------------------------------------------------------------


def test_a_whole_deer_with_everything(
    counter: Client, send: Send, address: str, deer_form: dict[str, Any]
) -> None:
    day = timezone.localdate()
    answers = {
        "tare": "1.5",
        "license_no": "L-1",
        "sex": "male",
        "age_class": "adult",
        "killed_on": day.isoformat(),
        "kill_place": "unit 4",
        "regions_hit": ["shoulder", "ribs"],
        "tenderloin_left": "present",
        "tenderloin_right": "field",
        "keep_head": "antlers",
        "keep_organs": "discard",
        "warm": "on",
        "condition_note": "mud on the hams",
        "disease_test": "asked",
    }
    answer = send(counter, address, **deer_form, **answers)
    animal = Animal.objects.get()
    assert (answer.status_code, answer.url) == (302, f"/animals/{animal.pk}/")
    assert (animal.tag_no, animal.license_no, animal.sex, animal.age_class) == (
        "WT-1",
        "L-1",
        "male",
        "adult",
    )
    assert (animal.killed_on, animal.kill_place, animal.regions_hit) == (day, "unit 4", ["shoulder", "ribs"])
    assert (animal.tenderloin_left, animal.tenderloin_right) == ("present", "field")
    assert (animal.keep_head, animal.keep_cape, animal.keep_organs) == ("antlers", "", "discard")
    assert (animal.warm, animal.dirty, animal.condition_note) == (True, False, "mud on the hams")
    assert animal.taker == animal.order.hunter
    assert received_mg(animal) == pounds(130)
    assert [hold.kind for hold in animal.holds.all()] == ["disease_test"]
    assert Event.objects.get(verb="add_animal").station.step == "counter"


def test_only_species_and_arrival_have_to_be_said(
    counter: Client, send: Send, address: str, deer_form: dict[str, Any]
) -> None:
    send(counter, address, **{**deer_form, "weight": "", "tag_no": "", "not_weighed": "on"})
    animal = Animal.objects.get()
    assert (animal.state, animal.tag_no, received_mg(animal)) == ("not_received", "", None)
    assert (animal.sex, animal.keep_head, animal.tenderloin_left) == ("unknown", "", "")


def test_a_license_on_record_is_filled_in(scenario: Scenario, counter: Client, send: Send) -> None:
    order = scenario.order("Odell Finch", "406-555-0177")
    send(counter, f"/orders/{order.number}/hunter/", what="correct", name="Odell Finch", license_no="L-77")
    form = counter.get(f"/orders/{order.number}/animals/add/?species=elk").context["form"]
    assert (form["license_no"].value(), form["place"].value()) == ("L-77", scenario.places.door.pk)


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ({"species": ""}, {"species": ["required"]}),
        ({"species": "999999"}, {"species": ["invalid_choice"]}),
        ({"species": "9" * 40}, {"species": ["invalid_choice"]}),
        ({"species": "\0"}, {"species": ["null_characters_not_allowed"]}),
        ({"arrived_as": "by mail"}, {"arrived_as": ["invalid_choice"]}),
        ({"weight": ""}, {"weight": ["weight_unreadable"]}),
        ({"weight": "heavy"}, {"weight": ["weight_unreadable"]}),
        ({"weight": "-4"}, {"weight": ["weight_unreadable"]}),
        ({"weight": "9" * 20}, {"weight": ["weight_unreadable"]}),
        ({"weight": "9" * 400}, {"weight": ["max_length"]}),
        ({"weight": "131.5\0"}, {"weight": ["null_characters_not_allowed"]}),
        ({"not_weighed": "on"}, {"weight": ["weight_twice"]}),
        ({"tare": "a lot"}, {"tare": ["weight_unreadable"]}),
        ({"tare": "200"}, {"weight": ["tare_above_gross"]}),
        ({"tare": "131.5"}, {"weight": ["weight_zero"]}),
        ({"tare": "2 kg"}, {"weight": ["tare_unit"]}),
        ({"weight": "9000"}, {"weight": ["weight_impossible"]}),
        ({"weight": "390"}, {"weight": ["weight_doubtful"]}),
        ({"place": ""}, {"place": ["place_missing"]}),
        ({"place": "999999"}, {"place": ["invalid_choice"]}),
        ({"tag_no": "T" * 41}, {"tag_no": ["max_length"]}),
        ({"no_tag_reason": "999999"}, {"no_tag_reason": ["invalid_choice"]}),
        ({"killed_on": "02/31/2026"}, {"killed_on": ["invalid"]}),
        ({"killed_on": "0026-11-02"}, {"killed_on": ["killed_long_ago"]}),
        ({"killed_on": "2999-01-01"}, {"killed_on": ["killed_in_future"]}),
        ({"regions_hit": ["elbow"]}, {"regions_hit": ["invalid_choice"]}),
        ({"tenderloin_left": "maybe"}, {"tenderloin_left": ["invalid_choice"]}),
        ({"keep_cape": "antlers"}, {"keep_cape": ["invalid_choice"]}),
        ({"disease_test": "sampled"}, {"sample_no": ["sample_unnumbered"]}),
        ({"arrived_as": ""}, {"arrived_as": ["required"]}),
        ({"arrived_as": "birds", "bird_count": "3"}, {"arrived_as": ["invalid_choice"]}),
        ({"arrived_as": "pieces"}, {"weight": ["weight_of_pieces"]}),
    ],
)
def test_an_animal_typed_wrong_is_refused_beside_the_field_and_kept(
    counter: Client,
    address: str,
    deer_form: dict[str, Any],
    typed: dict[str, Any],
    expected: dict[str, list[str]],
) -> None:
    sent = {**deer_form, **typed}
    answer = counter.post(address, sent)
    form = answer.context["form"]
    assert (answer.status_code, codes(form)) == (422, expected)
    assert form["tag_no"].value() == sent["tag_no"]
    assert form["weight"].value() == sent["weight"]
    assert Animal.objects.count() == 0


def test_a_doubtful_weight_is_confirmed_by_a_box_that_only_then_appears(
    counter: Client, send: Send, address: str, deer_form: dict[str, Any]
) -> None:
    assert b'name="confirmed"' not in counter.get(f"{address}?species=white-tailed-deer").content
    doubtful = send(counter, address, **{**deer_form, "weight": "390"})
    assert b'name="confirmed"' in doubtful.content
    send(counter, address, **{**deer_form, "weight": "390"}, confirmed="on")
    assert received_mg(Animal.objects.get()) == pounds(390)


# --- birds ----------------------------------------------------------------------------------------------------


@pytest.fixture
def geese_form(scenario: Scenario) -> dict[str, Any]:
    """What a clerk sends for three geese."""
    goose = Species.objects.get(code="canada-goose").pk
    place = scenario.places.door.pk
    return {"species": goose, "bird_count": "3", "tag_no": "CG-1", "weight": "21", "place": place}


def test_birds_are_counted_and_there_is_one_way_to_come_in(
    counter: Client, send: Send, address: str, geese_form: dict[str, Any]
) -> None:
    assert send(counter, address, **geese_form).status_code == 302
    animal = Animal.objects.get()
    assert (animal.arrived_as, animal.bird_count, animal.tag_no) == ("birds", 3, "CG-1")
    assert (animal.pieces.get().name, received_mg(animal)) == ("3 birds", pounds(21))
    assert (animal.weight_basis, animal.regions_hit, animal.keep_head) == ("", [], "")


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ({"bird_count": ""}, {"bird_count": ["bird_count_missing"]}),
        ({"bird_count": "0"}, {"bird_count": ["min_value"]}),
        ({"weight": ""}, {"weight": ["weight_unreadable"]}),
        ({"place": ""}, {"place": ["place_missing"]}),
        # The tag comes first: without it nothing else about the birds matters.
        ({"tag_no": ""}, {"tag_no": ["untagged_birds"]}),
        ({"tag_no": "", "weight": ""}, {"tag_no": ["untagged_birds"]}),
        ({"tag_no": " ", "weight": "", "bird_count": "", "place": ""}, {"tag_no": ["untagged_birds"]}),
        ({"tag_no": "", "killed_on": "2999-01-01"}, {"tag_no": ["untagged_birds"]}),
        (
            {"tag_no": "", "weight": "", "bird_count": "0"},
            {"tag_no": ["untagged_birds"], "bird_count": ["min_value"]},
        ),
        ({"tag_no": "T" * 41}, {"tag_no": ["max_length"]}),
    ],
)
def test_birds_typed_wrong_are_refused_beside_the_field(
    counter: Client,
    address: str,
    geese_form: dict[str, Any],
    typed: dict[str, Any],
    expected: dict[str, list[str]],
) -> None:
    answer = counter.post(address, {**geese_form, **typed})
    assert (answer.status_code, codes(answer.context["form"])) == (422, expected)
    assert Animal.objects.count() == 0


def test_untagged_birds_are_on_record_as_refused(
    counter: Client, send: Send, address: str, geese_form: dict[str, Any]
) -> None:
    send(counter, address, **{**geese_form, "tag_no": "", "weight": ""})
    event = Event.objects.get(verb="add_animal")
    assert (event.outcome, event.refusal) == ("refused", "untagged_birds")


def test_a_corrected_count_is_the_lot_s_name_too(scenario: Scenario, counter: Client, send: Send) -> None:
    geese = take_in_geese(scenario, counter, send)
    page = f"/animals/{geese.pk}/edit/"
    unsaid = send(counter, page, bird_count="")
    assert (unsaid.status_code, codes(unsaid.context["form"])) == (422, {"bird_count": ["required"]})
    assert send(counter, page, bird_count="1").status_code == 302
    geese.refresh_from_db()
    assert (geese.bird_count, geese.pieces.get().name) == (1, "1 bird")


def test_no_reason_is_offered_in_place_of_the_birds_tag(
    scenario: Scenario, counter: Client, send: Send
) -> None:
    geese = take_in_geese(scenario, counter, send)
    assert list(counter.get(f"/animals/{geese.pk}/").context["tag_form"].fields) == ["tag_no"]
    reason = NoTagReason.objects.get(code="farm-raised").pk
    refused = send(counter, f"/animals/{geese.pk}/tag/", no_tag_reason=reason)
    assert (refused.status_code, codes(refused.context["tag_form"])) == (422, {"tag_no": ["tag_missing"]})


def take_in_geese(scenario: Scenario, counter: Client, send: Send) -> Animal:
    goose = Species.objects.get(code="canada-goose").pk
    address = f"/orders/{scenario.order().number}/animals/add/"
    send(
        counter,
        address,
        species=goose,
        bird_count="4",
        tag_no="CG-9",
        weight="28",
        place=scenario.places.door.pk,
    )
    return Animal.objects.get(tag_no="CG-9")


# --- what is asked ---------------------------------------------------------------------------------------------


def asked(client: Client, address: str) -> set[str]:
    """The names of what a page asks in its intake form."""
    found = re.findall(r'name="(\w+)"', client.get(address).content.decode().partition('class="intake"')[2])
    return set(found)


def test_the_species_comes_first_as_links(counter: Client, address: str) -> None:
    page = counter.get(address)
    text = page.content.decode()
    assert page.templates[0].name == "intake/animal_species.html"
    for species in Species.objects.all():
        assert f'href="?species={species.code}"' in text
    for unknown in ("unicorn", "", "a\0b"):
        again = counter.get(address, {"species": unknown})
        assert (again.status_code, again.templates[0].name) == (200, "intake/animal_species.html")


def test_what_a_species_cannot_have_is_not_asked(counter: Client, address: str) -> None:
    deer = asked(counter, f"{address}?species=white-tailed-deer")
    geese = asked(counter, f"{address}?species=canada-goose")
    assert deer - geese == {
        "arrived_as", "gut_shot", "keep_cape", "keep_head", "keep_hide", "keep_organs", "no_tag_reason",
        "regions_hit", "tenderloin_left", "tenderloin_right", "weight_basis",
    }  # fmt: skip
    assert geese - deer == {"bird_count"}


@pytest.mark.parametrize(("species", "antlers"), [("elk", True), ("pronghorn", True), ("black-bear", False)])
def test_antlers_are_asked_of_what_has_them(
    counter: Client, address: str, species: str, antlers: bool
) -> None:
    form = counter.get(f"{address}?species={species}").context["form"]
    assert ("antlers" in dict(form.fields["keep_head"].choices)) == antlers
    ways = dict(form.fields["arrived_as"].choices)
    assert ("whole" in ways, "birds" in ways) == (True, False)


def test_what_comes_in_pieces_is_not_asked_what_only_a_carcass_has(
    scenario: Scenario, counter: Client, send: Send, address: str
) -> None:
    elk = Species.objects.get(code="elk").pk
    sent = {"weight_basis": "live", "tenderloin_left": "present", "keep_cape": "keep", "warm": "on"}
    send(counter, address, species=elk, arrived_as="pieces", tag_no="EK-1", **sent)
    animal = Animal.objects.get()
    assert (animal.weight_basis, animal.tenderloin_left, animal.keep_cape, animal.warm) == ("", "", "", True)
    assert "keep_cape" not in asked(counter, f"/animals/{animal.pk}/edit/")


def test_a_correction_leaves_what_it_did_not_ask(scenario: Scenario, counter: Client, send: Send) -> None:
    """The head of an elk in pieces is written down with the elk, and not asked about again."""
    elk = scenario.elk()
    send(counter, f"/animals/{elk.pk}/edit/", kill_place="unit 2", sex="male")
    elk.refresh_from_db()
    assert (elk.kill_place, elk.keep_head, elk.taker) == ("unit 2", "keep", elk.order.hunter)


@pytest.mark.parametrize(
    ("typed", "opened"),
    [
        ({}, set()),
        ({"condition_note": "mud"}, {"Condition in words"}),
        ({"sample_no": "88"}, {"Disease test"}),
        ({"condition_note": "n" * 161, "disease_test": "perhaps"}, {"Condition in words", "Disease test"}),
    ],
)
def test_what_few_are_asked_is_folded_until_it_holds_something(
    counter: Client, address: str, deer_form: dict[str, Any], typed: dict[str, str], opened: set[str]
) -> None:
    sent = counter.post(address, {**deer_form, "weight": "", **typed})
    folded = [each for each in sent.context["form"].groups() if each.folded]
    assert [each.group.title for each in folded] == ["Condition in words", "Disease test"]
    assert {each.group.title for each in folded if each.is_open} == opened
    assert sent.content.count(b'<details open class="card asked"') == len(opened)


def test_the_bar_counts_what_is_to_be_mended_and_leads_there(
    counter: Client, address: str, deer_form: dict[str, Any]
) -> None:
    text = counter.post(address, {**deer_form, "weight": "", "killed_on": "never"}).content.decode()
    assert '<a href="#id_weight">2 answers to mend</a>' in text
    assert text.count(" autofocus") == 1
    assert re.search(r'<input[^>]* name="weight"[^>]* autofocus', text)
    nothing = counter.post(address, {"species": deer_form["species"]}).content.decode()
    assert '<a href="#id_arrived_as">1 answer to mend</a>' in nothing
    # Of the radio buttons of one question only the first has the focus.
    assert nothing.count(" autofocus") == 1


def test_weights_are_read_in_the_unit_of_the_shop(
    counter: Client, send: Send, address: str, deer_form: dict[str, Any]
) -> None:
    ShopSettings.objects.filter(pk=1).update(unit="kg")
    form = counter.get(f"{address}?species=white-tailed-deer").context["form"]
    assert "In kg," in form["weight"].help_text
    send(counter, address, **{**deer_form, "weight": "60"})
    assert received_mg(Animal.objects.get()) == 60_000_000


# --- its pieces -----------------------------------------------------------------------------------------------


def test_pieces_are_added_one_by_one_with_a_running_total(
    scenario: Scenario, counter: Client, send: Send, address: str, places: Places
) -> None:
    elk = Species.objects.get(code="elk").pk
    send(counter, address, species=elk, arrived_as="pieces", tag_no="EK-1")
    animal = Animal.objects.get()
    page = f"/animals/{animal.pk}/"
    assert counter.get(page).context["owed"][0].sentence == "Its pieces: none are written down yet."
    hind = PieceForm.objects.get(code="hind-quarter-left")
    first = send(counter, f"{page}pieces/add/", form=hind.pk, weight="58.5", place=places.rack.pk)
    assert first.url == page
    shown = counter.get(page).context
    assert (shown["body_count"], shown["total_mg"], shown["unweighed"]) == (1, pounds("58.5"), 0)
    # Wherever one has been meanwhile, the next piece goes where the last one went.
    assert shown["piece_form"]["place"].value() == places.rack.pk
    bag = PieceForm.objects.get(code="bag-neck")
    send(counter, f"{page}pieces/add/", form=bag.pk, not_weighed="on", place=places.rack.pk)
    shown = counter.get(page).context
    assert [(row.piece.name, row.count, row.received_mg) for row in shown["pieces"]] == [
        ("hind quarter, left", "1 of 2 so far", pounds("58.5")),
        ("bag of neck meat", "2 of 2 so far", None),
    ]
    assert (shown["total_mg"], shown["unweighed"]) == (pounds("58.5"), 1)
    assert "Whether all its pieces are in: 2 so far." in [owed.sentence for owed in shown["owed"]]


def counts(client: Client, animal: Animal) -> list[str]:
    """What the page and the paper say each piece is one of; they have to agree."""
    rows = [row for row in client.get(f"/animals/{animal.pk}/").context["pieces"] if row.n]
    tags = [tag for tag in animal_tags(animal) if tag["number"]]
    printed = [f"{tag['number']} of {tag['of']}{' so far' if tag['so_far'] else ''}" for tag in tags]
    assert [row.count for row in rows] == printed
    return printed


def test_pieces_are_so_many_so_far_until_the_clerk_says_that_all_are_in(
    scenario: Scenario, counter: Client, send: Send
) -> None:
    elk = scenario.elk()
    page = f"/animals/{elk.pk}/pieces/all/"
    assert counts(counter, elk)[-1] == "7 of 7 so far"
    assert b"All pieces are in: 7" in counter.get(f"/animals/{elk.pk}/").content
    done = send(counter, page)
    assert (done.status_code, done.url) == (302, f"/animals/{elk.pk}/")
    assert Event.objects.get(verb="all_pieces_in").shown == "26-0001: all is in, 7 pieces."
    assert counts(counter, elk) == [f"{k} of 7" for k in range(1, 8)]
    # One more after all, or one less, and it has to be said again.
    scenario.bring(elk, "ribs", "22")
    assert counts(counter, elk)[-1] == "8 of 8 so far"
    send(counter, page)
    assert counts(counter, elk)[-1] == "8 of 8"
    void_piece(elk.pieces.get(form__code="ribs"), by=scenario.by("counter"), reason="another elk's")
    assert counts(counter, elk)[-1] == "7 of 7 so far"


def test_an_animal_that_was_at_the_block_is_all_in(scenario: Scenario, counter: Client) -> None:
    elk = scenario.elk()
    scenario.opened(elk)
    assert counts(counter, elk)[-1] == "7 of 7"


def test_all_pieces_in_is_refused_where_it_means_nothing(
    scenario: Scenario, counter: Client, send: Send, address: str
) -> None:
    deer = scenario.deer()
    elk = Species.objects.get(code="elk").pk
    send(counter, address, species=elk, arrived_as="pieces", tag_no="EK-1")
    empty = Animal.objects.get(tag_no="EK-1")
    spoiled = scenario.elk(tag="EK-2")
    end_animal(spoiled, by=scenario.by("counter"), ending="spoiled", reason="green")
    for animal, code in ((deer, "came_whole"), (empty, "no_pieces"), (spoiled, "animal_ended")):
        answer = send(counter, f"/animals/{animal.pk}/pieces/all/")
        assert (answer.status_code, codes(answer.context["pieces_in_form"])) == (422, {"__all__": [code]})


def test_what_came_without_its_tag_is_here_and_not_received(scenario: Scenario, counter: Client) -> None:
    def states(animal: Animal) -> list[str]:
        order = counter.get(f"/orders/{animal.order.number}/").context["animals"][0]["pieces"]
        page = counter.get(f"/animals/{animal.pk}/").context["pieces"]
        assert [row.state for row in order] == [row.state for row in page]
        return [row.state for row in page]

    animal = scenario.deer(tag="")
    assert states(animal) == ["Here, not received"]
    trail = counter.get(f"/trail/{animal.pieces.get().code}/").content.decode()
    assert "Here, not received" in trail
    pickup = counter.get(f"/orders/{animal.order.number}/pickup/").content.decode()
    assert "here, not received, Counter" in pickup
    record_tag(animal, by=scenario.by("counter"), tag_no="WT-4")
    assert states(animal) == ["Received"]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ({"form": ""}, {"form": ["required"]}),
        ({"form": "999999"}, {"form": ["invalid_choice"]}),
        ({"weight": ""}, {"weight": ["weight_unreadable"]}),
        ({"weight": "2999"}, {"weight": ["weight_impossible"]}),
        ({"place": "999999"}, {"place": ["invalid_choice"]}),
        ({"form": "hind-quarter-left"}, {"form": ["piece_twice"]}),
    ],
)
def test_a_piece_typed_wrong_is_refused_beside_the_field_and_kept(
    scenario: Scenario, counter: Client, typed: dict[str, str], expected: dict[str, list[str]]
) -> None:
    animal = scenario.elk()
    sent = {"form": "bag-boneless", "weight": "12", "place": str(scenario.places.door.pk), **typed}
    known = PieceForm.objects.filter(code=sent["form"]).first()
    sent["form"] = str(known.pk) if known else sent["form"]
    answer = counter.post(f"/animals/{animal.pk}/pieces/add/", sent)
    form = answer.context["piece_form"]
    assert (answer.status_code, codes(form)) == (422, expected)
    assert form["weight"].value() == sent["weight"]
    assert animal.pieces.count() == 8


def test_a_whole_animal_is_offered_kept_parts_only(scenario: Scenario, counter: Client) -> None:
    def offered(animal: Animal) -> set[str]:
        form = counter.get(f"/animals/{animal.pk}/").context["piece_form"].fields["form"]
        return {piece.code for piece in form.queryset}

    assert offered(scenario.deer()) == {"head", "antlers", "cape", "hide", "organs"}
    assert offered(scenario.deer(tag="B-1", species="black-bear")) == {"head", "cape", "hide", "organs"}


def test_what_came_boneless_is_offered_no_quarter(
    scenario: Scenario, counter: Client, send: Send, address: str
) -> None:
    elk = Species.objects.get(code="elk").pk
    send(counter, address, species=elk, arrived_as="boneless", tag_no="EK-1")
    form = counter.get(f"/animals/{Animal.objects.get().pk}/").context["piece_form"].fields["form"]
    assert all(piece.is_boneless or piece.is_kept_part for piece in form.queryset)


def test_weighing_later_and_taking_it_back(scenario: Scenario, counter: Client, send: Send) -> None:
    animal = scenario.deer(weight="")
    page, piece = f"/animals/{animal.pk}/", animal.pieces.get()
    wrong = send(counter, f"/pieces/{piece.pk}/weigh/", weight="")
    assert (wrong.status_code, codes(wrong.context["weigh_form"])) == (422, {"weight": ["weight_unreadable"]})
    assert wrong.context["weigh_piece"] == piece
    assert send(counter, f"/pieces/{piece.pk}/weigh/", weight="131.5").url == page
    assert received_mg(animal) == pounds("131.5")
    again = send(counter, f"/pieces/{piece.pk}/weigh/", weight="99")
    assert (again.status_code, codes(again.context["weigh_form"])) == (422, {"weight": ["weighed_already"]})
    event = Event.objects.get(verb="weigh_received", outcome="ok")
    unsaid = send(counter, f"/events/{event.pk}/void/", reason="")
    assert (unsaid.status_code, codes(unsaid.context["void_form"])) == (422, {"reason": ["required"]})
    assert send(counter, f"/events/{event.pk}/void/", reason="wrong scale").url == page
    assert received_mg(animal) is None
    ((weighing, voidable),) = counter.get(page).context["weighings"]
    assert (weighing.event.voided_by.person.username, voidable) == ("clem", False)
    twice = send(counter, f"/events/{event.pk}/void/", reason="again")
    assert (twice.status_code, codes(twice.context["void_form"])) == (422, {"__all__": ["voided_already"]})


def test_what_cannot_be_taken_back_is_refused(scenario: Scenario, counter: Client, send: Send) -> None:
    animal = scenario.deer(tag="")
    send(counter, f"/animals/{animal.pk}/tag/", tag_no="WT-5")
    event = Event.objects.get(verb="record_tag")
    answer = send(counter, f"/events/{event.pk}/void/", reason="typed wrong")
    assert (answer.status_code, codes(answer.context["void_form"])) == (422, {"__all__": ["not_voidable"]})


# --- facts, tag, holds, ending --------------------------------------------------------------------------------


def test_facts_are_completed_and_the_unsaid_ones_stay(
    scenario: Scenario, counter: Client, send: Send
) -> None:
    animal = scenario.deer(facts=AnimalFacts())
    page = f"/animals/{animal.pk}/edit/"
    form = counter.get(page).context["form"]
    sent = {
        name: field.value() for name in form.fields if (field := form[name]).value() not in (None, False, [])
    }
    send(counter, page, **{**sent, "sex": "female", "keep_cape": "keep"})
    animal.refresh_from_db()
    assert (animal.sex, animal.keep_cape, animal.keep_head) == ("female", "keep", "")
    assert animal.weight_basis == "dressed_feet_on"


def test_a_correction_that_is_refused_keeps_what_was_typed(
    scenario: Scenario, counter: Client, send: Send
) -> None:
    animal = scenario.hung(scenario.deer())
    answer = send(
        counter, f"/animals/{animal.pk}/edit/", keep_cape="keep", keep_head="antlers", kill_place="unit 9"
    )
    form = answer.context["form"]
    assert (answer.status_code, codes(form)) == (422, {"keep_cape": ["skinned_already"]})
    assert form["kill_place"].value() == "unit 9"


def test_the_tag_is_recorded_or_its_reason(scenario: Scenario, counter: Client, send: Send) -> None:
    animal, other = scenario.deer(tag=""), scenario.deer(tag="WT-9")
    page = f"/animals/{animal.pk}/tag/"
    for typed, code in (({"tag_no": ""}, "tag_missing"), ({"tag_no": other.tag_no}, "tag_taken")):
        answer = send(counter, page, **typed)
        assert (answer.status_code, codes(answer.context["tag_form"])) == (422, {"tag_no": [code]})
    send(counter, page, no_tag_reason=NoTagReason.objects.get(code="farm-raised").pk)
    animal.refresh_from_db()
    assert (animal.state, animal.no_tag_reason.code) == ("received", "farm-raised")
    send(counter, page, tag_no="WT-10")
    animal.refresh_from_db()
    assert (animal.tag_no, animal.no_tag_reason) == ("WT-10", None)
    send(counter, f"{page}filed/", where="envelope 12")
    animal.refresh_from_db()
    assert animal.tag_filed_at == "envelope 12"
    assert send(counter, f"{page}filed/", where="").status_code == 422


def test_a_hold_is_opened_and_released_with_its_reason(
    scenario: Scenario, counter: Client, send: Send
) -> None:
    animal = scenario.deer()
    page = f"/animals/{animal.pk}/hold/"
    assert send(counter, page, kind="deposit", note="half").url == f"/animals/{animal.pk}/"
    twice = send(counter, page, kind="deposit")
    assert (twice.status_code, codes(twice.context["hold_form"])) == (422, {"kind": ["held_already"]})
    assert codes(send(counter, page, kind="whim").context["hold_form"]) == {"kind": ["invalid_choice"]}
    hold = Hold.objects.get()
    unsaid = send(counter, f"/holds/{hold.pk}/release/", note=" ")
    assert (unsaid.status_code, codes(unsaid.context["release_form"])) == (422, {"note": ["required"]})
    assert send(counter, f"/holds/{hold.pk}/release/", note="paid").status_code == 302
    hold.refresh_from_db()
    assert (hold.release_note, hold.released_by.username) == ("paid", "clem")
    again = send(counter, f"/holds/{hold.pk}/release/", note="paid")
    assert (again.status_code, codes(again.context["release_form"])) == (
        422,
        {"__all__": ["released_already"]},
    )


def test_the_list_of_holds(scenario: Scenario, counter: Client, send: Send, queries_of: Any, by: Any) -> None:
    def held(**asked: str) -> list[str]:
        return [row.record.animal.label for row in counter.get("/holds/", asked).context["table"].rows]

    first = scenario.deer()
    open_hold(first, by=by("counter"), kind="deposit", note="half")
    one = queries_of(counter, "/holds/")
    for tag in ("WT-2", "WT-3"):
        open_hold(scenario.deer(tag=tag), by=by("counter"), kind="recall")
    assert queries_of(counter, "/holds/") == one
    assert held() == ["26-0001", "26-0002", "26-0003"]
    send(counter, f"/holds/{Hold.objects.first().pk}/release/", note="paid")
    assert held() == ["26-0002", "26-0003"]
    assert held(all="1") == ["26-0003", "26-0002", "26-0001"]
    saved = counter.get("/holds/", {"save": "csv", "all": "1"}).content.decode("utf-8-sig").splitlines()
    assert saved[0] == "Animal,Hunter,Held for,Note,Since,By,Released"
    assert saved[3].startswith("26-0001,Rowan Sedgewick,Deposit,half,")


def test_an_animal_is_ended_with_its_reason(scenario: Scenario, counter: Client, send: Send) -> None:
    animal = scenario.deer()
    page = f"/animals/{animal.pk}/end/"
    assert codes(send(counter, page).context["end_form"]) == {"ending": ["required"], "reason": ["required"]}
    assert send(counter, page, ending="spoiled", reason="sour at the hip").url == f"/animals/{animal.pk}/"
    animal.refresh_from_db()
    assert animal.state == "spoiled"
    shown = counter.get(f"/animals/{animal.pk}/")
    assert (shown.context["owed"], shown.context["cautions"]) == ([], [])
    assert b"sour at the hip" in shown.content
    again = send(counter, page, ending="void", reason="x")
    assert (again.status_code, codes(again.context["end_form"])) == (422, {"__all__": ["animal_ended"]})


def test_cautions_stand_where_they_belong(scenario: Scenario, counter: Client) -> None:
    def shown(animal: Animal) -> list[str]:
        page = counter.get(f"/animals/{animal.pk}/")
        assert (DECIDE in page.content.decode()) == bool(page.context["cautions"])
        return page.context["cautions"]

    facts = AnimalFacts(warm=True, gut_shot=True, disease_test="asked", tenderloin_left="present")
    assert shown(scenario.deer(facts=facts)) == [WARM, GUT_SHOT, TENDERLOINS, DISEASE_TEST]
    assert shown(scenario.deer(tag="WT-2", facts=AnimalFacts(tenderloin_left="field"))) == []
    assert shown(scenario.hung(scenario.deer(tag="WT-3"))) == []
    bear = scenario.deer(tag="B-1", species="black-bear", facts=AnimalFacts())
    assert shown(bear) == [bear.species.caution]


def test_the_history_names_who_where_and_what_was_refused(
    scenario: Scenario, counter: Client, send: Send, by: Any
) -> None:
    animal = scenario.deer(weight="")
    weigh_received(animal.pieces.get(), by=by("counter"), weight=lb("131.5"))
    send(counter, f"/animals/{animal.pk}/tag/", tag_no="")
    events = counter.get(f"/animals/{animal.pk}/").context["events"]
    assert [(event.verb, event.outcome, event.person.username, event.station.name) for event in events] == [
        ("record_tag", "refused", "clem", "Counter"),
        ("weigh_received", "ok", "clem", "Counter"),
        ("add_animal", "ok", "clem", "Counter"),
    ]


def test_the_animal_page_takes_as_many_queries_with_one_piece_as_with_seven(
    scenario: Scenario, counter: Client, send: Send, address: str, queries_of: Any
) -> None:
    elk = Species.objects.get(code="elk").pk
    send(counter, address, species=elk, arrived_as="pieces", tag_no="EK-1")
    one = Animal.objects.get()
    scenario.bring(one, "hind-quarter-left", "58.5")
    seven = scenario.elk(head=False)
    assert queries_of(counter, f"/animals/{one.pk}/") == queries_of(counter, f"/animals/{seven.pk}/")


def test_a_link_to_the_pounds_is_the_owners(
    scenario: Scenario, counter: Client, floor: Client, by: Any
) -> None:
    animal = scenario.deer()
    end_animal(animal, by=by("counter"), ending="void", reason="written down twice")
    assert b"Where the pounds went" not in counter.get(f"/animals/{animal.pk}/").content
    assert floor.get(f"/animals/{animal.pk}/").status_code == 403
