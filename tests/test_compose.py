"""What the container files name exists in the code: commands, variables, ports, files."""

import ast
import re
import shlex
import tomllib
from importlib import import_module
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import yaml
from celery import Celery
from django.core.management import get_commands, load_command_class

ROOT = Path(__file__).resolve().parent.parent
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]
OURS = {name: service for name, service in SERVICES.items() if "build" in service}
DOCKERFILE = (ROOT / "Dockerfile").read_text().replace("\\\n", " ")
PLACEHOLDER = re.compile(r"\$\{(\w+)(?::([-?])([^}]*))?\}")


def declared_variables():
    """Every name that the settings read from the environment."""
    tree = ast.parse((ROOT / "survey" / "settings.py").read_text())
    return {
        call.args[0].value
        for call in ast.walk(tree)
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Attribute)
        and getattr(call.func.value, "id", "") == "env"
    }


def filled_in(text):
    """As compose would read it when every variable without a default is called by its name."""
    return PLACEHOLDER.sub(lambda m: m[3] if m[2] == "-" else m[1].lower(), text)


def commands_of(words):
    """The programs a container command runs, one list of words each."""
    if words[:2] == ["sh", "-c"]:
        return [shlex.split(part.replace("exec ", "")) for part in words[2].split("&&")]
    return [words]


def assert_runs(words):
    """The command is one of ours and takes these arguments."""
    if words[0] == "celery":
        assert words[1:2] == ["-A"]
        assert isinstance(import_module(words[2]).app, Celery)
        assert words[3] == "worker"
        return
    assert words[:2] == ["python", "manage.py"]
    name, *arguments = words[2:]
    command = load_command_class(get_commands()[name], name)
    command.create_parser("manage.py", name).parse_args(arguments)  # exits when one is unknown


def instructions(word):
    return re.findall(rf"^{word} (.+)$", DOCKERFILE, re.MULTILINE)


@pytest.mark.parametrize("name", OURS)
def test_each_service_runs_a_command_that_exists(name):
    for words in commands_of(OURS[name]["command"]):
        assert_runs([filled_in(word) for word in words])


@pytest.mark.parametrize("name", OURS)
def test_each_variable_a_service_is_given_is_read_by_the_settings(name):
    assert set(OURS[name]["environment"]) <= declared_variables()


def test_the_settings_of_a_public_service_are_all_given():
    needed = {"DATABASE_URL", "REDIS_URL", "SURVEY_SECRET_KEY", "SURVEY_HOSTS", "SURVEY_DATA"}
    for service in OURS.values():
        assert needed <= set(service["environment"])


def test_no_secret_has_a_default():
    text = (ROOT / "docker-compose.yml").read_text()
    found = PLACEHOLDER.findall(text)
    secrets = [(n, how) for n, how, _ in found if re.search("PASSWORD|SECRET", n)]
    assert {name for name, _ in secrets} == {
        "POSTGRES_PASSWORD", "REDIS_PASSWORD", "SURVEY_SECRET_KEY",
    }  # fmt: skip
    assert {how for _, how in secrets} == {"?"}


def test_addresses_name_services_that_exist_with_their_users_and_databases():
    given = {k: filled_in(str(v)) for k, v in OURS["web"]["environment"].items()}
    database, broker = urlsplit(given["DATABASE_URL"]), urlsplit(given["REDIS_URL"])
    server = SERVICES[database.hostname]["environment"]
    assert (database.username, database.path) == (
        server["POSTGRES_USER"],
        f"/{server['POSTGRES_DB']}",
    )
    assert database.password == filled_in(server["POSTGRES_PASSWORD"])
    assert broker.password == filled_in(SERVICES[broker.hostname]["environment"]["REDIS_PASSWORD"])
    assert (database.port, broker.port) == (5432, 6379), "the ports of the two official images"


def test_every_service_is_there_watched_and_started_after_what_it_needs():
    assert set(SERVICES) == {"migrate", "web", "worker", "clock", "postgres", "redis"}
    for name, service in SERVICES.items():
        if name != "migrate":
            assert service["healthcheck"]["test"], name
            assert service["restart"] == "unless-stopped"
        for needed, how in service.get("depends_on", {}).items():
            assert needed in SERVICES
            if how["condition"] == "service_healthy":
                assert "test" in SERVICES[needed]["healthcheck"]
    for name in ("web", "worker", "clock"):
        words = SERVICES[name]["healthcheck"]["test"]
        assert words[0] == "CMD"
        assert_runs(words[1:])


def test_what_must_survive_lies_on_volumes():
    used = {v.split(":")[0] for s in SERVICES.values() for v in s.get("volumes", [])}
    assert used == set(COMPOSE["volumes"])
    for service in OURS.values():
        assert f"data:{service['environment']['SURVEY_DATA']}" in service["volumes"]


def test_the_port_that_is_published_is_the_one_that_is_served():
    (published,) = SERVICES["web"]["ports"]
    port = published.rsplit(":", 1)[1]
    words = SERVICES["web"]["command"]
    assert words[words.index("--port") + 1] == port
    assert instructions("EXPOSE") == [port]
    serve = load_command_class("survey", "serve").create_parser("manage.py", "serve")
    assert str(serve.get_default("port")) == port


def test_the_image_is_built_from_files_that_exist_and_runs_without_root():
    for words in instructions("COPY"):
        for source in words.split()[:-1]:
            assert (ROOT / source).exists(), source
    assert instructions("USER") == ["survey"]
    assert "--require-hashes" in DOCKERFILE
    version = re.search(r"FROM python:(3\.\d+)-slim", DOCKERFILE)[1]
    needed = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["requires-python"]
    assert needed == f">={version}"


def test_the_image_starts_and_watches_itself_with_commands_that_exist():
    (start,) = instructions("CMD")
    assert_runs(ast.literal_eval(start))
    (watch,) = instructions("HEALTHCHECK")
    assert_runs(ast.literal_eval(watch.split("CMD", 1)[1].strip()))
    given = dict(pair.split("=") for line in instructions("ENV") for pair in line.split())
    assert given["SURVEY_DATA"] in instructions("VOLUME")


def test_every_variable_of_the_settings_is_told_in_the_readme():
    readme = (ROOT / "README.md").read_text()
    assert [name for name in sorted(declared_variables()) if name not in readme] == []
