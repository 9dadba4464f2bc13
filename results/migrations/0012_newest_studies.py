"""The newest studies first, without sorting all of them."""

from django.db import migrations, models

from results.site.migrating import AddIndexConcurrently


class Migration(migrations.Migration):
    atomic = False

    dependencies = [
        ("results", "0011_leaner_footings"),
    ]

    operations = [
        AddIndexConcurrently(
            model_name="study",
            index=models.Index(fields=["-accepted_at", "-id"], name="study_newest_first"),
        ),
    ]
