"""A small book to go wrong with: ``python -m tests.faults.fill FOLDER`` makes it where DATABASE_URL says.

Prints the token of somebody who may send more to it.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

FEW = 2


def main(folder: Path) -> None:
    """Tables, words, people, and the first few of the demonstration's studies."""
    import django

    django.setup()
    from django.contrib.auth import get_user_model
    from django.core.management import call_command
    from rest_framework.authtoken.models import Token

    from results.demo import FOLDER, MAKER, load_demo
    from results.vocabulary import load_vocabulary

    call_command("migrate", verbosity=0)
    load_vocabulary()
    some = folder / "some"
    some.mkdir()
    for path in sorted(FOLDER.glob("*.csv"))[:FEW]:
        shutil.copy(path, some)
    load_demo(some)
    print(Token.objects.create(user=get_user_model().objects.get(username=MAKER)).key)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
