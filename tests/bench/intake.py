"""How long a workbook of 10,000 specimens takes from upload to saved study.

Run ``python -m tests.bench.intake``; it makes a database of its own and exits with 1 above the limit.
"""

from __future__ import annotations

import io
import os
import random
import sys
import time

import django
from openpyxl import Workbook

LIMIT_S = 20.0
SERIES, EACH = 100, 100


def workbook(series: int = SERIES, each: int = EACH) -> bytes:
    """A workbook of so many series of so many specimens, nine columns filled."""
    rng = random.Random(1)
    book = Workbook()
    book.remove(book.active)
    study = book.create_sheet("study")
    for row in (
        ["field", "value"],
        ["title", "Ten thousand"],
        ["question", "How long does it take?"],
        ["workshop", "Bench"],
        ["licence", "CC0-1.0"],
        ["invented", "yes"],
        ["length unit", "mm"],
    ):
        study.append(row)
    setups = book.create_sheet("setups")
    setups.append(["setup", "loading", "instrument", "reading unit", "arm"])
    setups.append(["arm", "cantilever_arm", "luggage_scale", "kg", 300])
    listed = book.create_sheet("series")
    listed.append(
        ["series", "joint", "timber", "member thickness", "member depth", "tenon length", "tenon depth", "control"]
    )
    specimens = book.create_sheet("specimens")
    specimens.append(
        ["series", "specimen", "reading", "outcome", "failure place", "wood failure", "moisture", "density", "notes"]
    )
    for s in range(series):
        joint = "butt" if s == 0 else "mt_blind"
        listed.append([f"s{s}", joint, "oak_northern_red", 20, 40, 30, 30, None if s == 0 else "s0"])
        centre = 40 if s == 0 else 120
        for number in range(each):
            reading = f"{centre * rng.lognormvariate(0, 0.15):.1f} kg"
            outcome = "held" if number % 50 == 7 else "broke"
            place = "bond line" if outcome == "broke" else None
            torn = 40 if outcome == "broke" else None
            specimens.append([f"s{s}", f"{number}", reading, outcome, place, torn, 8.5, 700, "made up"])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def main() -> int:
    """Time each step and hold the total against the limit."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    django.setup()
    from django.contrib.auth import get_user_model
    from django.core.management import call_command

    from results.intake.examine import examine
    from results.intake.read import read
    from results.intake.save import save
    from results.pages.submit_preview import preview
    from results.vocabulary import load_vocabulary

    call_command("migrate", verbosity=0)
    load_vocabulary()
    user = get_user_model().objects.create_user("bench")
    data = workbook()
    # A server has answered before: what it loads on its first answer is not the sender's wait.
    examine(read(workbook(series=2, each=5), "warm.xlsx"))
    times: dict[str, float] = {}

    def timed(name: str, call):
        began, worked = time.perf_counter(), time.process_time()
        result = call()
        times[name] = time.perf_counter() - began
        print(f"{name:32} {times[name]:6.2f} s, {time.process_time() - worked:6.2f} s of it at work")
        return result

    # Looking and saving are two requests, so that the file is read and examined twice.
    examination = timed("preview: read, check, footings", lambda: examine(read(data, "bench.xlsx")))
    timed("preview: tables", lambda: preview(examination.draft))
    rows = timed("save: read", lambda: read(data, "bench.xlsx"))
    again = timed("save: check, footings", lambda: examine(rows))
    study = timed("save: database", lambda: save(again.draft, user, again.noticed))
    total = sum(times.values())
    count = sum(one.specimens.count() for one in study.series.all())
    print(f"{'total':32} {total:6.2f} s for {count:,} specimens in {len(data) / 1e6:.2f} MB (limit {LIMIT_S:g} s)")
    return int(total > LIMIT_S or count != SERIES * EACH)


if __name__ == "__main__":
    sys.exit(main())
