"""How to take the data in one line: for each tool the very text that the data page prints."""

from __future__ import annotations

from dataclasses import dataclass

# Of the joints, the middle of their ratio to solid wood; a question for DuckDB. Those that held took at least theirs,
# and belong in it: without them the strongest are left out.
_MEDIANS = """SELECT joint, median(ratio_solid) AS ratio
    FROM {source}
    WHERE action = 'bending' AND tests = 'joint' AND outcome <> 'void'
    GROUP BY joint ORDER BY ratio DESC"""


@dataclass(frozen=True)
class Recipe:
    """A few lines to copy.

    Parameters
    ----------
    tool : str
        What runs it, as a heading.
    language : {"python", "r", "shell"}
        What it is written in.
    code : str
        The lines.
    note : str
        What one has to know beside it.
    """

    tool: str
    language: str
    code: str
    note: str = ""


def of_api(specimens_csv: str, compare_json: str) -> list[Recipe]:
    """Taking what counts now from the read API.

    Parameters
    ----------
    specimens_csv, compare_json : str
        Whole addresses.
    """
    return [
        Recipe("pandas", "python", f'import pandas as pd\nspecimens = pd.read_csv("{specimens_csv}")'),
        Recipe(
            "polars",
            "python",
            "import polars as pl, urllib.request\n"
            f'table = urllib.request.urlopen("{specimens_csv}").read()\n'
            "specimens = pl.read_csv(table, infer_schema_length=None)",
        ),
        Recipe(
            "DuckDB",
            "python",
            "import duckdb, pandas as pd\n"
            f'specimens = pd.read_csv("{specimens_csv}")\n'
            f'print(duckdb.sql("""{_MEDIANS.format(source="specimens")}"""))',
        ),
        Recipe("R", "r", f'specimens <- read.csv("{specimens_csv}")'),
        Recipe(
            "curl",
            "shell",
            f'curl -O "{specimens_csv}"\ncurl "{compare_json}?joint=mt_blind&joint=dowel&action=bending"',
        ),
    ]


def of_release(specimens_parquet: str, sums: str) -> list[Recipe]:
    """Taking a release, which is the same tomorrow; Parquet is read in place, only the columns that are asked for.

    Parameters
    ----------
    specimens_parquet, sums : str
        Whole addresses.
    """
    in_place = _MEDIANS.format(source=f"'{specimens_parquet}'")
    return [
        Recipe(
            "pandas",
            "python",
            "import pandas as pd\n"
            f'specimens = pd.read_parquet(\n    "{specimens_parquet}",\n    columns=["joint", "ratio_solid"])',
        ),
        Recipe(
            "polars",
            "python",
            "import polars as pl\n"
            f'specimens = pl.scan_parquet("{specimens_parquet}")\n'
            'print(specimens.group_by("joint").agg(pl.col("ratio_solid").median()).collect())',
        ),
        Recipe(
            "DuckDB",
            "python",
            f'import duckdb\nprint(duckdb.sql("""{in_place}"""))',
            "DuckDB fetches its extension httpfs at the first address it is given.",
        ),
        Recipe(
            "R",
            "r",
            f'library(arrow)\nspecimens <- read_parquet("{specimens_parquet}")',
        ),
        Recipe(
            "curl",
            "shell",
            f'curl -O "{specimens_parquet}"\ncurl -O "{sums}"\nsha256sum --check --ignore-missing SHA256SUMS',
        ),
    ]
