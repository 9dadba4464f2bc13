"""How long the CSV of all specimens takes and how much memory it holds; run with ``python -m tests.bench.api``.

Makes a book of its own in a temporary SQLite file, or in an empty database that ``DATABASE_URL`` names.
"""

from __future__ import annotations

import argparse
import os
import time
import tracemalloc

import django

STUDIES, SERIES_A_STUDY = 50, 20


def fill(specimens: int) -> None:
    """That many specimens in 1,000 series of 50 studies."""
    from results.models import Specimen
    from tests.factories import make_series, make_setup, make_study

    each = specimens // (STUDIES * SERIES_A_STUDY)
    for number in range(STUDIES):
        study = make_study(f"Study {number}")
        setup = make_setup(study)
        for _ in range(SERIES_A_STUDY):
            series = make_series(setup=setup, moisture_pct=12.0)
            Specimen.objects.bulk_create(
                Specimen(
                    series=series,
                    label=f"S{place}",
                    position=place,
                    reading_typed="280",
                    reading_unit="lbf",
                    peak_load_n=1245.5 + place,
                    moment_nm=373.65 + place / 3,
                    stress_mpa=70.06 + place / 3,
                    ratio_solid=0.7077,
                )
                for place in range(each)
            )


def download(address: str) -> tuple[float, float, int, int]:
    """Seconds to the first block and to the last, bytes, and lines of one download."""
    from django.test import Client

    start = time.perf_counter()
    response = Client(SERVER_NAME="localhost").get(address)
    blocks = iter(response.streaming_content)
    size, lines, first = 0, 0, 0.0
    for block in blocks:
        size, lines = size + len(block), lines + block.count(b"\n")
        if not first and lines > 1:
            first = time.perf_counter() - start
    return first, time.perf_counter() - start, size, lines


def peak_mb(address: str) -> float:
    """The most memory Python holds at once during a download [MB]."""
    tracemalloc.start()
    download(address)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak / 1e6


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--specimens", type=int, default=100_000)
    wanted = parser.parse_args().specimens
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    from django.core.management import call_command
    from django.test import Client

    call_command("migrate", verbosity=0)
    fill(wanted)
    url = "/api/v1/specimens.csv"
    download(f"{url}?study=1")  # the first request of a process pays for imports
    for name, address in {
        "all columns": url,
        "four columns": f"{url}?fields=joint,outcome,peak_load_n,moment_nm",
        "one study": f"{url}?study=1",
    }.items():
        first, last, size, lines = download(address)
        print(f"{name}: {lines - 1} rows, {size / 1e6:.1f} MB, first {first:.2f} s, all {last:.2f} s")
    print(f"memory: {peak_mb(url):.1f} MB for all, {peak_mb(f'{url}?study=1'):.1f} MB for one study")
    for address in ("specimens.json?page_size=1000", "specimens.json?page_size=1000&page=last", "series.json"):
        start = time.perf_counter()
        Client(SERVER_NAME="localhost").get(f"/api/v1/{address}")
        print(f"{address}: {time.perf_counter() - start:.2f} s")


if __name__ == "__main__":
    main()
