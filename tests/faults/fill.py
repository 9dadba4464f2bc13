"""A small book to go wrong with: ``python -m tests.faults.fill FOLDER [PEOPLE]`` makes it where DATABASE_URL says.

With it come so many who hand in, ``hand-0`` and on, beside the demonstration's people and with their password. Prints
the token of somebody who may send more to it.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

FEW = 2


def main(folder: Path, people: int) -> None:
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
    User = get_user_model()
    maker = User.objects.get(username=MAKER)
    # To work a password out takes long on purpose; these share one.
    User.objects.bulk_create(User(username=f"hand-{at}", password=maker.password) for at in range(people))
    print(Token.objects.create(user=maker).key)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)
