"""The files for a server of one's own and for containers name what exists, and agree with the settings."""

from __future__ import annotations

import configparser
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import yaml

from deploy.bootstrap.running import ROOT

DEPLOY = ROOT / "deploy"
UNITS = sorted((DEPLOY / "server").glob("*.service"))
STARTED_FROM_THE_ENVIRONMENT = {"gunicorn", "celery", "python"}


def unit(file: Path) -> dict[str, list[str]]:
    """What stands under [Service]; a name may stand there several times."""
    section, found = "", dict[str, list[str]]()
    for line in file.read_text().splitlines():
        if line.startswith("["):
            section = line
        elif section == "[Service]" and "=" in line and not line.startswith("#"):
            name, _, value = line.partition("=")
            found.setdefault(name, []).append(value)
    return found


def names_files_that_exist(command: list[str]) -> bool:
    files = [word for word in command if word.endswith(".py")]
    modules = [word.split(":")[0] for word in command if word.startswith("deploy.")]
    return all((ROOT / file).is_file() for file in files) and all(
        (ROOT / f"{module.replace('.', '/')}.py").is_file() for module in modules
    )


def test_there_is_a_unit_for_each_of_the_three_processes() -> None:
    assert [file.stem for file in UNITS] == ["register-scheduler", "register-web", "register-worker"]


@pytest.mark.parametrize("file", UNITS, ids=lambda file: file.stem)
def test_a_unit_starts_what_exists_as_nobody_special(file: Path) -> None:
    settings = unit(file)
    assert settings["User"] == ["register"]
    assert settings["EnvironmentFile"] == ["/etc/register/register.env"]
    assert settings["NoNewPrivileges"] == ["yes"]
    for line in settings["ExecStart"] + settings.get("ExecStartPre", []):
        program, *arguments = shlex.split(line)
        assert Path(program).parent == Path("/srv/register/.venv/bin")
        assert Path(program).name in STARTED_FROM_THE_ENVIRONMENT
        assert names_files_that_exist(arguments), line


def test_the_units_are_files_that_systemd_can_read() -> None:
    for file in UNITS:
        parser = configparser.ConfigParser(strict=False, interpolation=None)
        parser.read(file)
        assert {"Unit", "Service", "Install"} == set(parser.sections())


def test_the_containers_start_what_exists() -> None:
    compose: dict[str, Any] = yaml.safe_load((DEPLOY / "compose.yaml").read_text())
    services = compose["services"]
    assert {"web", "worker", "scheduler", "database", "broker"} <= set(services)
    for name in ("migrate", "worker", "scheduler"):
        program, *arguments = services[name]["command"]
        assert program in STARTED_FROM_THE_ENVIRONMENT
        assert names_files_that_exist(arguments), name
    built = services["web"]["build"]
    assert (DEPLOY / built["context"] / built["dockerfile"]).is_file()
    for name, service in services.items():
        for other, how in service.get("depends_on", {}).items():
            assert other in services, name
            assert how["condition"] != "service_healthy" or "healthcheck" in services[other]


def test_the_server_in_front_says_what_the_settings_believe() -> None:
    nginx = (DEPLOY / "server" / "nginx.conf").read_text()
    said = dict(re.findall(r"proxy_set_header (\S+) (\S+);", nginx))
    # One trusted proxy (TRUSTED_PROXIES=1): it writes the header anew, whatever a client sent.
    assert said == {"Host": "$host", "X-Forwarded-For": "$remote_addr", "X-Forwarded-Proto": "$scheme"}
