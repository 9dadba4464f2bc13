"""What a server that dies in the middle, or whose disk is full, leaves behind: run as a program of its own.

``python -m tests.results.pages.faults FOLDER`` makes a database there and prints, as JSON, what each scenario left.
Each is played by a process of its own that this one forks, so that it may be killed as a server is.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

TABLES = ("study", "setup", "series", "specimen", "seriesfooting", "revision", "formdraft", "upload")
FILE_MOST = 6_000_000


def main(folder: Path) -> None:
    """Play all scenarios and print what they left."""
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "DATA_DIR": str(folder),
        "DATABASE_URL": f"sqlite:///{folder / 'book.sqlite3'}",
    }
    import django

    django.setup()
    from django.apps import apps
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connections

    from results.vocabulary import load_vocabulary
    from tests.factories import make_user
    from tests.results.pages.forms import form

    settings.ALLOWED_HOSTS = ["testserver"]
    # The tables as they are now: how they came to be so is tried elsewhere.
    settings.MIGRATION_MODULES = {one.label: None for one in apps.get_app_configs()}
    call_command("migrate", run_syncdb=True, verbosity=0)
    load_vocabulary()
    make_user("owner")
    data = form(shared__cure="200")
    play = Play(folder, data)
    play.warm()  # what a server loads with its first answer is loaded once, not by every process
    connections.close_all()
    told = {
        "kept": play(play.look),
        "form, in the middle": play(play.hand_in, kill='INSERT INTO "results_specimen"'),
        "form, at the end": play(play.hand_in, kill='DELETE FROM "results_formdraft"'),
        "form, again": play(play.hand_in),
        "keeping, in the middle": play(play.keep, kill='INSERT INTO "results_formdraft"'),
        "sheet, sent": play(play.send),
        "sheet, in the middle": play(play.save_sheet, kill='INSERT INTO "results_specimen"'),
        "sheet, at the end": play(play.save_sheet, kill='UPDATE "results_upload"'),
        "sheet, again": play(play.save_sheet),
        "disk full while keeping the file": play(play.send_large, full=True),
        "disk full while receiving it": play(play.send_large_slowly, full=True),
    }
    print(json.dumps(told))


class Play:
    """Plays one scenario at a time."""

    def __init__(self, folder: Path, data: dict[str, str]) -> None:
        self.folder, self.data = folder, data

    def __call__(self, act: Callable[[Any], Any], kill: str = "", full: bool = False) -> dict[str, Any]:
        """What is left after an act of a server, killed as soon as it says `kill` to its database."""
        out, into = os.pipe()
        pid = os.fork()
        if pid == 0:
            os.close(out)
            os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
            self._act(act, kill, full, into)
        os.close(into)
        with os.fdopen(out) as told:
            said = told.read()
        _, status = os.waitpid(pid, 0)
        answer = json.loads(said) if said else None
        return {"killed": os.WIFSIGNALED(status), "answer": answer, "left": self._left(), "files": self._files()}

    def _act(self, act: Callable[[Any], Any], kill: str, full: bool, into: int) -> None:
        """In the process that may die."""
        from django.db import connection
        from django.test import Client

        from tests.factories import make_user

        client = Client(raise_request_exception=False)
        client.force_login(make_user("owner"))
        if full:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (FILE_MOST, FILE_MOST))

        def dies(execute, sql, params, many, context):
            if kill and kill in sql:
                os.kill(os.getpid(), signal.SIGKILL)
            return execute(sql, params, many, context)

        with connection.execute_wrapper(dies):
            answer = act(client)
        text = answer.content.decode()
        os.write(into, json.dumps([answer.status_code, "no room" in text or "full" in text]).encode())
        os._exit(0)

    def warm(self) -> None:
        from django.test import Client

        from results.intake.examine import examine_file
        from results.review import hand_in
        from tests.factories import make_user
        from tests.results.intake.made import four_sheets, workbook

        client = Client()
        client.force_login(make_user("owner"))
        body = json.dumps({"fields": self.data})
        assert client.post("/submit/form/check/", body, content_type="application/json").status_code == 200
        assert client.get("/submit/form/?loading=cantilever_arm").status_code == 200
        assert examine_file(workbook(four_sheets()), "a.xlsx").may_be_saved and hand_in

    def look(self, client: Any) -> Any:
        return client.post("/submit/form/", {**self.data, "do": "check", "version": "0"})

    def hand_in(self, client: Any) -> Any:
        from tests.results.pages.forms import values_of

        page = client.post("/submit/form/", {**self.data, "do": "check", "version": "1"})
        seen = values_of(page)["seen"]
        return client.post("/submit/form/", {**self.data, "do": "save", "version": "1", "seen": seen})

    def keep(self, client: Any) -> Any:
        fields = self.data | {"key": "1" * 32}
        return client.post("/submit/form/keep/", json.dumps({"fields": fields}), content_type="application/json")

    def send(self, client: Any) -> Any:
        from django.core.files.uploadedfile import SimpleUploadedFile

        from tests.results.intake.made import four_sheets, workbook

        return client.post("/submit/upload/", {"file": SimpleUploadedFile("a.xlsx", workbook(four_sheets()))})

    def save_sheet(self, client: Any) -> Any:
        from results.models import Upload

        return client.post(f"/submit/upload/{Upload.objects.get().pk}/")

    def send_large(self, client: Any) -> Any:
        from django.conf import settings

        settings.FILE_UPLOAD_MAX_MEMORY_SIZE = 20_000_000
        return self.send_large_slowly(client)

    def send_large_slowly(self, client: Any) -> Any:
        from django.core.files.uploadedfile import SimpleUploadedFile

        rows = b"series,specimen reading\n" + b"A,118 kg\n" * 900_000
        return client.post("/submit/upload/", {"file": SimpleUploadedFile("a.csv", rows)})

    def _left(self) -> dict[str, int]:
        with sqlite3.connect(self.folder / "book.sqlite3") as book:
            return {name: book.execute(f"SELECT COUNT(*) FROM results_{name}").fetchone()[0] for name in TABLES}

    def _files(self) -> int:
        return sum(1 for path in (self.folder / "media").rglob("*") if path.is_file())


if __name__ == "__main__":
    main(Path(sys.argv[1]))
