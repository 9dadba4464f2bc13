"""The README and the contributor guide: what they tell people to type works, and what they name is there."""

from __future__ import annotations

import importlib.util
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from html import unescape
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands, load_command_class
from django.urls import Resolver404, resolve

from tests.faults.postgres import free_port

ROOT = Path(settings.BASE_DIR)
DOCS = {name: (ROOT / name).read_text() for name in ("README.md", "DEVELOPERS.md")}
# Programs that the guide asks for which are no part of the project.
ELSEWHERE = {"pg_virtualenv", "uv"}


def blocks(language: str) -> list[str]:
    """The README's blocks of a language, without the list's indent."""
    found = re.findall(rf"^( *)```{language}\n(.*?)^\1```", DOCS["README.md"], re.S | re.M)
    return ["\n".join(line.removeprefix(indent) for line in code.splitlines()) for indent, code in found]


def commands() -> set[tuple[str, ...]]:
    """Each ``manage.py`` line of the documents, in a block or in a sentence."""
    text = "\n".join(DOCS.values())
    text = re.sub(r"`manage\.py\s+", "`manage.py ", text)  # a sentence may break there
    return {tuple(one.split()) for one in re.findall(r"manage\.py ([a-z_]+(?: [\w<>.-]+| \[[^\]]+\])*)", text)}


def names(pattern: str, text: str) -> set[str]:
    return set(re.findall(pattern, text))


# -- what is named is there ------------------------------------------------------------------------
def test_commands_are_there_and_take_what_they_are_given():
    known, troubles = get_commands(), []
    for name, *given in commands():
        if name not in known:
            troubles.append(f"manage.py {name} is no command")
            continue
        app = known[name]
        command = load_command_class(app, name) if isinstance(app, str) else app
        takes = command.create_parser("manage.py", name)._option_string_actions
        options = names(r"--[a-z-]+", " ".join(given))
        troubles += [f"manage.py {name} takes no {option}" for option in options - takes.keys()]

    assert troubles == []
    assert len(commands()) > 12


@pytest.mark.parametrize("name", DOCS)
def test_modules_to_run_files_and_addresses_are_there(name):
    text, troubles = DOCS[name], []
    for module in names(r"python -m\s+(tests[\w.]+)", text):
        if importlib.util.find_spec(module) is None:
            troubles.append(f"{module} is no module")
    for path in names(r"`((?:tests|results|stats|api|fixtures|templates|\.ci)/[\w./]*)`", text):
        if not (ROOT / path).exists():
            troubles.append(f"{path} is no file")
    for address in names(r"`(/[a-z0-9/]+/)`", text):
        try:
            resolve(address)
        except Resolver404:
            troubles.append(f"{address} is no address")

    assert troubles == []


def test_programs_of_the_loop_are_installed():
    loop = DOCS["DEVELOPERS.md"].split("## The loop")[1].split("\n## ")[0]
    here = Path(sys.executable).parent

    programs = names(r"\.venv/bin/([\w-]+)", loop)
    assert {"pytest", "ruff", "lint-imports", "mypy"} <= programs
    assert [one for one in programs if not (here / one).exists() and not shutil.which(one)] == []


def test_settings_of_the_readme_are_those_that_are_read():
    table = DOCS["README.md"].split("| variable |")[1].split("\n\n")[0]
    variable = r"`([A-Z][A-Z0-9_]+)`"
    told = {name for row in table.splitlines()[2:] for name in names(variable, row.split("|")[1])}
    code = "\n".join(path.read_text() for path in (ROOT / "results" / "site").glob("*.py"))
    read = names(r"""(?:env_\w+|environ\.get)\(\s*["']([A-Z][A-Z0-9_]+)""", code)

    # Some are told in the words of another's row; and two are read by libraries.
    assert read - names(variable, table) - {"DJANGO_SETTINGS_MODULE"} == set()
    assert told - read - {"DATABASE_URL", "PROMETHEUS_MULTIPROC_DIR"} == set()


# -- what is to be typed does it -------------------------------------------------------------------
@pytest.mark.story
def test_a_site_is_put_up_as_told(tmp_path):
    """The lines under "Running it for others", as printed but for the folder, the port and the name."""
    (lines,) = [code for code in blocks("sh") if "gunicorn" in code]
    port = free_port()
    lines = lines.replace("SECRET_KEY=...", "SECRET_KEY=of-a-test-that-puts-a-site-up-0123456789")
    lines = lines.replace("breakbook.example", "localhost").replace(".venv/bin/", f"{Path(sys.executable).parent}/")
    lines = lines.replace("MALLOC_ARENA_MAX=2 ", "exec env MALLOC_ARENA_MAX=2 ")
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    environment = {**kept, "DATA_DIR": str(tmp_path), "HTTPS": "False", "GUNICORN_CMD_ARGS": f"--bind 127.0.0.1:{port}"}
    site = subprocess.Popen(
        ["bash", "-e", "-c", lines], cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    try:
        page = asked(f"http://localhost:{port}/", site)
    finally:
        site.send_signal(signal.SIGTERM)
        said = site.communicate(timeout=30)[0].decode()

    assert "Breakbook" in page, said
    assert (tmp_path / "static" / "css").is_dir(), said


def asked(address: str, site: subprocess.Popen) -> str:
    """What an address answers once its server is up."""
    for _ in range(3000):
        try:
            with urllib.request.urlopen(address) as response:
                return response.read().decode()
        except urllib.error.URLError:
            if site.poll() is not None:
                return ""
            time.sleep(0.1)
    return ""


def without_date(svg: str) -> str:
    return re.sub(r"data of [^<]+", "", svg)


@pytest.fixture
def demonstration(transactional_db, settings):
    from results.demo import FOLDER, load_demo
    from results.vocabulary import load_vocabulary

    settings.DEMO = True
    load_vocabulary()
    load_demo(FOLDER)


@pytest.mark.usefixtures("demonstration")
def test_the_picture_and_the_recipes_of_the_readme_are_as_printed(live_server, capsys, client):
    """To renew the picture, save the first page's chart of `manage.py demo`, 760 wide, as the file."""
    (named,) = re.findall(r"!\[[^\]]+\]\(([\w./]+)\)", DOCS["README.md"])
    address = re.search(r'"(/chart/strength\.svg\?width=760[^"]*)"', client.get("/").content.decode())[1]
    drawn = client.get(unescape(address)).content.decode()
    assert without_date((ROOT / named).read_text()) == without_date(drawn)

    pandas, compared = (code.replace("http://localhost:8000", live_server.url) for code in blocks("python"))
    (normalised,) = [code for code in blocks("sh") if code.startswith("curl")]

    left: dict = {}
    exec(compile(pandas, "README.md", "exec"), left)
    assert left["bent"].groupby("joint")["ratio_solid"].median()["mt_blind"] > 0.1
    exec(compile(compared, "README.md", "exec"), {})
    assert "took" in capsys.readouterr().out

    if not shutil.which("curl"):
        pytest.skip("curl is missing, so its recipe was not run")
    told = subprocess.run(
        ["bash", "-c", normalised.replace("http://localhost:8000", live_server.url)],
        capture_output=True,
        text=True,
        check=True,
    )
    footings = {one["code"]: one for one in json.loads(told.stdout)["footings"]}
    # 280 lbf on 12 in: 1 245.5 N x 0.3048 m; over 20 x 40 mm: M / (b D^2 / 6). From the definitions of the units.
    assert footings["at_joint"]["values"][0] == pytest.approx(280 * 4.4482216152605 * 0.3048, rel=1e-6)
