"""What a single record shows beyond its row: setups, footings with their working, findings."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from results.models import Finding, Series, SeriesFooting, Setup, Study, Summary
from results.models.footing import CODES

from .columns import as_dict, values_of
from .tables import FINDINGS, SERIES

# Enough to tell a study's series apart; the rest is in the table of series.
IN_STUDY = {
    "series_id",
    "series",
    "setup",
    "joint",
    "tests",
    "timber",
    "adhesive",
    "broke",
    "held",
    "void",
    "flagged",
}


class FootingSerializer(serializers.ModelSerializer):
    """A series on one footing: sums, how it was obtained, or what is missing."""

    # Not "n": in this API a name that ends in n is a number of newtons.
    broke = serializers.IntegerField(source="n")
    kept_broke = serializers.IntegerField(source="kept_n")

    class Meta:
        model = SeriesFooting
        fields = [
            "code",
            "unit",
            "broke",
            "held",
            "sum_log",
            "sum_sq_log",
            "kept_broke",
            "kept_held",
            "kept_sum_log",
            "kept_sum_sq_log",
            "factor",
            "basis",
            "steps",
            "worked",
            "missing",
        ]


class SummarySerializer(serializers.ModelSerializer):
    """A published mean, as typed and in the unit of its quantity."""

    UNITS = {
        Summary.Quantity.FORCE: "N",
        Summary.Quantity.MOMENT: "N·m",
        Summary.Quantity.STRESS: "MPa",
    }
    unit = serializers.SerializerMethodField()
    count = serializers.IntegerField(source="n")

    class Meta:
        model = Summary
        fields = ["quantity", "unit", "mean_typed", "mean_si", "sd_typed", "sd_si", "count"]

    def get_unit(self, summary: Summary) -> str:
        return self.UNITS[Summary.Quantity(summary.quantity)]


class SetupSerializer(serializers.ModelSerializer):
    """How load was applied and read; lengths that were not given are null."""

    class Meta:
        model = Setup
        fields = [
            "id",
            "label",
            "loading",
            "instrument",
            "reads",
            "arm_reference",
            *Setup.LENGTHS,
            *Setup.NUMBERS,
            "rate_mm_min",
            "typed",
            "notes",
        ]


def findings_of(**about: Any) -> list[dict[str, Any]]:
    """The findings about a study or series, as the findings' own table has them."""
    rows = Finding.objects.filter(**about).order_by("pk")
    return [as_dict(FINDINGS, row) for row in values_of(rows, FINDINGS)]


def series_parts(pk: int) -> dict[str, Any]:
    """What a series shows beyond its row."""
    series = Series.objects.select_related("summary").prefetch_related("footings").get(pk=pk)
    by_order = {code: place for place, code in enumerate(CODES)}
    footings = sorted(series.footings.all(), key=lambda footing: by_order[footing.code])
    return {
        "typed": series.typed,
        "faces": series.faces,
        "footings": FootingSerializer(footings, many=True).data,
        "published": SummarySerializer(series.summary).data if series.is_summary else None,
        "findings": findings_of(series=pk),
    }


def study_parts(pk: int) -> dict[str, Any]:
    """What a study shows beyond its row."""
    study = Study.objects.prefetch_related("setups").get(pk=pk)
    columns = [column for column in SERIES if column.name in IN_STUDY]
    rows = values_of(Series.objects.filter(study=pk).order_by("pk"), columns)
    return {
        "page": study.get_absolute_url(),
        "setups": SetupSerializer(study.setups.all(), many=True).data,
        "series_rows": [as_dict(columns, row) for row in rows],
        "findings": findings_of(study=pk),
    }
