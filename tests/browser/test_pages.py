"""Every page at two widths: accessible, nothing wider than the screen, nothing wrong in the console."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from results.demo import FOLDER, load_demo
from results.models import Study
from results.releases import make
from results.vocabulary import load_vocabulary

from .conftest import log_in

pytestmark = pytest.mark.django_db(transaction=True)

FORM = "/submit/form/?loading=cantilever_arm&instrument=luggage_scale&joint=butt&joint=dowel&specimens=3"
PUBLIC = [
    "/",
    "/compare/",
    "/compare/?footing=peak_load&flagged=without",
    "/compare/?tests=any&action=any",
    "/compare/?footing=nonsense",
    "/compare/?action=torsion&footing=stress",
    "/studies/",
    "/studies/{study}/",
    "/joints/",
    "/joints/mt_blind/",
    "/timbers/",
    "/timbers/oak_northern_red/",
    "/methods/",
    "/data/",
    "/data/releases/",
    "/data/releases/{release}/",
    "/login/",
    "/sign-up/",
    "/no-such-page/",
]
OWN = ["/mine/", "/submit/", FORM, "/studies/{study}/withdraw/"]


@pytest.fixture
def demo_book(settings, tmp_path):
    """A few of the demonstration's studies: enough that every part of every page has something to show."""
    settings.DEMO = True
    settings.DATA_DIR = tmp_path / "kept"
    load_vocabulary()
    for name in sorted(path.name for path in FOLDER.glob("*.csv"))[:5]:
        (tmp_path / name).write_bytes((FOLDER / name).read_bytes())
    load_demo(tmp_path)
    release = make().release
    return {"study": Study.objects.earliest("id").pk, "release": release.name}


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_pages_are_accessible_and_fit(demo_book, open_page, size):
    page = open_page("/", size=size)
    troubles = {path: look_at(page, path.format(**demo_book)) for path in PUBLIC}
    log_in(page)
    troubles |= {path: look_at(page, path.format(**demo_book)) for path in OWN}

    assert {path: found for path, found in troubles.items() if found} == {}


def look_at(page, path: str) -> list[str]:
    """What is wrong with a page, one line each."""
    page.faults.clear()
    page.goto(path)
    if page.locator("[data-chart]").count():
        page.locator(".js-plotly-plot").first.wait_for()
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    found = [fault for fault in page.faults if "status of 40" not in fault]
    if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
        found.append("wider than the screen")
    if page.locator("h1").count() != 1:
        found.append(f"{page.locator('h1').count()} h1")
    for violation in Axe().run(page).response["violations"]:
        nodes = "; ".join(node["html"][:120] for node in violation["nodes"][:3])
        found.append(f"{violation['id']}: {violation['help']} {nodes}")
    return found
