"""Every page, and what is looked at on each: accessible, nothing wider than the screen, nothing wrong in the console.

The two widths have a test file each, so that they can run beside each other. The desk is looked at in light and the
phone in dark: both have every page and its words, so that each colour is measured where it stands.
"""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe

from results.demo import FOLDER, load_demo
from results.models import Plan, Study
from results.releases import make
from results.vocabulary import load_vocabulary

from .asked import add_asked
from .conftest import log_in, show_pictures
from .own_things import add_own_things

FORM = "/submit/form/?loading=cantilever_arm&instrument=luggage_scale&joint=butt&joint=dowel&specimens=3"
PLAN = (
    "joint=mt_blind&joint=dowel&loading=cantilever_arm&arm_mm=12 in&timber=oak_northern_red&member_thickness_mm=20"
    "&member_depth_mm=40&blocks=2&instrument=bathroom_scale&full_scale=150 kg"
)
PUBLIC = [
    "/",
    "/compare/",
    "/compare/?footing=peak_load&flagged=without",
    "/compare/?tests=any&action=any",
    "/compare/?footing=nonsense",
    "/compare/?action=torsion&footing=stress",
    "/compare/embed/strength/",
    "/compare/network/",
    "/compare/network/?pair=mt_blind,dowel&level=0.9",
    "/compare/network/?pair=nonsense,dowel",
    "/compare/network/?action=axial&footing=at_joint",
    "/compare/network/?tests=any&action=any",
    "/studies/",
    "/studies/{study}/",
    "/studies/{study}/revisions/",
    "/studies/{study}/revisions/1/",
    "/workshops/",
    "/workshops/Long_Bench_Shop_~28invented~29/",
    "/workshops/Long_Bench_Shop_~28invented~29/?footing=ratio_control",
    "/workshops/Long_Bench/",
    "/joints/",
    "/joints/mt_blind/",
    "/joints/mt_blind/?footing=stress&flagged=without",
    "/joints/dowel/?action=torsion",
    "/joints/dowel/?action=nonsense",
    "/joints/edge/",
    "/timbers/",
    "/timbers/oak_northern_red/",
    "/timbers/oak_northern_red/?action=torsion",
    "/timbers/teak/",
    "/plan/",
    "/plan/?joint=mt_blind&joint=dowel",
    f"/plan/?{PLAN}",
    f"/plan/?{PLAN}&arm_mm=0&nonsense=1",
    f"/plan/sheet/?{PLAN}",
    "/plans/",
    "/plans/?state=missing",
    "/plans/{plan}/",
    "/plans/{plan}/sheet/",
    "/evidence/",
    "/evidence/?by=timber",
    "/evidence/?by=adhesive&tests=bond&family=lap",
    "/evidence/?by=nonsense",
    "/methods/",
    "/methods/loadings/",
    "/methods/studies/",
    "/methods/certainty/",
    "/methods/piece/",
    "/methods/next-test/",
    "/search/",
    "/search/?q=oak",
    "/search/?q=miter",
    "/search/?q=oak&in=timbers",
    "/search/?q=oak&in=nonsense",
    "/piece/",
    "/piece/chair_leaned/",
    "/piece/chair_leaned/?joint=mt_blind&timber=oak_northern_red&use=children&preset=iso7173_back",
    "/piece/seat/?joint=dovetail_through&timber=oak_northern_red",
    "/piece/arm/?load_n=1e9&joint=nail",
    "/piece/share/",
    "/piece/share/?shares=1",
    "/piece/leverage/",
    "/piece/movement/",
    "/data/",
    "/data/releases/",
    "/data/releases/{release}/",
    "/login/",
    "/sign-up/",
    "/account/confirm/",
    "/account/confirm/nonsense/",
    "/account/closed/",
    "/account/deleted/",
    "/account/password/reset/",
    "/account/password/reset/asked/",
    "/account/password/reset/1-nonsense/",
    "/account/password/reset/done/",
    "/submit/where/",
    "/no-such-page/",
]
OWN = [
    "/account/",
    "/account/email/",
    "/account/password/",
    "/account/second-factor/",
    "/account/second-factor/on/",
    "/account/delete/",
    "/logout/",
    "/mine/",
    "/data/token/",
    "/submit/",
    FORM,
    "/submit/form/?figures=published&loading=cantilever_arm&joint=butt&joint=dowel",
    "/submit/form/?change={study}",
    "/submit/change/{study}/",
    "/submit/withdraw/{study}/",
    "/studies/{study}/revisions/",
    "/studies/{study}/revisions/1/",
    "/studies/{study}/revisions/2/",
    "/studies/{study}/revisions/1/2/",
    "/studies/{fresh}/",
    "/studies/{fresh}/take-back/",
    "/studies/{study}/photos/",
    "/studies/{study}/photos/{photo}/",
    "/studies/{study}/photos/{photo}/remove/",
    "/mine/notices/",
    "/review/",
    "/studies/{study}/ask/",
    "/questions/{question}/answer/",
    f"/plan/lodge/?{PLAN}",
    "/plans/?state=mine",
    "/plans/{plan}/",
    "/plans/{plan}/withdraw/",
    "/mine/rigs/",
    "/mine/rigs/new/?loading=corner_opening&instrument=jack_gauge",
    "/mine/rigs/{rig}/",
    "/mine/rigs/{rig}/edit/",
    "/mine/rigs/{rig}/delete/",
    "/mine/rigs/{rig}/calibrations/new/",
    "/mine/rigs/{rig}/calibrations/{calibration}/delete/",
]

REVIEWER = [
    "/review/",
    "/review/{change}/",
    "/review/{new}/",
    "/mine/",
    "/mine/notices/",
    "/studies/{study}/",
    "/studies/{study}/ask/",
    "/questions/{question}/answer/",
    "/questions/{question}/resolve/",
]


def fill_book(settings, folder) -> dict[str, object]:
    """Load a few of the demonstration's studies: enough that every part of every page has something to show."""
    settings.DEMO = True
    settings.DATA_DIR = folder / "kept"
    load_vocabulary()
    for name in sorted(path.name for path in FOLDER.glob("*.csv"))[:5]:
        (folder / name).write_bytes((FOLDER / name).read_bytes())
    load_demo(folder)
    release = make().release
    study = Study.objects.earliest("id")
    known = {
        "study": study.pk,
        "release": release.name,
        "plan": Plan.objects.get().pk,
        **add_own_things(study),
        **add_asked(study),
    }
    return {**known, "fresh": Study.objects.latest("id").pk}


# At 200 % a window of 1280 px has room for 640 (WCAG 2.2, 1.4.4).
MAGNIFIED = {"width": 640, "height": 450}
# Targets are 24 px or have a circle of 24 px to themselves; those in a line of text need not (WCAG 2.2, 2.5.8). axe has
# a rule for it, which takes longer than all the others together.
CROWDED = """() => {
  const targets = [...document.querySelectorAll("a[href], button, input, select, textarea, summary")]
    .filter((one) => one.checkVisibility() && one.type !== "hidden" && !one.closest(".unseen, .js-plotly-plot"))
    .map((one) => ({ one, box: one.getBoundingClientRect() })).filter(({ box }) => box.width && box.right > 0);
  const alone = (one) => getComputedStyle(one).display !== "inline"
    || one.parentElement.textContent.trim() === one.textContent.trim();
  const small = targets.filter(({ one, box }) => Math.min(box.width, box.height) < 24 && alone(one));
  const within = (at, low, high) => Math.min(Math.max(at, low), high);
  const middle = (box) => [box.x + box.width / 2, box.y + box.height / 2];
  return small.filter(({ one, box }) => targets.some((other) => {
    if (other.one === one || other.one.contains(one) || one.contains(other.one)) return false;
    const [x, y] = middle(box);
    const far = small.includes(other) ? middle(other.box)
      : [within(x, other.box.left, other.box.right), within(y, other.box.top, other.box.bottom)];
    return Math.hypot(x - far[0], y - far[1]) < (small.includes(other) ? 24 : 12);
  })).map(({ one }) => one.outerHTML.slice(0, 90));
}"""
# Below 16 px a phone enlarges the page under a finger that touches a field.
SMALL_FIELDS = """() => [...document.querySelectorAll("input, select, textarea")]
  .filter((field) => !["hidden", "checkbox", "radio"].includes(field.type) && field.checkVisibility())
  .filter((field) => parseFloat(getComputedStyle(field).fontSize) < 16)
  .map((field) => field.name || field.id)"""
# What scrolls can be scrolled; what hides the rest of its words can't. A list shows its longest choice whole.
CUT = """() => [...document.querySelectorAll("main *, header *")].filter((one) => {
  const style = getComputedStyle(one);
  const hides = ["hidden", "clip"].includes(style.overflowX) && style.clipPath === "none";
  return hides && one.checkVisibility() && one.scrollWidth > one.clientWidth + 1 && !one.closest(".js-plotly-plot");
}).map((one) => one.outerHTML.slice(0, 90))"""


def walk(open_page, book: dict[str, object], size: str, scheme: str) -> dict[str, list[str]]:
    """What is wrong with each page at a width; nothing for those that are well."""
    page = open_page("/", size=size, color_scheme=scheme)
    troubles = {path: look_at(page, path.format(**book)) for path in PUBLIC}
    log_in(page)
    troubles |= {path: look_at(page, path.format(**book)) for path in OWN}
    page = open_page("/", size=size, color_scheme=scheme)
    log_in(page, "reviewer")
    troubles |= {f"{path} as a reviewer": look_at(page, path.format(**book)) for path in REVIEWER}
    return {path: found for path, found in troubles.items() if found}


def look_at(page, path: str) -> list[str]:
    """What is wrong with a page, one line each."""
    page.faults.clear()
    page.goto(path)
    show_pictures(page)
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    found = [fault for fault in page.faults if "status of 40" not in fault]
    if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
        found.append("wider than the screen")
    if page.locator("h1").count() != 1:
        found.append(f"{page.locator('h1').count()} h1")
    for violation in Axe().run(page).response["violations"]:
        nodes = "; ".join(node["html"][:120] for node in violation["nodes"][:3])
        found.append(f"{violation['id']}: {violation['help']} {nodes}")
    found += [f"its text is small: {field}" for field in page.evaluate(SMALL_FIELDS)]
    found += [f"cut off: {element}" for element in page.evaluate(CUT)]
    found += [f"too small to touch: {element}" for element in page.evaluate(CROWDED)]
    return found + look_magnified(page)


def look_magnified(page) -> list[str]:
    """Whether a desk's page holds when it is twice as large; the phone's is narrower anyway."""
    size = page.viewport_size
    if size["width"] < MAGNIFIED["width"]:
        return []
    page.set_viewport_size(MAGNIFIED)
    wide = page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
    page.set_viewport_size(size)
    return ["wider than the screen at 200 %"] if wide else []
