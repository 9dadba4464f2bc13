"""Phrases of our own in few bytes: the columns are the same, what is written to them differs.

Those that are there stay as they are, and are packed as their studies are restated. A program of before that still
runs shows those saved meanwhile as they are kept.
"""

from django.db import migrations

from results.models import few_bytes


class Migration(migrations.Migration):
    dependencies = [
        ("results", "0013_specimens_in_order"),
    ]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.AlterField(
                    model_name="seriesfooting",
                    name="basis",
                    field=few_bytes.PhraseCharField(blank=True, max_length=200),
                ),
                migrations.AlterField(
                    model_name="seriesfooting",
                    name="missing",
                    field=few_bytes.PhrasesField(default=list),
                ),
                migrations.AlterField(
                    model_name="finding",
                    name="message",
                    field=few_bytes.PhraseTextField(help_text="What was found and what it means."),
                ),
                migrations.AlterField(
                    model_name="finding",
                    name="remedy",
                    field=few_bytes.PhraseTextField(blank=True, help_text="What to do."),
                ),
            ]
        ),
    ]
