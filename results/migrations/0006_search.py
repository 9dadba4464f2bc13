"""Full text of studies on PostgreSQL: a column that the database keeps itself, with its index.

Django knows nothing of the column (`results/search/studies.py` names it); elsewhere studies are read through, and
nothing is made. A later change of how words are folded, or of the type of a column that is searched, needs a migration
that drops the column first and makes it again.
"""

from django.db import migrations

WHOLE = ("øØłŁđĐðÐħĦı", "oollddddhhi")
ACCENTS = r"[\u0300-\u036f]+"
PARTING = (
    r"[\u0001-\u002f\u003a-\u0040\u005b-\u0060\u007b-\u00a9\u00ab-\u00b4\u00b6-\u00b9\u00bb-\u00bf\u00d7\u00f7"
    r"\u2010-\u206f\u20ac\u2122\u2212]+"
)
FIELDS = ("title", "workshop", "question", "citation", "notes")


def _words(said):
    """The words of a text, without accents and in small letters."""
    apart = f"normalize(translate({said}, '{WHOLE[0]}', '{WHOLE[1]}'), NFD)"
    plain = f"regexp_replace({apart}, '{ACCENTS}', '', 'g')"
    parted = f"regexp_replace({plain}, '{PARTING}', ' ', 'g')"
    return f"to_tsvector('simple'::regconfig, lower({parted}))"


def make(apps, editor):
    if editor.connection.vendor != "postgresql":
        return
    # What stands in the title is marked A, so that titles can be looked through alone.
    about = "RETURNS tsvector LANGUAGE sql IMMUTABLE PARALLEL SAFE SET search_path = pg_catalog"
    title, *others = FIELDS
    vector = f"setweight({_words(title)}, 'A') || " + _words(" || ' ' || ".join(others))
    arguments = ", ".join(f"{name} text" for name in FIELDS)
    editor.execute(f"CREATE FUNCTION study_words({arguments}) {about} AS $$ SELECT {vector} $$", None)
    editor.execute(
        "ALTER TABLE results_study ADD COLUMN search_words tsvector "
        f"GENERATED ALWAYS AS (study_words({', '.join(FIELDS)})) STORED",
        None,
    )
    editor.execute("CREATE INDEX study_search_words ON results_study USING gin (search_words)", None)


def unmake(apps, editor):
    if editor.connection.vendor != "postgresql":
        return
    editor.execute("ALTER TABLE results_study DROP COLUMN search_words", None)
    editor.execute(f"DROP FUNCTION study_words({', '.join(['text'] * len(FIELDS))})", None)


class Migration(migrations.Migration):
    dependencies = [("results", "0004_specimen_order")]

    operations = [migrations.RunPython(make, unmake)]
