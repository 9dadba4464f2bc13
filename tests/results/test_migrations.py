"""Migrations come one after another, and none stops a site that goes on answering, unless there is a reason."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import connection, migrations, models
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.state import ModelState, ProjectState
from django_linear_migrations.apps import check_max_migration_files

from results.site import migrating

from .migration_rules import locking

OURS = ("results", "api")
_BEFORE = "from before the rule, when no book had been opened to others"
_SMALL = "a study is one row of some thousands: it takes milliseconds, and gives up after --lock-timeout"
_DROPS = "drops an index, which takes milliseconds and gives up after --lock-timeout"
# What stands although the rule refuses it: migration and operation -> why it may.
ALLOWED = {
    ("results.0004_specimen_order", "AddIndex specimen specimen_in_order"): _BEFORE,
    ("results.0006_search", "RunPython"): _BEFORE,
    ("results.0008_keeping", "AddConstraint study study_status_known"): _BEFORE,
    ("results.0008_keeping", "AddField setup rig"): _BEFORE,
    ("results.0008_keeping", "AddField upload changes"): _BEFORE,
    ("results.0008_keeping", "AddIndex series series_by_kind"): _BEFORE,
    ("results.0011_leaner_footings", "AlterField seriesfooting series"): _DROPS,
    ("results.0011_leaner_footings", "AlterField series study"): _DROPS,
    ("results.0011_leaner_footings", "AlterField specimen failure_place"): _DROPS,
    ("results.0011_leaner_footings", "AlterField specimen series"): _DROPS,
    ("results.0009_plan", "AddField study plan"): _SMALL,
}


def found():
    loader = MigrationLoader(None)
    state = ProjectState()
    for node in loader.graph._generate_plan(loader.graph.leaf_nodes(), at_end=True):
        migration = loader.get_migration(*node)
        if node[0] in OURS:
            yield from locking(migration, state)
        else:
            migration.mutate_state(state, preserve=False)


def test_no_migration_locks_or_disturbs_without_a_reason():
    refused = {one.key: one.why for one in found() if one.key not in ALLOWED}

    assert refused == {}


def test_every_reason_is_still_needed():
    assert set(ALLOWED) <= {one.key for one in found()}
    assert all(ALLOWED.values())


def test_migrations_are_in_one_line():
    assert check_max_migration_files(app_configs=[apps.get_app_config(name) for name in OURS]) == []


# -- the rule itself -------------------------------------------------------------------------------
def refusal(*operations) -> list[str]:
    """Why operations on a table that is there are refused."""
    state = ProjectState()
    fields = [
        ("id", models.BigAutoField(primary_key=True)),
        ("name", models.CharField(max_length=20)),
        ("load_n", models.FloatField()),
    ]
    state.add_model(ModelState("shop", "Bench", fields))
    migration = migrations.Migration("0002_more", "shop")
    migration.operations = list(operations)
    return [one.why for one in locking(migration, state)]


INDEX = models.Index(fields=["name"], name="by_name")
CHECK = models.CheckConstraint(condition=models.Q(load_n__gte=0), name="load_known")


@pytest.mark.parametrize(
    ("operation", "why"),
    [
        (migrations.AddIndex("bench", INDEX), "AddIndexConcurrently"),
        (migrations.AddConstraint("bench", CHECK), "AddConstraintNotValid"),
        (migrations.RenameField("bench", "name", "label"), "add a new one, fill it, drop the old one later"),
        (migrations.RenameModel("Bench", "Table"), "make a new one"),
        (migrations.RemoveField("bench", "name"), "take it out of the program first"),
        (migrations.DeleteModel("Bench"), "take it out of the program first"),
        (migrations.AlterUniqueTogether("bench", {("name",)}), "no rule says that AlterUniqueTogether is harmless"),
        (migrations.AddField("bench", "more", models.FloatField(default=0)), "null=True or db_default"),
        (migrations.AddField("bench", "key", models.CharField(max_length=9, null=True, unique=True)), "its index"),
        (migrations.AddField("bench", "of", models.ForeignKey("shop.Bench", models.CASCADE, null=True)), "its index"),
        (migrations.AlterField("bench", "name", models.CharField(max_length=10)), "add a new field, fill it"),
        (migrations.AlterField("bench", "name", models.TextField()), "add a new field, fill it"),
        (migrations.RunPython(migrations.RunPython.noop), "nobody can tell from outside"),
        (migrations.RunSQL("SELECT 1"), "nobody can tell from outside"),
        (migrations.SeparateDatabaseAndState([migrations.DeleteModel("Bench")]), "take it out of the program first"),
    ],
)
def test_what_locks_or_disturbs_is_refused_with_what_would_be_right(operation, why):
    (told,) = refusal(operation)

    assert why in told


@pytest.mark.parametrize(
    "operation",
    [
        migrating.AddIndexConcurrently("bench", INDEX),
        migrating.AddConstraintNotValid("bench", CHECK),
        migrations.AddField("bench", "more", models.FloatField(null=True)),
        migrations.AddField("bench", "more", models.FloatField(db_default=0.0)),
        migrations.AlterField("bench", "name", models.CharField(max_length=30, help_text="Longer.")),
        migrations.AlterField("bench", "load_n", models.FloatField(null=True)),
        migrations.SeparateDatabaseAndState(state_operations=[migrations.RemoveField("bench", "name")]),
        migrations.AlterModelOptions("bench", {"ordering": ["name"]}),
    ],
)
def test_what_does_neither_passes(operation):
    assert refusal(operation) == []


def test_a_table_made_by_the_same_migration_has_nobody_in_it_yet():
    made = migrations.CreateModel(
        "Plane", [("id", models.BigAutoField(primary_key=True)), ("name", models.TextField())]
    )

    assert refusal(made, migrations.AddIndex("plane", INDEX)) == []


# -- the operations, on this database --------------------------------------------------------------
@pytest.mark.django_db(transaction=True)
def test_indexes_and_checks_are_made_and_unmade_on_this_database():
    state = ProjectState()
    fields = [
        ("id", models.BigAutoField(primary_key=True)),
        ("name", models.TextField()),
        ("load_n", models.FloatField()),
    ]
    steps = [
        migrations.CreateModel("Bench", fields),
        migrating.AddIndexConcurrently("bench", INDEX),
        migrating.AddConstraintNotValid("bench", CHECK),
        migrating.ValidateConstraint("bench", "load_known"),
        migrating.RemoveIndexConcurrently("bench", "by_name"),
    ]
    states = [state]
    for step in steps:
        after = states[-1].clone()
        step.state_forwards("results", after)
        states.append(after)

    def run(at: int, *, back: bool = False) -> None:
        before, after = (states[at + 1], states[at]) if back else (states[at], states[at + 1])
        with connection.schema_editor(atomic=False) as editor:
            act = steps[at].database_backwards if back else steps[at].database_forwards
            act("results", editor, before, after)

    def there() -> set[str]:
        with connection.cursor() as cursor:
            known = connection.introspection.get_constraints(cursor, "results_bench")
        return {name for name in known if name in ("by_name", "load_known")}

    try:
        seen = []
        for at in range(len(steps)):
            run(at)
            seen.append(there())
        assert seen == [set(), {"by_name"}, {"by_name", "load_known"}, {"by_name", "load_known"}, {"load_known"}]
        for at in reversed(range(1, len(steps))):
            run(at, back=True)
        assert there() == set()
    finally:
        run(0, back=True)
    assert "results_bench" not in connection.introspection.table_names()


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one lock for all, and waits for it anyhow")
def test_migrating_gives_up_while_a_table_is_in_use():
    other = connection.copy()
    try:
        with other.cursor() as cursor:
            cursor.execute("BEGIN")
            cursor.execute("LOCK TABLE django_migrations IN ACCESS EXCLUSIVE MODE")
        with pytest.raises(CommandError, match="A table was in use for longer than 1 s"):
            call_command("migrate", lock_timeout=1, verbosity=0)
    finally:
        other.close()
    call_command("migrate", verbosity=0)
    with connection.cursor() as cursor:
        cursor.execute("SHOW lock_timeout")
        assert cursor.fetchone() == ("0",)
