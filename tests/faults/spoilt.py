"""Spoils a book, so that it can be seen whether that is noticed: a study twice, one in part, and a record changed."""

from __future__ import annotations

import django


def main() -> None:
    from results.models import Specimen, Study

    maker = Study.objects.exclude(contributor=None).first().contributor
    for title in ("By two", "By two", "By half"):
        Study.objects.create(title=title, contributor=maker, status="draft", licence="CC-BY-4.0")
    one = Specimen.objects.filter(series__study__status="accepted").exclude(peak_load_n=None).first()
    Specimen.objects.filter(pk=one.pk).update(peak_load_n=one.peak_load_n * 2)


if __name__ == "__main__":
    django.setup()
    main()
