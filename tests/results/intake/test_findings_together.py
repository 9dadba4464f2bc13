"""What is the same of several series is said once, and of all of them."""

from __future__ import annotations

from results.intake.findings import Noticed, Place, together, without_series

ARM, CURE = Place("setup-arm", 0), Place("shared-cure", 0)


def short_arm(series: str, place: Place | None = ARM, depth: str = "40.0 mm", **more: str) -> Noticed:
    message = f"Series {series}: the arm (50.0 mm) is under twice the member's depth ({depth})."
    return Noticed("short-arm", "remark", message, "Test again.", "series", series, place=place, **more)


def said(noticed: list[Noticed]) -> list[str]:
    return [one.message.partition(": ")[0] for one in together(noticed)]


def test_one_sentence_names_all_that_it_is_the_same_of():
    assert said([short_arm("Butt")]) == ["Series Butt"]
    (one,) = together([short_arm("Butt"), short_arm("Tenon")])
    assert one.message == "Series Butt and Tenon: the arm (50.0 mm) is under twice the member's depth (40.0 mm)."
    assert (one.code, one.place, one.series, one.names_series) == ("short-arm", ARM, "", False)
    assert said([short_arm(name) for name in "ABCD"]) == ["Series A, B, C and D"]
    assert said([short_arm(name) for name in "ABCDE"]) == ["Series A, B, C and 2 more"]


def test_what_differs_stays_apart_and_in_its_order():
    noticed = [
        short_arm("Butt"),
        short_arm("Dowel", depth="60.0 mm"),
        short_arm("Tenon"),
        short_arm("Lap", place=CURE),
        Noticed("other", "doubt", "Specimen B1 is far off.", series="Butt", specimen="B1"),
        Noticed("other", "doubt", "Specimen B1 is far off.", series="Tenon", specimen="B1"),
        Noticed("question-missing", "error", "Question must be given."),
    ]

    assert said(noticed) == [
        "Series Butt and Tenon",
        "Series Dowel",
        "Series Lap",
        "Specimen B1 is far off.",
        "Specimen B1 is far off.",
        "Question must be given.",
    ]


def test_a_series_of_that_name_alone_is_left_out_of_the_sentence():
    assert without_series("Series A: the arm is short.", "A") == "The arm is short."
    assert without_series("Series AB: the arm is short.", "A") == "Series AB: the arm is short."
    assert without_series("No series says.", "A") == "No series says."
