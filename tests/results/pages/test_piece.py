"""The pages for a piece: what it asks, what a joint bears, the margin, and what is said where there is none."""

from __future__ import annotations

import html
import re

import pytest
from django.core.cache import caches

from results.evidence import restate
from stats.footing.units import show
from stats.practice.demand import PIECES
from tests.factories import make_series, make_setup, make_study, make_summary
from tests.results.practice.oak_book import SIZES, a_book

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
JOINT = "joint=mt_blind&timber=oak_northern_red"
LOAD = "load_n=300+N&arm_mm=300"
ARM = f"/piece/arm/?{LOAD}&{JOINT}"


@pytest.fixture(autouse=True)
def nothing_kept():
    caches["answers"].clear()
    yield


def words(response) -> str:
    """The page's text, its tags and idle spaces gone."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode())).replace("&#x27;", "'")


@pytest.mark.parametrize("kind", PIECES)
def test_every_kind_of_piece_says_what_it_asks_before_anything_is_typed(client, kind):
    page = client.get(f"/piece/{kind}/")

    told = words(page)
    assert page.status_code == 200
    assert PIECES[kind].joint in told and "Not said by you" in told
    assert "Choose a timber above" in told
    assert f"/api/v1/demand?piece={kind}" in page.content.decode()


def test_all_kinds_are_offered(client):
    page = client.get("/piece/").content.decode()

    assert all(f'href="/piece/{kind}/"' in page for kind in PIECES)
    assert all(f'href="/piece/{more}/"' in page for more in ("share", "leverage", "movement"))
    assert "Nothing here certifies a piece" in page


def test_a_margin_with_all_that_it_rests_on(client):
    a_book()

    page = client.get(ARM)

    told = words(page)
    assert page.status_code == 200
    assert re.search(r"Margin: \d", told)
    assert "What would raise it" in told and "member 72 mm deep, its tenon 40 mm long and 48 mm high" in told
    assert "Would not raise it" in told and "Tenon 40 mm long, not 30" in told and "Dowel instead" in told
    assert "36 specimens of 6 shops" in told and "Since none was given" in told
    assert "5 % lower limit, 75 % confidence, for joints of another shop" in told
    assert "n = R / M" in told
    assert "safe" not in told.lower()
    for chart in ("member_depth_mm", "tenon_length_mm", "leverage"):
        assert f"/piece/arm/chart/{chart}.svg" in page.content.decode()


@pytest.mark.parametrize("chart", ["member_depth_mm", "tenon_length_mm", "leverage"])
def test_its_charts_are_drawn(client, chart):
    a_book()

    picture = client.get(f"/piece/arm/chart/{chart}.svg?{LOAD}&{JOINT}&width=700")
    figure = client.get(f"/piece/arm/chart/{chart}.json?{LOAD}&{JOINT}")

    assert picture.status_code == 200 and picture["Content-Type"] == "image/svg+xml"
    assert figure.json()["figure"]["data"]
    assert client.get(f"/piece/arm/chart/nonsense.svg?{JOINT}").status_code == 404


def test_results_are_said_in_the_units_that_were_typed_beside_si(client):
    """890 N on 300 mm is 267 N·m, which is 200 lbf on 11.81 in, and 196.9 ft·lbf."""
    a_book()

    told = words(client.get(f"/piece/arm/?load_n=200+lbf&{JOINT}&member_depth_mm=2.5+in"))

    assert "What the piece asks: 267 N·m (197 ft·lbf)" in told
    assert re.search(r"What the joint bears: [\d.]+ N·m \([\d.]+ ft·lbf\)", told)
    assert "In your units: the lower limit is" in told and "the piece asks 197 ft·lbf." in told
    assert "300 mm (11.8 in)" in told and "63.50 mm (2.500 in)" in told


@pytest.mark.parametrize("load", ["300 N", "30 daN"])
def test_nothing_stands_beside_where_si_was_typed(client, load):
    told = words(client.get(f"/piece/arm/?load_n={load.replace(' ', '+')}&arm_mm=300"))

    assert "What the piece asks: 90.0 N·m " in told
    assert "lbf" not in told.partition("What the piece asks")[2].partition("How these numbers")[0]


def test_weight_of_a_mass_is_said_in_kilograms_beside(client):
    told = words(client.get("/piece/leverage/?moment_nm=120+N·m&arm_mm=400+mm&push_n=30+kg"))

    assert "300 N (30.6 kgf) breaks it" in told


def test_season_is_said_in_inches_where_the_width_was(client):
    told = words(client.get("/piece/movement/?width_mm=12+in"))

    assert re.search(r"(shrinks|widens) by [\d.]+ mm \([\d.]+ in\) until winter", told)


def test_why_a_comparison_shows_another_lower_limit_is_said_beside_it(client):
    """A study that published only its mean counts here, and can't count there."""
    a_book()
    study = make_study("A handbook", workshop="Reading room")
    series = make_series(study, setup=make_setup(study, arm_mm=300), joint="mt_blind", **SIZES["mt_blind"])
    make_summary(series, n=12, mean_si=700.0, sd_si=90.0)
    restate(study)
    there = client.get("/api/v1/limits.json?action=bending&footing=ratio_solid").json()["limits"]
    other = next(row for row in there if row["joint"] == "mt_blind")

    told = words(client.get(ARM))

    assert (other["specimens"], other["studies"]) == (36, 6)
    assert "rests on 48 specimens of 7 shops" in told
    assert f"shows {show(other['limit'])} by another reckoning" in told
    assert "the 36 specimens of 6 studies that give them; this one takes each shop's mean, so that studies" in told
    # Asked for another share and confidence, the two aren't the same question.
    assert "by another reckoning" not in words(client.get(f"{ARM}&limit=90-90"))


def test_with_the_same_studies_the_reckoning_alone_differs(client):
    a_book(3)

    told = words(client.get(ARM))

    assert "rests on 18 specimens of 3 shops. The comparison behind the link" in told
    assert "the 18 specimens of 3 studies that give them; this one takes each shop's mean" in told


def test_the_margin_says_that_its_sizes_are_not_the_readers_until_one_is_given(client):
    a_book()

    assert re.search(r"Margin: [\d.]+, as tested, not your sizes ", words(client.get(ARM)))
    assert "not your sizes" not in words(client.get(f"{ARM}&member_depth_mm=50"))


def test_lower_limit_and_single_joints_are_reconciled(client):
    """By the limit's own distribution, worked out from the interval of single joints the page shows."""
    a_book()

    told = words(client.get(ARM))

    share = re.search(r"by the same tests about ([\d.]+) of 100 would bear less than the lower limit, and not 5", told)
    api = client.get(f"/api/v1/margin?piece=arm&{LOAD}&{JOINT}").json()
    assert share and 0 < float(share[1]) < 5
    assert api["value"] < api["single"]["low"]  # 5 of 100 lie below the interval of 90


def test_the_table_of_changes_has_plain_words(client):
    a_book()

    told = words(client.get(ARM))

    assert "If only glue (or wood) decided" in told and "Times the margin now" in told
    assert "kinder" not in told and "as it is planned" not in told


def test_a_size_refused_beside_one_as_tested_says_so_and_the_box_leads_to_its_field(client):
    a_book()

    page = client.get(f"{ARM}&tenon_depth_mm=80+mm")

    assert page.status_code == 400
    assert "(80) must be at most member's depth in the bending plane (60, as tested; give yours)" in words(page)
    box = re.search(r'role="alert">(.*?)</p>', page.content.decode())[1]
    where = re.search(r'<a href="#([^"]+)">', box)[1]
    assert where == "id_tenon_depth_mm" and f'id="{where}"' in page.content.decode()
    both = words(client.get(f"{ARM}&tenon_depth_mm=80+mm&member_depth_mm=60+mm"))
    assert "(60): a tenon" in both and "as tested; give" not in both


def test_a_load_cites_the_work_and_the_methods_say_where_it_was_read(client):
    told = words(client.get("/piece/table_racking/?preset=hand_push")) + words(client.get("/piece/leverage/"))

    assert told.count("29 healthy men, means of 120 activities from 74 to 386 N") >= 2
    assert "read at" not in told and "paperexplained" not in told
    assert "read at paperexplained.cn" in words(client.get("/methods/piece/"))


def for_client(response) -> str:
    """The sentence as it is copied, which is the one that is read."""
    page = html.unescape(response.content.decode())
    said = re.search(r'<p id="for-client">(.*?)</p>', page)[1]
    assert f'data-copy="{said}"' in page
    return said


def test_what_can_be_told_a_client_is_whole_and_made_of_the_numbers(client):
    a_book(invented=True)

    page = client.get(f"{ARM}&use=children&member_depth_mm=50&invented=with")

    told, said = words(page), for_client(page)
    bears = re.search(r"What the joint bears: (\S+ N·m)", told)[1]
    margin = re.search(r"Margin: ([\d.]+)", told)[1]
    low, high = re.search(r"the margin lies from ([\d.]+) to ([\d.]+)", told).groups()
    assert said.startswith("Blind mortise and tenon in ") and " with any glue, for cantilevered arm: " in said
    assert "the piece asks 90.0 N·m of it" in said and f"the joint bears {bears}, {margin} times that" in said
    assert f"90 of 100 such joints would bear {low} to {high} times that" in said
    assert "It rests on invented tests of 36 specimens in 6 shops. This certifies nothing" in said
    assert said.endswith("a calculation from test results is no substitute.")


def test_a_client_is_told_of_real_tests_and_of_sizes_that_are_not_the_pieces(client):
    a_book(invented=False)

    said = for_client(client.get(f"{ARM}&adhesive=pva"))

    assert "with PVA, general purpose, for" in said
    assert "rests on real tests of 36 specimens in 6 shops; sizes are those tested, not the piece's own." in said


def test_a_client_is_told_where_the_evidence_is_too_thin(client):
    a_book(1)

    said = for_client(client.get(ARM))

    assert "too few to say what the joint bears. No margin can be given. This certifies nothing" in said
    assert "times that" not in said


@pytest.mark.parametrize("shops", [1, 6])
def test_an_answer_says_what_it_is_of_without_its_form_and_where_it_stands(client, shops):
    a_book(shops)

    page = client.get(f"{ARM}&adhesive=pva&member_depth_mm=2.5+in&tenon_length_mm=")

    answer = words(page).partition("</form>")[0]
    assert "Joint: Blind mortise and tenon · Timber: " in answer
    assert "· Glue: PVA, general purpose · Member's depth in the bending plane: 2.5 in http" in answer
    assert f'class="on-paper" aria-hidden="true">http://testserver{ARM.split("?")[0]}?' in page.content.decode()


def test_other_joints_say_what_they_rest_on_and_those_that_do_not_fit_are_left_out(client):
    a_book(joints=("mt_blind", "dowel", "butt", "mitre"))
    table = f"/piece/chair_leaned/?{JOINT}"

    chair, frame = words(client.get(table)), words(client.get(f"/piece/frame_racked/?{JOINT}"))

    assert re.search(r"Dowel instead: [\d.]+, by 36 specimens of 6 shops", chair)
    assert "Specimens behind it Shops" in chair
    assert "Mitre instead" not in chair and "Mitre instead" in frame
    where = "where the end of a rail meets the side of a post or leg"
    assert f"Left out, as they aren't made {where} (common practice): mitre." in chair
    assert "Left out" not in frame


def test_too_little_evidence_is_said_and_no_figure_given(client):
    a_book(1)

    told = words(client.get(ARM))

    assert "What the joint bears: no figure" in told and "Only 1 shop has tested this joint so" in told
    assert "Margin:" not in told


@pytest.mark.parametrize("use", ["others", "children", "overhead", "structural"])
def test_the_caution_leads_where_others_trust_the_piece(client, use):
    page = client.get(f"/piece/arm/?use={use}").content.decode()

    assert page.index('aria-label="Caution"') < page.index("<form method")
    assert "licensed professional" in page


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("load_n=1e9+N", "1e9 N is 1 000 000 000 N"),
        ("load_n=110", "110 has no unit"),
        ("arm_mm=0", "0 is 0 mm"),
        (f"{JOINT}&member_depth_mm=2 in&tenon_depth_mm=31", "31 has no unit, and others are in inches"),
        (f"{JOINT}&footing=at_joint&tenon_depth_mm=20", "was 40 mm in the tests"),
        ("load_n=a+lot", "a lot"),
        (f"{JOINT}&tenon_length_mm=90", "the tenon is longer than its member is wide"),
        (f"{JOINT}&tenon_depth_mm=2 km", "km"),
        ("joint=nail", "nail"),
        ("timber=%00", "is not known"),
        ("lod_n=4+N", "Did you mean load_n"),
        (f"{JOINT}&repeated=dowels", "Loadings, for dowels (not given) must be said"),
    ],
)
def test_what_cannot_be_used_is_said_and_what_was_typed_stays(client, query, says):
    a_book(3)

    page = client.get(f"/piece/arm/?{query}")

    assert page.status_code == 400
    assert says in words(page)
    typed = query.rsplit("=", 1)[1]
    if typed in ("0", "90", "2 km"):
        assert f'value="{typed}"' in page.content.decode()


def test_sizes_typed_for_one_joint_are_kept_while_another_is_looked_at(client):
    a_book()

    page = client.get(f"{ARM.replace('mt_blind', 'dowel')}&tenon_length_mm=45").content.decode()

    assert '<input type="hidden" name="tenon_length_mm" value="45">' in page


@pytest.mark.parametrize("query", [JOINT, "joint=dowel&timber=&load_n=a+lot&tenon_length_mm=45", "joint=nail"])
def test_sizes_alone_are_those_of_the_whole_page_whatever_is_wrong_elsewhere(client, query):
    a_book()

    alone = client.get(f"/piece/arm/sizes/?{query}")
    whole = client.get(f"/piece/arm/?{query}").content.decode()

    assert alone.status_code == 200 and alone.content.decode().strip().endswith("</div>")
    assert alone.content.decode().strip() in whole
    assert client.get("/piece/rocket/sizes/").status_code == 404


def test_no_such_piece(client):
    assert client.get("/piece/rocket/").status_code == 404
    assert client.get("/piece/rocket/chart/leverage.svg").status_code == 404
    assert client.get("/piece/arm/question/chart.svg").status_code == 404


# Common practice, without a source: loads that people multiply by four.
@pytest.mark.parametrize(("one", "product"), [(300, "1 200"), (473, "1 890"), (988, "3 950")])
def test_four_joints_are_not_four_times_one(client, one, product):
    told = words(client.get(f"/piece/share/?mean={one}&unit=lbf&n=4"))

    assert f"4 times one joint, {product} lbf, the upper bound, which no frame reaches" in told
    assert "If the first to break ends it" in told


@pytest.mark.parametrize(
    "typed",
    ["mean=300+lbf&cv=15+%25", "mean=300+lb&unit=N&cv=0.15", "mean=300&unit=lbf&cv=15%25", "mean=300+%23&cv=.15"],
)
def test_numbers_of_a_share_are_read_with_their_unit_as_people_write_them(client, typed):
    told = words(client.get(f"/piece/share/?{typed}&n=4"))

    assert "4 times one joint, 1 200 lbf, the upper bound" in told.replace("\u202f", " ")


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("mean=3+mm", "3 mm: write a force or a moment, in one of N, kN, lbf"),
        ("mean=a+lot", "a lot"),
        ("mean=-300+lbf", "is taken"),
        ("cv=15", "15 would be 1500 %; write 15 % or 0.15."),
        ("cv=150+%25", "is taken"),
        ("cv=3+mm", "Write it as 0.15 or 15 %."),
    ],
)
def test_what_a_share_cannot_use_is_said(client, typed, says):
    page = client.get(f"/piece/share/?{typed}")

    assert page.status_code == 400
    assert says in words(page)


@pytest.mark.parametrize("more", ["share", "leverage", "movement"])
def test_the_other_questions_answer_and_draw(client, more):
    page = client.get(f"/piece/{more}/")

    assert page.status_code == 200
    assert f"/piece/{more}/question/chart.svg" in page.content.decode()
    assert client.get(f"/piece/{more}/question/chart.svg").status_code == 200
    assert f"/api/v1/{more}" in page.content.decode()
    assert "Nothing here certifies a piece" in words(page)


def test_a_length_of_member_breaks_by_its_force(client):
    told = words(client.get("/piece/leverage/?moment_nm=120+N·m&arm_mm=16+in"))

    assert "F = M / a = 120 N·m / 406 mm = 295 N" in told  # 120 N·m over 0.4064 m


def test_the_pages_of_all_studies_are_what_a_margin_links_to(client):
    a_book()
    page = client.get(ARM).content.decode()

    link = re.search(r'href="(/compare/\?[^"]+)">The studies behind it', page)
    assert link and client.get(link[1].replace("&amp;", "&")).status_code == 200
    share = re.search(r'href="(/piece/share/\?[^"]+)"', page)
    assert share and client.get(share[1].replace("&amp;", "&")).status_code == 200


def test_a_margin_has_two_digits_wherever_it_stands(client):
    a_book()

    for query in ("", f"&{JOINT}"):
        page = client.get(f"/piece/arm/?load_n=300+N&timber=oak_northern_red{query}").content.decode()
        caption = "What would raise the margin" if query else "Joints that fit there"
        body = page.partition(caption)[2].partition("<tbody>")[2].partition("</tbody>")[0]
        margins = re.findall(r'</th><td class="number">([\d .]+)</td>', body)
        assert margins
        assert all(len(one.replace(".", "").lstrip("0")) <= 2 or float(one) >= 100 for one in margins), margins
