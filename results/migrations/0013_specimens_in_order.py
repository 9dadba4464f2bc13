"""Take away an index that another one does for: specimens of a series are found by their labels, and are few to sort."""

from django.db import migrations

from results.site.migrating import RemoveIndexConcurrently


class Migration(migrations.Migration):
    atomic = False

    dependencies = [
        ("results", "0012_newest_studies"),
    ]

    operations = [
        RemoveIndexConcurrently(model_name="specimen", name="specimen_in_order"),
    ]
