"""The container files say what the project can do: checked against the Compose specification and the code."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from django.conf import settings

from tests import processes

ROOT = Path(settings.BASE_DIR)
OURS = ("migrate", "web", "worker", "beat")


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    return yaml.safe_load((ROOT / "docker-compose.yml").read_text())


@pytest.fixture(scope="module")
def specification() -> dict[str, Any]:
    """The Compose specification's own JSON schema; its origin is in tests/data/README.md."""
    return json.loads((ROOT / "tests/data/compose-spec.json").read_text())


def dockerfile() -> list[tuple[str, str]]:
    """Instruction and argument, one per logical line."""
    text = re.sub(r"\\\n", " ", (ROOT / "Dockerfile").read_text())
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    return [(line.split(None, 1)[0], line.split(None, 1)[1]) for line in lines]


def test_the_file_keeps_to_the_specification(compose: dict[str, Any], specification: dict[str, Any]) -> None:
    jsonschema.Draft7Validator(specification).validate(compose)


def test_the_specification_would_notice(compose: dict[str, Any], specification: dict[str, Any]) -> None:
    wrong = json.loads(json.dumps(compose))
    wrong["services"]["web"]["healthchek"] = wrong["services"]["web"].pop("healthcheck")
    with pytest.raises(jsonschema.ValidationError, match="healthchek"):
        jsonschema.Draft7Validator(specification).validate(wrong)


def test_each_service_waits_for_services_that_can_be_waited_for(compose: dict[str, Any]) -> None:
    services = compose["services"]
    for name in OURS:
        for needed, how in services[name]["depends_on"].items():
            if how["condition"] == "service_healthy":
                assert "healthcheck" in services[needed], needed
            else:
                assert how["condition"] == "service_completed_successfully"
                assert services[needed]["restart"] == "no"
    assert set(services["web"]["depends_on"]) == {"db", "redis", "migrate"}


def test_every_running_service_has_a_health_check(compose: dict[str, Any]) -> None:
    without = {name for name, service in compose["services"].items() if "healthcheck" not in service}
    assert without == {"migrate"}


def test_named_volumes_are_declared(compose: dict[str, Any]) -> None:
    used = {mount.split(":")[0] for each in compose["services"].values() for mount in each["volumes"]}
    assert used == set(compose["volumes"])


def test_the_settings_read_every_variable_that_is_set(compose: dict[str, Any]) -> None:
    source = (ROOT / "shop/settings.py").read_text()
    for name in OURS:
        for variable in compose["services"][name]["environment"]:
            assert f'"{variable}"' in source, variable


def test_no_password_is_written_down(compose: dict[str, Any]) -> None:
    for service in compose["services"].values():
        for variable, value in service.get("environment", {}).items():
            if "PASSWORD" in variable or "@db" in str(value):
                assert "${POSTGRES_PASSWORD:?" in value


def test_every_command_exists(compose: dict[str, Any]) -> None:
    for name in OURS:
        words = shlex.split(compose["services"][name]["command"])
        assert shutil.which(words[0], path=f"{processes.BIN}:/bin:/usr/bin"), words[0]
    for command in re.findall(r"manage\.py (\w+)", compose["services"]["migrate"]["command"]):
        ended = processes.run(
            sys.executable, "manage.py", command, "--help", DATABASE_URL="sqlite://:memory:"
        )
        assert ended.returncode == 0, ended.stderr


def test_the_image_runs_what_the_web_service_runs(compose: dict[str, Any]) -> None:
    assert json.loads(dict(dockerfile())["CMD"]) == shlex.split(compose["services"]["web"]["command"])


def test_the_image_does_not_run_as_root() -> None:
    instructions = [name for name, _ in dockerfile()]
    assert dict(dockerfile())["USER"] == "gambrel"
    assert "RUN" not in instructions[instructions.index("USER") :]


def test_the_image_has_a_python_that_the_project_accepts() -> None:
    version = re.fullmatch(r"python:3\.(\d+)-slim", dict(dockerfile())["FROM"])
    wanted = re.search(r'requires-python = ">=3\.(\d+)"', (ROOT / "pyproject.toml").read_text())
    assert version
    assert wanted
    assert int(version[1]) >= int(wanted[1])


def test_no_key_is_baked_into_the_image() -> None:
    [build] = [text for name, text in dockerfile() if name == "RUN" and "collectstatic" in text]
    assert build.startswith("GAMBREL_DATA=/tmp/build SECRET_KEY=build ")
    ignored = (ROOT / ".dockerignore").read_text().split()
    assert {"var", ".env", ".git"} <= set(ignored)


def test_hashed_static_files_are_served(tmp_path: Path) -> None:
    """As in the image: collected with hashed names, a page names them, and they are served for good."""
    hashed = {"HASHED_STATIC": "1", "STATIC_ROOT": str(tmp_path / "static"), "GAMBREL_DATA": str(tmp_path)}
    hashed |= {"DATABASE_URL": f"sqlite:///{tmp_path / 'shop.sqlite3'}"}
    for command in (["collectstatic", "--noinput"], ["migrate"]):
        ended = processes.run(sys.executable, "manage.py", *command, "--verbosity", "0", **hashed)
        assert ended.returncode == 0, ended.stderr
    code = """
import django, re
django.setup()
from django.test import Client
from django.urls import reverse
client = Client(headers={"host": "localhost"})
page = client.get(reverse("login")).content.decode()
paths = re.findall(r'(?:href|src)="(/static/[^"]+)"', page)
assert paths, page
for path in paths:
    assert re.search(r"\\.[0-9a-f]{12}\\.", path), path
    answer = client.get(path)
    assert answer.status_code == 200, path
    assert "immutable" in answer["Cache-Control"], path
    b"".join(answer.streaming_content)
"""
    ended = processes.run_python(code, **hashed)
    assert ended.returncode == 0, ended.stderr
