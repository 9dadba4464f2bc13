"""Take away an index that nothing reads by: a series' footings are found by the one that holds them to one a code."""

from django.db import migrations

from results.site.migrating import RemoveIndexConcurrently


class Migration(migrations.Migration):
    atomic = False

    dependencies = [
        ("results", "0009_plan"),
    ]

    operations = [
        RemoveIndexConcurrently(model_name="seriesfooting", name="results_ser_code_30412e_idx"),
    ]
