"""The container and unit files name what exists. They are not started here: this reads them."""

from __future__ import annotations

import re

import pytest
import yaml
from django.core.management import get_commands

from deploy.bootstrap import PROJECT

FOLDER = PROJECT / "deploy" / "container"
UNITS = sorted((FOLDER / "systemd").glob("*.service"))
COMPOSE = yaml.safe_load((FOLDER / "compose.yaml").read_text(encoding="utf-8"))
TEXTS = [*UNITS, FOLDER / "compose.yaml", FOLDER / "Dockerfile", FOLDER / "UPGRADE.md"]


def test_a_shop_has_its_five_services():
    assert {"web", "relay", "worker", "postgres", "redis"} <= set(COMPOSE["services"])
    assert [unit.stem for unit in UNITS] == ["squish-relay", "squish-web", "squish-worker"]


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.name)
def test_every_command_and_module_named_exists(path):
    text = path.read_text(encoding="utf-8")
    for command in re.findall(r"manage\.py ([a-z_]+)", text):
        assert command in get_commands()
    for module in re.findall(r"\bdeploy(?:\.[a-z]+)+(?=[ :\n])", text):
        named = PROJECT.joinpath(*module.split(".")).with_suffix(".py")
        assert named.is_file(), module


def test_every_setting_they_give_is_read_by_production():
    settings = PROJECT / "deploy" / "settings"
    read = "".join((settings / f"{one}.py").read_text("utf-8") for one in ("base", "production"))
    for name in COMPOSE["services"]["web"]["environment"]:
        assert f'"{name.removesuffix("_FILE")}"' in read


def test_secrets_come_from_files_and_only_the_proxy_reaches_the_web_server():
    for service in COMPOSE["services"].values():
        values = service.get("environment", {})
        assert not any("PASSWORD" in name and not name.endswith("_FILE") for name in values)
        assert all(port.startswith("127.0.0.1:") for port in service.get("ports", []))


def test_whoever_ends_is_started_again():
    always = {
        name for name, service in COMPOSE["services"].items() if service["restart"] == "always"
    }
    assert always == set(COMPOSE["services"]) - {"migrate"}
    assert all("Restart=always" in unit.read_text(encoding="utf-8") for unit in UNITS)
