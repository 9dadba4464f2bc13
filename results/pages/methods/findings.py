"""What the checks look for in a study's numbers, and when they speak."""

from __future__ import annotations

import numpy as np

from results.evidence import expect, notice
from stats.footing.units import show
from stats.inference import outliers, slip_factors, slips

from .entry import Method, Part, anchor, by_code, num, numbers, pct
from .series import A

RULE = "rule of this book"
JUDGED = "Bayes' rule; the shares are this book's judgement"
READ = [2210.0, 2480.0, 523.0, 2350.0, 2290.0]


def noticed() -> Part:
    """Every finding about numbers, and the statistics behind the doubts."""
    return Part(
        "findings",
        "What the checks look for",
        "Doubted specimens and series are flagged, never removed: every result is given with and without them. A "
        "remark flags nothing. What is read from a form or a sheet is checked besides, cell by cell, and told there.",
        (*(_finding(code) for code in notice.CODES), *doubts()),
    )


_SAYS = {
    "unit-slip-series": (
        "Series off by a unit",
        "Doubt. All of a series lies off what such joints show elsewhere by the factor between two units, at odds of "
        f"{notice.LEAST_ODDS:g} to 1 or better.",
        f"Before looking {pct(notice.SERIES_SLIP_PRIOR)} of series are taken to hold a slip. What a joint is "
        f"expected to take comes from {expect.FEWEST_SERIES} or more series of {expect.FEWEST_STUDIES} or more other "
        "studies, else from the rest of its study; solid bars are expected to take what the handbook says.",
        lambda: _whole(),
    ),
    "unit-slip": (
        "Reading off by a unit",
        f"Doubt. One reading lies off its series by the factor between two units, at odds of {notice.LEAST_ODDS:g} "
        "to 1 or better.",
        f"Before looking {pct(slips.PRIOR)} of readings are taken to hold a slip, {pct(slips.ODD_SHARE)} to be odd "
        "for a reason of their own. Factors of a force: "
        f"{numbers(sorted({f.value for f in slip_factors.FACTORS['force']}))}.",
        lambda: _slip(),
    ),
    "impossible": (
        "More than the timber takes",
        "Doubt. A joint took more than fewer than one solid member in a thousand of its timber would bear.",
        f"Boards of one timber differ by {pct(notice.WOOD_SD_LOG)} (from memory of the Wood Handbook's table 5-6).",
        lambda: f"Flagged from {num(np.exp(3.0902 * notice.WOOD_SD_LOG))} times the handbook's strength on.",
    ),
    "outlier": (
        "Far from its fellows",
        "Doubt. The generalised extreme Studentized deviate test on logs names it.",
        "",
        lambda: (
            f"At {pct(notice.OUTLIER_ALPHA)} for each series, from {notice.FEWEST_FOR_OUTLIERS} broken specimens on; "
            "at most a fifth of them is looked for."
        ),
    ),
    "footing-missing": (
        "A footing can't be had",
        "Remark. What a series lacks to be compared farther, named.",
        "",
        lambda: "A bent rail without its depth has a moment at the joint, and no stress.",
    ),
    "short-arm": (
        "Short arm",
        "Remark. So short an arm hides what leverage does to the joint.",
        "",
        lambda: f"A rail {show(60, 'mm')} deep on an arm under {show(60 * notice.SHORT_ARM_DEPTHS, 'mm')}.",
    ),
    "fresh-glue": (
        "Fresh glue",
        "Remark. A fresh joint says nothing of what seasons and use do.",
        "",
        lambda: f"Broken less than {show(notice.FRESH_GLUE_HOURS, 'h')} after glue-up.",
    ),
    "no-spread": (
        "A mean without a spread",
        "Remark. Its spread is borrowed from like series, and it carries less weight.",
        "",
        lambda: "A published mean of 6 joints without a standard deviation.",
    ),
    "no-count": (
        "A mean without a count",
        "Remark. It weighs as a single specimen.",
        "",
        lambda: "A published mean of nobody knows how many.",
    ),
    "few-specimens": (
        "Few specimens",
        "Remark. Three are the fewest that show a spread worth the name.",
        "",
        lambda: "A series of one or two.",
    ),
    "no-control": (
        "No control on the rig",
        "Remark. A plain glued butt or a solid bar on the same rig would let others compare whatever the rig reads.",
        "",
        lambda: "Three series on one setup, none of them the others' control.",
    ),
}


def _finding(code: str) -> Method:
    name, says, mind, example = _SAYS[code]
    practice = "common practice" if code in ("short-arm", "fresh-glue", "few-specimens") else RULE
    return Method(
        anchor("check", code),
        name,
        says,
        mind=mind,
        sources=(practice,),
        example=(example(),),
        code="results.evidence.notice.notice",
    )


def _slip() -> str:
    slip = outliers.unit_slips(READ).slips[0]
    return f"{numbers(READ)}: the 3rd {slip.likely} (odds {num(slip.odds)} to 1)."


def _whole() -> str:
    slip = outliers.series_slip(
        float(np.log(52)), 6, float(np.log(240)), expect.LEAST_SPREAD, prior=notice.SERIES_SLIP_PRIOR
    )
    return f"Six joints about 52 where 240 is expected: {slip.likely} (odds {num(slip.odds)} to 1)."


def doubts() -> tuple[Method, ...]:
    """The statistics behind the doubts; `findings` says when they are raised."""
    logs = np.log([*A, 355.0, 342.0, 3600.0])
    test, score = outliers.generalised_esd(logs, 2), outliers.median_score(logs)
    slip = outliers.unit_slips(READ).slips[0]
    whole = outliers.series_slip(float(np.log(52)), 6, float(np.log(240)), 0.25)
    beyond = outliers.impossible([350, 410, 1620], 1477)
    return (
        by_code(
            "doubt-esd",
            "Generalised extreme Studentized deviate test",
            outliers.generalised_esd,
            "Finds several outliers without one hiding another.",
            (
                f"logs of {numbers([*A, 355, 342, 3600], 3)}: R = {numbers(test.statistics)}, critical "
                f"{numbers(test.critical)}: {len(test.indices)} outlier, the {test.indices[0] + 1}th",
            ),
        ),
        by_code(
            "doubt-median-score",
            "Median score",
            outliers.median_score,
            f"A second look that few odd readings can't pull along; {outliers.SCORE_LIMIT:g} is odd.",
            (f"the same: the last scores {num(score.scores[-1])}, the others at most "
             f"{num(np.abs(score.scores[:-1]).max())}",),
        ),
        by_code(
            "doubt-unit-slip",
            "A slip of unit in one reading",
            outliers.unit_slips,
            "A reading that lies off its fellows by the factor between two units.",
            (f"{numbers(READ)}: the 3rd {slip.likely}, times {num(slip.factor)}, odds {num(slip.odds)} to 1",),
            source=JUDGED,
        ),
        by_code(
            "doubt-series-slip",
            "A slip of unit in a whole series",
            outliers.series_slip,
            "All of a series off what such joints are expected to take.",
            (f"six of 52 where 240 is expected: {whole.likely}, odds {num(whole.odds)} to 1",),
            source=JUDGED,
        ),
        by_code(
            "doubt-impossible",
            "Beyond what the timber takes",
            outliers.impossible,
            "A reading above what the solid wood could have borne.",
            (f"350, 410 and 1620 where solid wood takes 1477: the {beyond[0] + 1}rd",),
            source=RULE,
        ),
    )  # fmt: skip
