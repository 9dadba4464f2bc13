"""Every bad cell is refused by a message that names field, value and what would be right."""

from __future__ import annotations

import pytest

from results.intake.findings import where

from .made import examine_file, flat, four_sheets, sent, told, workbook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.mark.parametrize(
    ("key", "value", "code", "message"),
    [
        ("specimen reading", "-120 kg", "out-of-range", "Reading '-120 kg' must be above 0 N."),
        ("specimen reading", "0 kg", "out-of-range", "Reading '0 kg' must be above 0 N. If the reading was lost"),
        ("specimen reading", "NaN", "not-finite", "Reading 'NaN' is not a finite number. Leave the cell empty"),
        ("specimen reading", "inf", "not-finite", "Reading 'inf' is not a finite number."),
        ("specimen reading", "1e300 N", "absurd", "Reading '1e300 N' is 1e+300 N, beyond anything"),
        ("specimen reading", "1e999 N", "not-finite", "Reading '1e999 N' is not a finite number."),
        ("specimen reading", "120 mm", "wrong-unit-kind", "Reading '120 mm': mm is a length. A load needs N"),
        ("specimen reading", "90 ft-lb", "wrong-unit-kind", "Reading '90 ft-lb': ft-lb is a moment. A load needs"),
        ("specimen reading", "120 kgg", "unknown-unit", "Reading '120 kgg': 'kgg' is not a unit known here."),
        ("specimen reading", "120", "unit-missing", "Reading '120' has no unit. A load needs one of N"),
        ("specimen reading", "1,240 N", "ambiguous-number", "Reading '1,240 N' may mean 1240 or 1.240. Write"),
        ("specimen reading", "about 120", "not-a-number", "Reading 'about 120' does not start with a number."),
        ("specimen reading", "12 13 kg", "not-a-number", "Reading '12 13 kg' holds more than one number."),
        ("specimen reading", "=B2*2", "formula", "Reading is a formula, '=B2*2'; formulas aren't worked out"),
        ("specimen reading", "", "missing", "Reading is blank, but the specimen broke. Give the highest reading"),
        ("specimen outcome", "exploded", "unknown-choice", "Outcome 'exploded' is none of the choices. Write broke"),
        ("specimen failure place", "bond lime", "unknown-word", "Failure place 'bond lime' is not in the vocab"),
        ("specimen wood failure", "140 %", "out-of-range", "Wood failure '140 %' must be 0 to 100 %."),
        ("specimen wood failure", "-5", "out-of-range", "Wood failure '-5' must be 0 to 100 %."),
        ("specimen void reason", "slipped", "reason-without-void", "Void reason 'slipped' was given, but the out"),
        ("specimen", "x" * 41, "too-long", f"Specimen '{'x' * 40}…' has 41 characters; 40 fit. Shorten it to 40"),
        ("specimen notes", "x" * 5001, "too-long", "has 5001 characters; 5000 fit. Shorten it"),
        ("specimen notes", "a\x00b", "control-character", "Notes 'a\N{REPLACEMENT CHARACTER}b' holds a character"),
        ("specimen notes", "a\x07b", "control-character", "can't be kept (U+0007). Type it again"),
        ("specimen notes", "a\u202eb", "control-character", "can't be kept (U+202E)"),
        ("setup arm", "300 kg", "wrong-unit-kind", "Arm '300 kg': kg is a mass. A length needs"),
        ("setup arm", "300", "unit-missing", "Arm '300' has no unit. A length needs one of mm"),
        ("setup arm", "2026-03-04", "date-in-number", "Arm '2026-03-04' is a date; spreadsheets make one of 3/4"),
        ("setup arm", "-300 mm", "out-of-range", "Arm '-300 mm' must be above 0 mm."),
        ("setup loading", "cantilver arm", "unknown-word", "Did you mean Cantilever arm (cantilever_arm)?"),
        ("setup instrument", "jak gauge", "unknown-word", "Did you mean"),
        ("setup angle", "120", "out-of-range", "Angle '120' must be -89 to 89 °."),
        ("setup friction", "1.2", "out-of-range", "Friction '1.2' must be 0 to 0.99."),
        ("setup shear faces", "3", "out-of-range", "Shear faces '3' must be 1 to 2."),
        ("setup frames", "1.5", "not-whole", "Frames '1.5' must be a whole number. Write 2, if that is meant."),
        ("setup lever ratio", "0", "out-of-range", "Lever ratio '0' must be above 0. Leave it blank"),
        ("setup", "x" * 81, "too-long", "has 81 characters; 80 fit."),
        ("setup reads", "moment", "reads-contradicts-instrument", "Luggage scale shows a force. Write force"),
        ("series joint", "blind mortice and tennon", "unknown-word", "Did you mean Blind mortise and tenon (mt_b"),
        ("series joint", "", "missing", "Joint is blank; it is needed."),
        ("series timber", "nothern red oak", "unknown-word", "Did you mean Oak, northern red (oak_northern_red)"),
        ("series moisture", "300", "out-of-range", "Moisture '300' must be 0 to 200 %."),
        ("series control", "A", "own-control", "Control 'A' is the series itself. Name another"),
        ("series control", "Z", "unknown-series", "Control 'Z' is no series of this study. There is 'A'."),
        ("series mean", "120 kg", "both-results", "Mean '120 kg' was given, and 5 single results too. Keep"),
        ("series sd", "12 kg", "spread-without-mean", "sd '12 kg' was given, but no mean."),
        ("series tenons", "0", "out-of-range", "Tenons '0' must be 1 to 1000."),
        ("series", "x" * 81, "too-long", "has 81 characters; 80 fit."),
        ("study title", "", "missing", "Title is blank; it is needed. A short name for the study."),
        ("study title", "x" * 201, "too-long", "has 201 characters; 200 fit."),
        ("study licence", "mine", "unknown-choice", "Licence 'mine' is none of the choices. Write CC0-1.0 or CC-BY"),
        ("study source url", "javascript:alert(1)", "not-a-url", "is no address. Write it in full, beginning with"),
        ("study tested on", "14/3/25", "not-a-date", "Tested on '14/3/25' is no date of this kind. Write 2025"),
        ("study tested on", "2025-02-30", "not-a-date", "Tested on '2025-02-30' is no date"),
        ("study invented", "maybe", "not-yes-or-no", "Invented 'maybe' is neither yes nor no. Write yes or no."),
    ],
)  # fmt: skip
def test_check_refuses_a_bad_cell_by_field_value_and_remedy(key, value, code, message):
    examination = sent(flat(**{key.replace(" ", "_"): value}))

    assert message in told(examination, code)
    found = next(one for one in examination.noticed if one.code == code)
    assert found.severity == "error"
    assert found.place is not None and found.place.row in (2, 3) and found.place.column
    assert found.value == value[:200]
    assert examination.draft is None


def test_check_wants_a_citation_for_published_figures():
    message = told(sent(flat(study_origin="published")), "missing")

    assert message == "Citation is blank; figures from a publication need it. Write who, what, where and when."


def test_check_reports_all_faults_at_once_each_at_its_cell():
    examination = sent(flat({"specimen reading": "120 mm"}, {"specimen outcome": "gone"}, {"setup arm": ""}))

    assert [(one.code, where(one.place)) for one in examination.noticed if one.severity == "error"] == [
        ("wrong-unit-kind", "cell S2"),
        ("unknown-choice", "cell T3"),
    ]


@pytest.mark.parametrize(
    ("typed", "unit", "peak_load_n"),
    [
        ("12,5 kg", "kg", 122.583125),
        ("1 240 N", "N", 1240.0),
        ("1.240,5 N", "N", 1240.5),
        ("1,240.5 N", "N", 1240.5),
        ("280 1/2 lbf", "lbf", 1247.726),
        ("280lb", "lb", 1245.502),
        ("\N{MINUS SIGN}5 kg", None, None),
        ("\N{FULLWIDTH DIGIT ONE}20\N{NO-BREAK SPACE}kg", "kg", 1176.798),
    ],
)
def test_check_reads_numbers_as_people_write_them_and_keeps_what_was_typed(typed, unit, peak_load_n):
    examination = sent(flat({"specimen reading": typed}))

    if unit is None:
        assert "must be above 0 N" in told(examination, "out-of-range")
        return
    first = examination.draft.specimens["A"][0]
    assert (first.reading_typed, first.reading_unit) == (typed, unit)
    assert first.peak_load_n == pytest.approx(peak_load_n, rel=1e-6)


def test_check_takes_the_unit_of_a_heading_for_bare_numbers():
    rows = [{key.replace("setup arm", "setup arm (in)"): value for key, value in row.items()} for row in flat()]
    for row in rows:
        row["setup arm (in)"] = "12"
        row["specimen reading"] = row["specimen reading"].removesuffix(" kg")
        row["setup reading unit"] = "lb"

    draft = sent(rows).draft

    assert draft.setups[0].arm_mm == 304.8
    assert draft.setups[0].typed["arm_mm"] == "12 in"
    assert draft.specimens["A"][0].peak_load_n == pytest.approx(118 * 4.4482216)


def test_check_reads_a_jack_gauge_through_its_ram():
    changed = {"setup instrument": "jack_gauge", "setup ram diameter": "25 mm", "setup reading unit": "bar"}
    rows = [{**row, **changed, "specimen reading": "20"} for row in flat()]

    specimen = sent(rows).draft.specimens["A"][0]

    # 2 MPa on a ram of 25 mm: 2 · π · 25² / 4
    assert specimen.peak_load_n == pytest.approx(981.7477)
    assert (specimen.reading_typed, specimen.reading_unit) == ("20", "bar")


def test_check_asks_for_the_ram_of_a_jack_gauge_and_takes_no_load_without():
    rows = [{**row, "setup instrument": "jack_gauge", "specimen reading": "20 bar"} for row in flat()]

    assert "Ram diameter is blank" in told(sent(rows), "missing")


def test_check_takes_a_torque_wrench_as_a_moment_and_refuses_a_force_on_it():
    rows = [{**row, "setup instrument": "torque wrench", "specimen reading": "90 ft-lb"} for row in flat()]
    specimen = sent(rows).draft.specimens["A"][0]
    assert specimen.peak_load_n is None
    assert specimen.moment_nm == pytest.approx(122.0236)

    rows[0]["specimen reading"] = "90 lbf"
    assert "A moment needs N·m" in told(sent(rows), "wrong-unit-kind")


def test_check_welcomes_a_study_without_an_arm_and_says_what_that_costs():
    examination = sent(flat(setup_arm=""))

    assert examination.may_be_saved
    assert "moment or force at the joint can't be had" in told(examination, "footing-missing")
    assert "arm_mm" in told(examination, "footing-missing")


def test_check_wants_a_reason_for_a_void_specimen_and_none_for_others():
    assert "Void reason is blank" in told(sent(flat({"specimen outcome": "void"})), "missing")
    examination = sent(
        flat({"specimen outcome": "void", "specimen void reason": "the clamp slipped", "specimen reading": ""})
    )
    assert examination.may_be_saved


@pytest.mark.parametrize("outcome", ["held", "void"])
def test_check_refuses_a_failure_place_where_nothing_broke(outcome):
    row = {"specimen outcome": outcome, "specimen failure place": "bond line", "specimen wood failure": "20"}
    if outcome == "void":
        row["specimen void reason"] = "slipped"

    found = [one.message for one in sent(flat(row)).noticed if one.code == "failure-without-break"]

    assert found == [
        f"Failure place 'bond line' was given, but the outcome is '{outcome}': it has not broken anywhere.",
        f"Wood failure '20' was given, but the outcome is '{outcome}': it has not broken anywhere.",
    ]


def test_check_refuses_two_specimens_of_one_name():
    assert (
        "Specimen '1' is there twice in series 'A' (also in row 2). Give each a name"
        in told(sent(flat({}, {"specimen": "1"})), "duplicate-label")
    )  # fmt: skip


def test_check_numbers_specimens_without_a_name_around_those_that_have_one():
    rows = flat({"specimen": ""}, {"specimen": "1"}, {"specimen": ""}, {"specimen": "x"}, {"specimen": ""})

    assert [one.label for one in sent(rows).draft.specimens["A"]] == ["2", "1", "3", "x", "5"]


def test_check_refuses_a_series_without_results():
    rows = flat()
    rows.append({"series": "B", "series joint": "butt"})

    assert "Series 'B' has no results: no specimens and no mean." in told(sent(rows), "no-results")


def test_check_takes_a_mean_alone_with_its_spread_in_the_same_unit():
    rows = flat()
    rows.append({"series": "B", "series joint": "butt", "series mean": "40 kg", "series sd": "5", "series n": "8"})

    summary = sent(rows).draft.summaries["B"]

    assert (summary.quantity, summary.mean_typed, summary.sd_typed, summary.n) == ("force", "40 kg", "5 kg", 8)
    assert summary.mean_si == pytest.approx(392.266)
    assert summary.sd_si == pytest.approx(49.03325)


@pytest.mark.parametrize(
    ("more", "code", "severity"),
    [
        ({"series mean": "40 kg", "series sd": "60 kg", "series n": "8"}, "spread-above-mean", "doubt"),
        ({"series mean": "40 kg", "series sd": "5 kg", "series n": "1"}, "spread-of-one", "error"),
        ({"series mean": "40 kg", "series sd": "0 kg"}, "out-of-range", "error"),
        ({"series mean": "40 kg", "series n": "2.5"}, "not-whole", "error"),
    ],
)
def test_check_doubts_or_refuses_an_odd_summary(more, code, severity):
    examination = sent([*flat(), {"series": "B", "series joint": "butt", **more}])

    assert {one.severity for one in examination.noticed if one.code == code} == {severity}


def _with_controls(**controls: str):
    sheets = four_sheets()
    for row in sheets["series"][1:]:
        row[-1] = controls.get(row[0])
    return examine_file(workbook(sheets), "a.xlsx")


def test_check_refuses_controls_that_go_round_in_a_circle():
    message = told(_with_controls(butt="tenon", tenon="butt"), "circular-control")

    assert "Control 'tenon' goes round in a circle: 'butt' → 'tenon' → 'butt'." in message


def test_check_ties_a_control_by_its_label():
    series = _with_controls(tenon="BUTT ").draft.series

    assert series[1].control is series[0]


def test_check_refuses_a_control_on_another_setup():
    sheets = four_sheets()
    sheets["setups"].append(["short arm", "Cantilever arm", "Luggage scale", "kg", 150])
    sheets["series"][0].append("setup")
    sheets["series"][1].append("short arm")
    sheets["series"][2].append("arm")

    message = told(examine_file(workbook(sheets), "a.xlsx"), "control-elsewhere")

    assert "Control 'butt' was tested on setup 'short arm', this series on 'arm'." in message


def test_check_asks_which_setup_when_there_are_two():
    sheets = four_sheets()
    sheets["setups"].append(["short arm", "Cantilever arm", "Luggage scale", "kg", 150])

    message = told(examine_file(workbook(sheets), "a.xlsx"), "missing")

    assert "Setup is blank, and there are 2: 'arm', 'short arm'." in message


def test_check_refuses_two_series_or_setups_of_one_name():
    sheets = four_sheets()
    sheets["series"].append(["Tenon", "mt_blind", None, 20, 40, 30, 30, None])
    sheets["setups"].append(["ARM", "Cantilever arm", "Luggage scale", "kg", 150])

    found = [one.message for one in examine_file(workbook(sheets), "a.xlsx").noticed if one.code == "duplicate-label"]

    assert "Setup 'ARM' is there twice (also in row 2)." in found
    assert "Series 'Tenon' is there twice (also in row 3)." in found


def test_check_refuses_a_specimen_of_an_unknown_series_with_the_nearest():
    sheets = four_sheets()
    sheets["specimens"][1][0] = "but"

    examination = examine_file(workbook(sheets), "a.xlsx")

    assert "Series 'but' is no series of this study. Did you mean 'butt'?" in told(examination, "unknown-series")
    assert where(next(one.place for one in examination.noticed if one.code == "unknown-series")) == (
        "sheet specimens, cell A2"
    )


def test_finding_on_a_series_as_a_whole_stands_at_its_row_and_in_no_cell():
    sheets = four_sheets()
    sheets["specimens"] = [row for row in sheets["specimens"] if row[1] not in ("b2", "b3")]

    noticed = examine_file(workbook(sheets), "tests.xlsx").noticed

    assert [where(one.place) for one in noticed if one.code == "few-specimens"] == ["sheet series, row 2"]


def test_check_wants_to_know_whether_a_shear_test_is_of_a_bond():
    rows = flat(setup_loading="block_shear", series_joint="lap_plain")

    assert "Tests is blank; in shear" in told(sent(rows), "missing")


@pytest.mark.parametrize(
    ("key", "value", "shown"),
    [
        ("setup arm", "12 mm", "Arm '12 mm' is 12.0 mm; 20 to 4000 mm is usual in a workshop."),
        ("setup arm", "300 in", "Arm '300 in' is 7 620 mm; 20 to 4000 mm is usual"),
        ("series member depth", "40 in", "Member depth '40 in' is 1 020 mm; 4 to 400 mm is usual"),
        ("series moisture", "60", "Moisture '60' is 60.0 %"),
    ],
)
def test_check_doubts_a_length_far_from_usual(key, value, shown):
    examination = sent(flat(**{key.replace(" ", "_"): value}))

    assert shown in told(examination, "unusual")
    assert {one.severity for one in examination.noticed if one.code == "unusual"} == {"doubt"}


def test_check_doubts_a_tenon_deeper_than_its_member():
    message = told(sent(flat(series_tenon_depth="60 mm")), "part-larger-than-whole")

    assert "Tenon depth '60 mm' is more than member depth '40 mm'." in message


def test_check_refuses_lengths_that_statics_refuses():
    rows = flat(setup_loading="centre_point_bending", setup_span="400 mm", setup_joint_offset="300 mm")

    assert "Joint offset (300) must be above 0 and at most 200." in told(sent(rows), "geometry")


def test_check_keeps_markup_as_text():
    examination = sent(flat(study_title="<script>alert(1)</script>", series="<b>A</b>"))

    assert examination.draft.study.title == "<script>alert(1)</script>"
    assert examination.draft.series[0].label == "<b>A</b>"


def test_check_does_not_complain_of_readings_when_the_instrument_is_the_fault():
    rows = [{**row, "setup instrument": "jak gauge", "specimen reading": "20 bar"} for row in flat()]

    assert [one.code for one in sent(rows).noticed] == ["unknown-word"]


def test_check_tells_one_wrong_reading_unit_once_and_other_faults_of_readings_too():
    changed = {"setup instrument": "jack_gauge", "setup ram diameter": "25 mm", "setup reading unit": "lbf"}
    rows = [{**row, **changed, "specimen reading": "60"} for row in flat()]
    rows[3]["specimen reading"] = "far"

    assert [one.code for one in sent(rows).noticed] == ["wrong-unit-kind", "not-a-number"]


def test_check_tells_one_wrong_length_unit_once():
    rows = flat(**{"study length unit": "furlong", "setup arm": "300", "series member depth": "40"})

    assert [one.code for one in sent(rows).noticed] == ["unknown-choice"]


def test_check_tells_a_series_name_used_twice_and_nothing_that_follows():
    sheets = four_sheets()
    sheets["series"][2][0] = "Butt"
    for row in sheets["specimens"][5:]:
        row[0], row[1] = "butt", row[1].replace("t", "b")

    examination = examine_file(workbook(sheets), "a.xlsx")

    assert [one.message for one in examination.noticed if one.severity == "error"] == [
        "Series 'Butt' is there twice (also in row 2)."
    ]


def test_check_names_no_decimal_sign_that_nobody_can_say():
    assert told(sent(flat({"specimen reading": "1,250 N"})), "ambiguous-number").endswith("Write 1250 or 1.250.")
