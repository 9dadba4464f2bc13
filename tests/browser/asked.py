"""What others ask and what a reviewer has to decide on, for the pages that show it."""

from __future__ import annotations

from results.models import Study
from results.review import ask as asking
from results.review.document import examined, written
from results.review.hand_in import change, hand_in, newest_number
from tests.factories import make_user


def add_asked(study: Study) -> dict[str, object]:
    """A doubt and a resolved question on the study, a change to it and a new study that wait, by their numbers."""
    reader, maker, series = make_user("reader"), study.contributor, study.series.first()
    about = asking.find_target(study, f"{series.label}/{series.specimens.first().label}")
    doubt = asking.ask(study, reader, "doubt", "Was it read in pounds? https://example.org/scales", about)
    asking.answer(doubt, maker, "In kilograms: see the photo.")
    solved = asking.ask(study, reader, "question", "Which glue?", asking.Target())
    asking.resolve(solved, reader, "It stands in the notes.")
    said = written(study)
    said["series"][0]["specimens"][0] |= {"reading_typed": "900", "peak_load_n": 8825.985}
    draft, noticed = examined(said, study)
    changed = change(study, draft, maker, noticed, why="A slip.", based_on=newest_number(study))
    said = written(study)
    said["study"]["title"] = "Rails into posts, again"
    draft, noticed = examined(said)
    new = hand_in(draft, maker, noticed)
    return {"question": doubt.pk, "change": changed.pk, "new": new.revisions.get().pk}
