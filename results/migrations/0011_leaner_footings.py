"""Footings and specimens in fewer bytes: derivations packed, and no index that another one stands in for.

Derivations that are there stay as they are, and are packed as their studies are restated. A program of before that
still runs shows those saved meanwhile as one text.
"""

import django.db.models.deletion
from django.db import migrations, models

import results.models.few_bytes


class Migration(migrations.Migration):
    dependencies = [
        ("results", "0010_footing_index"),
    ]

    operations = [
        migrations.AlterField(
            model_name="seriesfooting",
            name="series",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="footings",
                to="results.series",
            ),
        ),
        migrations.AlterField(
            model_name="series",
            name="study",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="series",
                to="results.study",
            ),
        ),
        # The column is the same; what is written to it differs.
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.AlterField(
                    model_name="seriesfooting",
                    name="steps",
                    field=results.models.few_bytes.StepsField(default=list),
                )
            ]
        ),
        migrations.AlterField(
            model_name="specimen",
            name="failure_place",
            field=models.ForeignKey(
                blank=True,
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                to="results.failureplace",
            ),
        ),
        migrations.AlterField(
            model_name="specimen",
            name="series",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="specimens",
                to="results.series",
            ),
        ),
    ]
