"""A small book with something in every corner, and books in files of their own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.conf import settings
from django.core.files.base import ContentFile
from django.db import connection
from django.test import Client
from rest_framework.authtoken.models import Token

from results.backup.rows import lines_of
from results.backup.tables import tables
from results.models import FormDraft, Photo, Question, Study, Upload
from results.releases import make, shelf
from results.review import decide
from results.vocabulary import load_vocabulary
from tests.factories import accept, make_reviewer, make_user
from tests.results.review.made import changed, handed_in, heavier

ODD = 'a tab\t, a line\nand another\r\n, \\N, a \\ backslash, "quotes", ö, 木, 🪵 and \\t as it is'
PICTURE = b"\xff\xd8 not really a picture \x00\x01\n"


def fill() -> Study:
    """Fill an empty migrated database; gives one of its studies."""
    load_vocabulary()
    study = accept(handed_in("maker"))
    decide.accept(changed(study, heavier), make_reviewer(), "")
    waiting = handed_in("other")
    user = make_user("maker")
    FormDraft.objects.create(user=user, title="half typed", typed={"notes": ODD, "n": 1.5, "none": None, "deep": [{}]})
    Question.objects.create(study=study, asked_by=user, kind=Question.Kind.QUESTION, text=ODD)
    Token.objects.create(user=user)
    EmailAddress.objects.create(user=user, email="maker@breakbook.example", verified=True, primary=True)
    Authenticator.objects.create(user=user, type="recovery_codes", data={"seed": "abc"})
    photo = Photo(study=study, caption=ODD[:200], width=2, height=1, size_bytes=len(PICTURE), sha256="0" * 64)
    photo.file.save("x.jpg", ContentFile(PICTURE), save=False)
    photo.thumbnail.save("y.jpg", ContentFile(PICTURE[:5]), save=False)
    photo.save()
    upload = Upload(user=user, kind="csv", name="mine.csv", size_bytes=3, sha256="1" * 64, changes=waiting)
    upload.file.save("x.csv", ContentFile(b"a,b"))
    Client().force_login(user)
    make()
    return study


def said() -> dict[str, bytes]:
    """All that the database holds and a backup takes, table by table."""
    return {table.name: b"".join(lines_of(table)) for table in tables()}


def files() -> dict[str, bytes]:
    """All files of the book, by their place."""
    roots = (Path(settings.MEDIA_ROOT), shelf.folder())
    return {
        str(path.relative_to(root.parent)): path.read_bytes()
        for root in roots
        for path in sorted(root.rglob("*"))
        if path.is_file()
    }


def manage(folder: Path, *command: str, url: str = "", check: bool = True) -> subprocess.CompletedProcess[str]:
    """Run a command on the book in a folder: an SQLite file, or the database of an address."""
    environment = {**os.environ, "DATA_DIR": str(folder), "DEMO": "True", "BACKGROUND": "database", "DATABASE_URL": url}
    del environment["DJANGO_SETTINGS_MODULE"]
    run = [sys.executable, "manage.py", *command]
    found = subprocess.run(run, env=environment, cwd=settings.BASE_DIR, capture_output=True, text=True, check=False)
    assert not check or found.returncode == 0, found.stderr
    return found


def address() -> str:
    """Where the PostgreSQL of this run is."""
    there = connection.settings_dict
    return "postgresql://{USER}:{PASSWORD}@{HOST}:{PORT}/{NAME}".format(**there)
