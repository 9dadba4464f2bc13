"""How long a file of many specimens takes from upload to the study that was handed in, and how much memory.

Run ``python -m tests.bench.intake``, with ``--rows 100000`` and ``--kind csv`` for other sizes; it makes a database of
its own and exits with 1 above the limits.
"""

from __future__ import annotations

import argparse
import csv
import io
import os
import random
import resource
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import django
from openpyxl import Workbook, load_workbook

# Of preview and of handing in, each a request of its own: seconds at work for 10,000 specimens, and for what there
# always is; and memory for 10,000, and for the program.
LIMIT_S, LIMIT_EACH_S = 2.0, 10.0
LIMIT_MB, LIMIT_EACH_MB = 300, 60
EACH = 200


def workbook(series: int, each: int) -> bytes:
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


def table(series: int, each: int) -> bytes:
    """The same specimens as one flat table."""
    book = load_workbook(io.BytesIO(workbook(series, each)), read_only=True)
    study = dict(row[:2] for row in list(book["study"].values)[1:])
    names, setup = list(book["setups"].values)
    heads, *listed = list(book["series"].values)
    columns, *specimens = list(book["specimens"].values)
    out = io.StringIO()
    writer = csv.writer(out)
    named = [f"series {name}" if name != "series" else name for name in heads]
    writer.writerow(
        [*(f"study {name}" for name in study), *(f"setup {name}" if name != "setup" else name for name in names)]
        + [*named, *(f"specimen {name}" if name != "specimen" else name for name in columns[1:])]
    )
    rows = {row[0]: row for row in listed}
    first = [*study.values(), *setup]
    for label, *cells in specimens:
        said = rows.pop(label, [label, *[None] * (len(heads) - 1)])
        writer.writerow([*first, *said, *cells])
        first = [None] * len(first)
    return out.getvalue().encode()


def main() -> int:
    """Time each step and hold the totals against the limits."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rows", type=int, default=10_000)
    asked.add_argument("--kind", choices=["xlsx", "csv"], default="xlsx")
    args = asked.parse_args()
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    django.setup()
    from django.contrib.auth import get_user_model
    from django.core.management import call_command

    from results.intake.examine import examine
    from results.intake.read import read
    from results.pages.submit_preview import preview
    from results.review.hand_in import hand_in
    from results.vocabulary import load_vocabulary

    call_command("migrate", verbosity=0)
    load_vocabulary()
    user = get_user_model().objects.create_user("bench")
    series = max(2, args.rows // EACH)
    with ProcessPoolExecutor(1, get_context("spawn")) as elsewhere:  # to make it takes memory that is none of ours
        data = elsewhere.submit(workbook if args.kind == "xlsx" else table, series, args.rows // series).result()
    # A server has answered before: what it loads on its first answer is not the sender's wait.
    examine(read(workbook(series=2, each=5), "warm.xlsx"))
    before_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    times: dict[str, float] = {}

    def timed(name: str, call):
        began, worked = time.perf_counter(), time.process_time()
        result = call()
        times[name] = time.process_time() - worked
        print(f"{name:32} {time.perf_counter() - began:6.2f} s, {times[name]:6.2f} s of it at work")
        return result

    # Looking and handing in are two requests, so that the file is read and examined twice.
    name = f"bench.{args.kind}"
    rows = timed("preview: read", lambda: read(data, name))
    examination = timed("preview: check, footings", lambda: examine(rows))
    timed("preview: tables", lambda: preview(examination.draft))
    looked = sum(times.values())
    rows = examination = None  # the other request's
    again = timed("hand in: read, check, footings", lambda: examine(read(data, name)))
    study = timed("hand in: database", lambda: hand_in(again.draft, user, again.noticed))
    saved = sum(times.values()) - looked
    count = sum(one.specimens.count() for one in study.series.all())
    limit, limit_mb = (
        fixed + each * args.rows / 10_000 for fixed, each in ((LIMIT_S, LIMIT_EACH_S), (LIMIT_MB, LIMIT_EACH_MB))
    )
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    print(
        f"at work: preview {looked:.1f} s, hand in {saved:.1f} s for {count:,} specimens in {len(data) / 1e6:.2f} MB "
        f"(limit {limit:g} s each); {peak_mb:.0f} MB of memory at most, {before_mb:.0f} MB before "
        f"(limit {limit_mb:g} MB)"
    )
    return int(max(looked, saved) > limit or peak_mb > limit_mb or count != args.rows // series * series)


if __name__ == "__main__":
    sys.exit(main())
