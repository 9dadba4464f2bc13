import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("results", "0006_search")]

    operations = [
        migrations.CreateModel(
            name="Packed",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "code",
                    models.CharField(blank=True, help_text="The footing; empty for what holds on all.", max_length=20),
                ),
                ("form", models.PositiveSmallIntegerField(help_text="Which way of packing.")),
                ("series", models.BinaryField()),
                ("specimens", models.BinaryField()),
                ("words", models.TextField()),
                (
                    "study",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="packed", to="results.study"
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("study", "code"), name="packed_once_a_footing")],
            },
        ),
    ]
