"""The commands that build the demo and set up a fresh shop."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from orders.demo import build
from orders.demo.alone import alone
from orders.demo.setup import PASSWORD
from orders.intake.models import Order
from orders.management.commands import demo
from shop.models import Person, Place, ShopSettings, Station, Step
from shop.setup import set_up
from tests.processes import ROOT


def demo_command(**options: Any) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    call_command("demo", stdout=out, stderr=err, **options)
    return out.getvalue(), err.getvalue()


@pytest.fixture
def small_season(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> None:
    """The command with four orders, on this computer only."""
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
    settings.DATA_DIR = tmp_path
    settings.MEDIA_ROOT, settings.PRINT_ROOT = tmp_path / "media", tmp_path / "print"
    whole = build.build
    monkeypatch.setattr(build, "build", lambda progress: whole(progress, pick=lambda plans: plans[:4]))


@pytest.mark.django_db
def test_the_command_builds_once_and_keeps_what_is_there(small_season: None) -> None:
    said, progress = demo_command()
    assert PASSWORD in said
    assert "4 of 4 orders" in progress
    orders = list(Order.objects.values_list("pk", "state"))
    again, kept = demo_command()
    assert "The demo is here already and stays as it is" in kept
    assert again == said
    assert list(Order.objects.values_list("pk", "state")) == orders


@pytest.mark.django_db(transaction=True)
def test_reset_builds_it_anew(small_season: None, tmp_path: Path) -> None:
    demo_command()
    printed = tmp_path / "print" / "26-0001.pdf"
    printed.parent.mkdir()
    printed.write_bytes(b"of the season before")
    Order.objects.update(note="touched")
    said, progress = demo_command(reset=True)
    assert "4 of 4 orders" in progress
    assert PASSWORD in said
    assert (Order.objects.count(), Order.objects.filter(note="touched").count()) == (4, 0)
    assert not printed.exists()


@pytest.mark.django_db(transaction=True)
def test_a_season_whose_ledger_does_not_agree_is_not_kept(
    small_season: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("orders.management.commands.demo.problems", lambda: ["Order 26-0001 has no state."])
    with pytest.raises(CommandError, match="does not agree: Order 26-0001 has no state"):
        demo_command()
    assert not build.is_demo()
    assert Order.objects.count() == 0


# --- two at once -----------------------------------------------------------------------------------------------

HOLDS_THE_LOCK = """
import pathlib, sys
from orders.demo.alone import alone
with alone(pathlib.Path(sys.argv[1]), lambda: None):
    print("mine", flush=True)
    sys.stdin.readline()
"""


@contextmanager
def another_builder(lock: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that holds the lock until a line is written to it."""
    command = [sys.executable, "-c", HOLDS_THE_LOCK, str(lock)]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with subprocess.Popen(command, cwd=ROOT, text=True, **pipes) as other:
        try:
            assert other.stdout is not None
            assert other.stdout.readline() == "mine\n"
            yield other
        finally:
            other.kill()


def test_the_second_builder_is_told_and_waits(tmp_path: Path) -> None:
    lock, said = tmp_path / "demo.lock", []

    def waits() -> None:
        said.append(other.poll())
        assert other.stdin is not None
        other.stdin.write("done\n")
        other.stdin.flush()

    with another_builder(lock) as other, alone(lock, waits):
        # It was at work when the second came, and is through with it now.
        assert said == [None]
        assert other.wait(10) == 0


def test_a_killed_builder_leaves_no_lock_behind(tmp_path: Path) -> None:
    lock, said = tmp_path / "demo.lock", []
    with another_builder(lock) as other:
        other.send_signal(signal.SIGKILL)
        other.wait(10)
        assert lock.exists()
        with alone(lock, lambda: said.append("waits")):
            pass
    assert said == []


@pytest.mark.django_db
def test_the_command_says_that_another_build_is_running(
    small_season: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with another_builder(tmp_path / "demo.lock") as other:
        told = demo.Command._say_that_another_builds

        def tell(command: demo.Command) -> None:
            told(command)
            assert Order.objects.count() == 0
            other.kill()

        monkeypatch.setattr(demo.Command, "_say_that_another_builds", tell)
        _, progress = demo_command()
    assert progress.startswith("Another build of this demo is running. Waiting until it is done ...\n")
    assert "4 of 4 orders" in progress


@pytest.mark.django_db
@pytest.mark.parametrize("hosts", [["*"], ["localhost", "192.168.4.20"], ["shop.example"]])
def test_known_passwords_are_refused_where_others_reach_the_shop(hosts: list[str], settings: Any) -> None:
    settings.ALLOWED_HOSTS = hosts
    with pytest.raises(CommandError, match="passwords that everybody knows"):
        demo_command()
    assert Person.objects.count() == 0


def test_another_shop_s_database_is_left_alone(scenario: Any, settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["localhost"]
    ShopSettings.objects.update(name="Somebody's shop")
    order = scenario.order()
    for options in ({}, {"reset": True}):
        with pytest.raises(CommandError, match="a database of its own"):
            demo_command(**options)
    assert list(Order.objects.all()) == [order]


# --- a fresh shop ----------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_fresh_shop_has_a_station_for_each_step_and_keeps_its_own() -> None:
    made = set_up()
    assert set(Station.objects.values_list("step", flat=True)) == set(Step.values) - {Step.OFFICE}
    assert set(Place.objects.exclude(sink="").values_list("sink", flat=True)) == {
        "collected",
        "used",
        "hauled",
        "void",
    }
    assert "Rail A" in made
    Station.objects.filter(name="Block 1").update(name="Big table")
    Place.objects.filter(name="Rail B").delete()
    assert set_up() == []
    assert not Station.objects.filter(name="Block 1").exists()


@pytest.mark.django_db
def test_the_set_up_says_that_an_owner_is_missing_and_adds_one(monkeypatch: pytest.MonkeyPatch) -> None:
    said = StringIO()
    call_command("setup_shop", stdout=said)
    assert "Nobody can log in as the owner yet" in said.getvalue()
    monkeypatch.setattr("getpass.getpass", lambda prompt: "pine-needle-tea")
    call_command("setup_shop", owner="olive", stdout=StringIO())
    assert Person.objects.get().role == "owner"
    assert Person.objects.get().check_password("pine-needle-tea")
    again = StringIO()
    call_command("setup_shop", stdout=again)
    assert again.getvalue() == "The shop has its stations and places.\n"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("typed", "sentence"),
    [(("pine-needle-tea", "pine-needle-tee"), "not the same"), (("short", "short"), "too short")],
)
def test_a_bad_password_adds_nobody(
    monkeypatch: pytest.MonkeyPatch, typed: tuple[str, str], sentence: str
) -> None:
    answers = iter(typed)
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(answers))
    with pytest.raises(CommandError, match=sentence):
        call_command("setup_shop", owner="olive", stdout=StringIO())
    assert Person.objects.count() == 0
