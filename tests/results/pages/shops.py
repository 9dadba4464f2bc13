"""Studies for pages to show, taken to their footings by the site's own code."""

from __future__ import annotations

import html
import re
from typing import Any

from results.evidence import restate
from results.models import Study
from tests.factories import make_series, make_setup, make_specimen, make_study

BUTT, TENON = (40, 44, 48), (90, 101, 95)


def a_shop(title: str = "Rails into posts", *, rig: float = 1.0, of_series: dict | None = None, **fields: Any) -> Study:
    """Butt joints and blind tenons on an arm of 300 mm, by the moment that each took [N·m]."""
    status = fields.pop("status", Study.Status.ACCEPTED)
    study = make_study(title, **fields)
    setup = make_setup(study, label="jack and arm", typed={"arm_mm": "300 mm"})
    for joint, moments in (("butt", BUTT), ("mt_blind", TENON)):
        series = make_series(study, setup=setup, joint=joint, label=joint, **(of_series or {}))
        for place, moment in zip(("bond_line", "bond_line", "member"), moments, strict=True):
            make_specimen(series, peak_load_n=moment * rig / 300.0 * 1000, failure_place=place)
    restate(study)
    if status != Study.Status.ACCEPTED:
        study.status = status
        study.withdrawn_reason = "the arm was measured wrongly" if status == Study.Status.WITHDRAWN else ""
        study.save()
    return study


def text(response: Any) -> str:
    """What a reader reads: the main part, without markup."""
    page = response.content.decode()
    main = page[page.index("<main") : page.index("</main>")]
    bare = re.sub(r"<script.*?</script>", " ", main, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).split())


def table(response: Any, caption: str) -> list[list[str]]:
    """The rows of the table whose caption begins so, its heading first, as text."""
    page = html.unescape(response.content.decode())
    found = re.search(rf"<caption>{re.escape(caption)}.*?</table>", page, re.DOTALL)
    assert found, f"no table {caption!r}"
    rows = re.findall(r"<tr>(.*?)</tr>", found.group(0), re.DOTALL)
    cells = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL) for row in rows]
    return [[" ".join(re.sub(r"<[^>]+>", "", cell).split()) for cell in row] for row in cells]
