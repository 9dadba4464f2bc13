"""How long a study of 100,000 specimens takes to be handed in, changed, accepted and verified.

Run ``python -m tests.bench.review``; it makes a database of its own, in memory unless ``DATABASE_URL`` names one, and
exits with 1 if a step takes longer than its limit or if the process needs more memory than its.
"""

from __future__ import annotations

import os
import random
import resource
import sys
import time

import django

SERIES, EACH = 100, 1000
# A step's time on two slow cores, and the whole process's memory.
LIMIT_S, LIMIT_MB = 120.0, 2000


def said(series: int = SERIES, each: int = EACH) -> dict:
    """A document of so many series of so many specimens."""
    rng = random.Random(1)

    def specimen(number: int) -> dict:
        kg = round(120 * rng.lognormvariate(0, 0.15), 1)
        return {
            "label": str(number),
            "reading_typed": f"{kg}",
            "reading_unit": "kg",
            "peak_load_n": kg * 9.80665,
            "outcome": "broke",
            "failure_place": "bond_line",
            "wood_failure_pct": 40.0,
        }

    about = {"title": "A hundred thousand", "question": "How long does it take?", "workshop": "Bench"}
    setup = {"label": "arm", "loading": "cantilever_arm", "reads": "force", "arm_mm": 300.0, "arm_reference": "face"}
    sizes = {"member_thickness_mm": 20.0, "member_depth_mm": 40.0, "tenon_length_mm": 30.0, "tenon_depth_mm": 30.0}
    kinds = {"joint": "mt_blind", "tests": "joint", "timber": "oak_northern_red", "conditioning": "unknown"}
    return {
        "form": 1,
        "study": {**about, "origin": "own", "licence": "CC0-1.0", "invented": True},
        "setups": [{**setup, "typed": {"arm_mm": "300 mm"}}],
        "series": [
            {
                "label": f"s{at}",
                "setup": "arm",
                **kinds,
                **sizes,
                **({"control": "s0"} if at else {}),
                "specimens": [specimen(number) for number in range(each)],
            }
            for at in range(series)
        ],
    }


def changed(written: dict) -> None:
    """Another number for every tenth specimen, one series renamed, one dropped."""
    for series in written["series"]:
        for one in series["specimens"][::10]:
            one["peak_load_n"] *= 1.01
    written["series"][1]["label"] = "renamed"
    written["series"].pop(2)


def main() -> int:
    """Time each step and hold it against the limit."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    django.setup()
    from django.core.management import call_command

    from results.review.chain import verify
    from results.review.decide import accept
    from results.review.differences import differences
    from results.review.document import draft_of, read
    from results.review.hand_in import change, hand_in, waiting
    from results.vocabulary import load_vocabulary
    from tests.factories import make_reviewer, make_user

    call_command("migrate", verbosity=0)
    load_vocabulary()
    maker, reviewer = make_user("bench"), make_reviewer()
    times: dict[str, float] = {}

    def timed(name: str, call):
        began, worked = time.perf_counter(), time.process_time()
        result = call()
        times[name] = time.perf_counter() - began
        most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
        worked = time.process_time() - worked
        print(f"{name:32} {times[name]:6.2f} s, {worked:6.2f} s of it at work; {most_mb:5.0f} MB at most so far")
        return result

    written = said()
    draft = timed("draft: footings", lambda: draft_of(written))
    study = timed("hand in", lambda: hand_in(draft, maker, []))
    changed(written)
    draft = timed("changed draft: footings", lambda: draft_of(written, study))
    timed("change before acceptance", lambda: change(study, draft, maker, [], why="", based_on=1))
    timed("accept", lambda: accept(waiting(study), reviewer))
    changed(written)
    draft = draft_of(written, study)
    revision = timed("change an accepted study", lambda: change(study, draft, maker, [], why="bench", based_on=2))
    before = read(study.revisions.get(number=2))
    found = timed("differences", lambda: differences(before, read(revision)))
    timed("accept the change", lambda: accept(revision, reviewer))
    wrong = timed("verify", verify)
    size = study.revisions.get(number=1).document
    print(f"{len(found):,} differences; a document of {len(size) / 1e6:.2f} MB; {len(wrong)} things wrong")
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    return int(max(times.values()) > LIMIT_S or most_mb > LIMIT_MB or bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
