"""The files that describe the containers, read as data: there is no engine here to run them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from shop import health
from shop.celery import PLANNING
from tests.settings import HOME

APP = {"migrate", "web", "worker", "planner", "beat"}
SERVERS = {"postgres", "redis"}


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    loaded: dict[str, Any] = yaml.safe_load((HOME / "docker-compose.yml").read_text())
    return loaded


@pytest.fixture(scope="module")
def dockerfile() -> str:
    return (HOME / "Dockerfile").read_text()


def test_the_services_are_those_of_a_real_installation(compose: dict[str, Any]) -> None:
    assert set(compose["services"]) == APP | SERVERS


def test_each_lasting_service_tells_how_it_is(compose: dict[str, Any]) -> None:
    for name in APP - {"migrate"} | SERVERS:
        service = compose["services"][name]
        assert service["healthcheck"]["test"][0] in {"CMD", "CMD-SHELL"}, name
        assert service["restart"] == "unless-stopped", name


def test_plans_have_a_worker_of_their_own(compose: dict[str, Any]) -> None:
    def queues(name: str) -> list[str]:
        command: list[str] = compose["services"][name]["command"]
        return command[command.index("--queues") + 1].split(",") if "--queues" in command else []

    assert queues("planner") == [PLANNING]
    assert queues("worker") == []  # the common one


def test_the_app_waits_for_its_servers_and_its_tables(compose: dict[str, Any]) -> None:
    for name in APP - {"migrate"}:
        waits = compose["services"][name]["depends_on"]
        assert waits["migrate"]["condition"] == "service_completed_successfully"
        assert {waits[server]["condition"] for server in SERVERS} == {"service_healthy"}
    assert "postgres" in compose["services"]["migrate"]["depends_on"]


def test_what_must_outlive_a_container_stands_in_named_volumes(compose: dict[str, Any]) -> None:
    mounts = {
        name: [mount.split(":") for mount in service.get("volumes", [])]
        for name, service in compose["services"].items()
    }
    assert all(mount[0] in compose["volumes"] for of_one in mounts.values() for mount in of_one)
    assert mounts["postgres"] == [["database", "/var/lib/postgresql/data"]]
    assert mounts["redis"] == [["queue", "/data"]]
    assert all(mounts[name] == [["state", "/var/lib/curewright"]] for name in APP)


def test_no_secret_is_written_down_and_a_missing_one_is_named(compose: dict[str, Any]) -> None:
    for name, service in compose["services"].items():
        for variable, value in service["environment"].items():
            if re.search("KEY|PASSWORD|SMTP|URL|HOSTS", variable):
                assert re.search(r"\$\{([A-Z_]+):\?Set \1 in \.env\}", value), (name, variable)


def test_every_variable_stands_in_the_example(compose: dict[str, Any]) -> None:
    text = (HOME / "docker-compose.yml").read_text()
    asked = set(re.findall(r"(?<!\$)\$\{([A-Z_]+)", text))
    offered = set(re.findall(r"^([A-Z_]+)=", (HOME / ".env.example").read_text(), re.MULTILINE))
    assert asked == offered


def test_nothing_runs_as_root_or_may_become_it(compose: dict[str, Any], dockerfile: str) -> None:
    for name, service in compose["services"].items():
        assert service["cap_drop"] == ["ALL"], name
        assert service["security_opt"] == ["no-new-privileges:true"], name
    assert {compose["services"][server]["user"] for server in SERVERS} == SERVERS
    last_user = re.findall(r"^USER (\S+)$", dockerfile, re.MULTILINE)[-1]
    assert last_user not in {"root", "0"}
    assert dockerfile.rindex("\nUSER ") < dockerfile.index("\nCMD ")


def test_no_image_changes_its_version_by_itself(compose: dict[str, Any], dockerfile: str) -> None:
    images = [service["image"] for service in compose["services"].values()]
    images += re.findall(r"^FROM (\S+)", dockerfile, re.MULTILINE)
    for image in images:
        tag = image.partition(":")[2]
        assert tag, image
        assert tag != "latest", image


def test_only_the_web_server_is_reached_from_outside_and_only_locally(
    compose: dict[str, Any],
) -> None:
    open_to = {name: s["ports"] for name, s in compose["services"].items() if "ports" in s}
    assert open_to == {"web": ["${CUREWRIGHT_LISTEN:-127.0.0.1:8000}:8000"]}


def test_the_image_installs_by_hash_and_has_what_letters_need(dockerfile: str) -> None:
    assert "--require-hashes --requirement /tmp/run.txt" in dockerfile
    for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "fonts-dejavu"):
        assert package in dockerfile


def test_what_the_image_copies_is_there_and_let_in(dockerfile: str) -> None:
    copied = re.findall(r"^COPY (?!--)(\S+) ", dockerfile, re.MULTILINE)
    let_in = re.findall(r"^!(\S+)$", (HOME / ".dockerignore").read_text(), re.MULTILINE)
    assert set(copied) == set(let_in)
    assert all((HOME / name).exists() for name in copied)


def test_a_clock_that_stopped_writing_is_not_well(tmp_path: Path) -> None:
    assert not health.beat_ticks(tmp_path, now=1e9)
    schedule = tmp_path / "beat-schedule"
    schedule.touch()
    written = schedule.stat().st_mtime
    assert health.beat_ticks(tmp_path, now=written + 200)
    assert not health.beat_ticks(tmp_path, now=written + 700)


def test_a_web_server_that_is_not_there_is_not_well() -> None:
    assert not health.web_answers(1, "localhost")
