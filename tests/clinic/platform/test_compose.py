"""What can be said about the clinic's set-up without an engine that runs it."""

import re
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[3]
DOCKERFILE = (ROOT / "Dockerfile").read_text()


@pytest.fixture(scope="module")
def compose():
    return yaml.safe_load((ROOT / "docker-compose.yml").read_text())


def test_it_runs_database_web_worker_and_proxy(compose):
    assert set(compose["services"]) == {"database", "migrate", "web", "worker", "proxy"}


def test_every_lasting_service_has_a_health_check(compose):
    for name, service in compose["services"].items():
        assert name == "migrate" or service["healthcheck"]["test"], name


def test_every_secret_named_is_defined_and_read_as_a_file(compose):
    for service in compose["services"].values():
        named = set(service.get("secrets", []))
        assert named <= set(compose["secrets"])
        read = {
            Path(value).name
            for value in service.get("environment", {}).values()
            if str(value).startswith("/run/secrets/")
        }
        assert read <= named


def test_no_secret_stands_in_the_file_itself(compose):
    for service in compose["services"].values():
        for name, value in service.get("environment", {}).items():
            if re.search("PASSWORD|SECRET|_URL", name):
                assert name.endswith("_FILE") or str(value).startswith("${"), name


def test_only_the_migration_knows_the_owner_of_the_tables(compose):
    knows = {
        name for name, service in compose["services"].items() if "owner-url" in service.get("secrets", [])
    }
    assert knows == {"migrate"}


def test_volumes_networks_and_configs_that_are_used_are_defined(compose):
    for service in compose["services"].values():
        assert {volume.split(":")[0] for volume in service.get("volumes", [])} <= set(compose["volumes"])
        assert set(service["networks"]) <= set(compose["networks"])
        assert {config["source"] for config in service.get("configs", [])} <= set(compose["configs"])


def test_only_the_proxy_is_reached_from_outside(compose):
    assert {name for name, service in compose["services"].items() if "ports" in service} == {"proxy"}


def test_programs_run_without_rights_they_do_not_need(compose):
    for name in ("migrate", "web", "worker"):
        service = compose["services"][name]
        assert service["cap_drop"] == ["ALL"]
        assert service["read_only"] is True


def test_the_image_runs_as_an_ordinary_user():
    user = re.findall(r"^USER (.+)$", DOCKERFILE, re.MULTILINE)
    assert user
    assert user[-1].split(":")[0] not in ("root", "0")


def test_the_image_installs_by_hash_and_has_what_setup_installs():
    assert "--require-hashes" in DOCKERFILE
    setup = (ROOT / "script" / "setup").read_text()
    libraries = re.search(r"^packages=\((.+)\)$", setup, re.MULTILINE)
    assert libraries
    for package in libraries[1].split():
        assert package in DOCKERFILE


def test_roles_of_the_set_up_are_those_of_the_program(compose):
    from clinic.platform import roles

    script = compose["configs"]["roles"]["content"]
    for word in (roles.OWNER, roles.APPLICATION, *roles.EXTENSIONS):
        assert word in script
