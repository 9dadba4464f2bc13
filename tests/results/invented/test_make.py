"""An invented book: whole, marked, sealed, and as a saved study has it."""

from __future__ import annotations

import json
import sys
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from results.evidence import Draft, packing, restate, state
from results.evidence.expect import Book
from results.invented import make
from results.models import Entry, Finding, Packed, Revision, Series, SeriesFooting, Specimen, Study, data_version
from results.review.chain import verify
from tests.factories import make_study

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
SIZES = ("--studies=6", "--series-per-study=5", "--specimens-per-series=4")


def generate(*more: str) -> str:
    out = StringIO()
    call_command("generate", *SIZES, *more, stdout=out)
    return out.getvalue()


def test_a_book_has_the_size_asked_for_and_says_that_it_is_invented():
    told = generate()

    assert Study.objects.accepted().filter(invented=True).count() == Study.objects.count() == 6
    assert Series.objects.count() == 6 * 5
    published = Series.objects.exclude(summary=None).count()
    assert Specimen.objects.count() == (6 * 5 - published) * 4
    assert all("nvented" in one.title and "(invented)" in one.workshop for one in Study.objects.all())
    assert f"6 studies added, 0 there already: 30 series, {Specimen.objects.count()} specimens" in told
    assert "6 of 6 studies" in told


def test_all_of_it_passes_review_and_the_models_own_checks():
    make(15, 4, 4, seed=4)

    assert verify() == []
    assert Entry.objects.count() == Revision.objects.count() == 15
    kinds = set()
    for study in Study.objects.all():
        kinds.add(study.origin)
        draft = Draft.of(study)
        own = [*draft.setups, *draft.series, *draft.summaries.values(), *sum(draft.specimens.values(), [])]
        for one in (study, *own, *SeriesFooting.objects.filter(series__study=study)):
            # Fields that no form shows may be empty without being called so.
            empty = {field.name for field in one._meta.fields if field.null and getattr(one, field.attname) is None}
            one.full_clean(exclude={"steps", "missing", "unit", *empty}, validate_unique=False)
    assert kinds == {"own", "published"}
    assert set(Specimen.objects.values_list("outcome", flat=True)) == {"broke", "held", "void"}


def test_footings_findings_and_packs_are_those_of_a_saved_study():
    make(8, 6, 5, seed=2)
    for study in Study.objects.all():
        stored = {(row.series_id, row.code): row for row in SeriesFooting.objects.filter(series__study=study)}
        draft = Draft.of(study)
        # Nothing of the book was there yet when these were worked out.
        state(draft, Book.of([]))
        assert len(stored) == len(draft.footings) == 6 * len(packing.CODES)
        for row in draft.footings:
            found = stored[row.series_id, row.code]
            assert (found.n, found.held, found.kept_n, found.missing) == (row.n, row.held, row.kept_n, row.missing)
            assert found.sum_log == pytest.approx(row.sum_log)
            assert found.steps == row.steps
        packs = {one.code: one for one in Packed.objects.filter(study=study)}
        for made in packing.packed([study.pk]):
            stored_pack = packs[made.code]
            assert bytes(stored_pack.specimens) == bytes(made.specimens)
            if made.code:
                # Reasons are numbered in the order that the database gives them.
                assert by_reason(stored_pack) == by_reason(made)
            else:
                assert (bytes(stored_pack.series), stored_pack.words) == (bytes(made.series), made.words)
    assert Finding.objects.exists()


def by_reason(pack: Packed) -> list[tuple]:
    """A pack's rows, each with its reasons in words."""
    reasons = json.loads(pack.words)
    found = []
    for *sums, missing in np.frombuffer(bytes(pack.series), dtype=packing.ON_FOOTING).tolist():
        known = [None if value != value else value for value in sums]
        found.append((known, reasons[missing] if missing >= 0 else missing))
    return found


def test_an_ordinary_study_reads_back_through_the_same_pages(client, settings):
    settings.DEMO = True
    make(6, 5, 4)
    for study in Study.objects.all():
        page = client.get(study.get_absolute_url())
        assert page.status_code == 200
        assert "nvented" in page.content.decode()
        assert client.get(f"/api/v1/studies/{study.pk}/").json()["invented"] is True
    for name in ("compare:compare", "compare:network", "browse:home"):
        assert client.get(reverse(name)).status_code == 200


def test_the_same_command_again_adds_nothing_and_a_larger_one_adds_the_rest():
    generate()
    before = set(Study.objects.values_list("pk", flat=True))

    assert "0 studies added, 6 there already" in generate()
    assert make(9, 5, 4).added == 3

    assert before < set(Study.objects.values_list("pk", flat=True))
    assert Study.objects.count() == 9
    assert verify() == []


def test_killed_half_way_it_goes_on_and_makes_the_same_book(monkeypatch):
    module = sys.modules["results.invented.make"]
    whole = make(7, 3, 4, seed=5)
    loads = loads_by_study()
    Entry.objects.all().delete()
    Study.objects.all().delete()
    monkeypatch.setattr(module, "AT_A_TIME", 24)  # two studies at a time

    class Killed(BaseException):
        pass

    def killed(done: int, of: int) -> None:
        if done >= 4:
            raise Killed

    with pytest.raises(Killed):
        make(7, 3, 4, seed=5, tell=killed)
    assert Study.objects.count() == 4
    assert verify() == []
    again = make(7, 3, 4, seed=5)

    assert (again.added, again.kept) == (3, 4)
    assert whole.added == 7
    assert loads_by_study() == loads
    assert verify() == []


def loads_by_study() -> dict[str, list]:
    rows = Specimen.objects.order_by("series__study__title", "series__label", "position")
    found: dict[str, list] = {}
    for title, series, load in rows.values_list("series__study__title", "series__label", "peak_load_n"):
        found.setdefault(title, []).append((series, load))
    return found


def test_a_part_that_fails_leaves_nothing_of_itself(monkeypatch):
    module = sys.modules["results.invented.make"]

    def fails(*args, **kwargs):
        raise OSError("no space left")

    monkeypatch.setattr(module.packing, "store", fails)
    with pytest.raises(OSError, match="no space"):
        make(2, 3, 4)
    assert not Study.objects.exists()
    assert not Entry.objects.exists()


def test_another_seed_makes_another_book():
    make(1, 3, 4, seed=1)
    make(1, 3, 4, seed=2)
    first, second = Study.objects.order_by("pk")
    loads = [list(Specimen.objects.filter(series__study=one).values_list("peak_load_n", flat=True)) for one in (first, second)]  # fmt: skip  # noqa: E501
    assert loads[0] != loads[1]


def test_a_book_with_real_studies_is_refused_unless_told():
    make_study()
    with pytest.raises(CommandError, match="holds real studies.*--beside-real"):
        generate()
    assert Study.objects.count() == 1

    generate("--beside-real")
    assert Study.objects.filter(invented=True).count() == 6


@pytest.mark.parametrize(
    ("option", "says"),
    [
        ("--studies=0", "--studies is 0; it has to be 1 or more"),
        ("--series-per-study=-1", "--series-per-study is -1"),
        ("--specimens-per-series=0", "--specimens-per-series is 0"),
        ("--seed=-3", "--seed is -3; it has to be 0 or more"),
    ],
)
def test_a_number_that_can_not_be_is_named(option, says):
    with pytest.raises(CommandError, match=says):
        generate(option)


def test_the_data_version_rises_and_a_study_can_be_restated_without_a_change_of_its_sums():
    before = data_version().number
    make(4, 5, 4)
    assert data_version().number > before
    study = Study.objects.filter(origin="own").first()
    rows = SeriesFooting.objects.filter(series__study=study, sum_log__isnull=False)
    sums = sorted(rows.values_list("sum_log", flat=True))

    restate(study)

    assert sorted(rows.values_list("sum_log", flat=True)) == pytest.approx(sums)
