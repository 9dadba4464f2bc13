"""Joints side by side: from series to one line a joint, and every joint as a ratio to one of them.

Everything runs on natural logarithms and comes back as geometric means and ratios. Studies, not specimens, are
what is counted as independent: specimens of one shop share its rig, its boards and its hands.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from stats.errors import StatsError
from stats.inference import censored, network, pool, tolerance
from stats.inference.batches import basis_between_batches
from stats.interval import Interval

SAME, THROUGH, APART = "same study", "through other studies", "no study in common"
"""How two joints meet: in one study; by a chain of studies; only by being on the same footing."""
ONE_STUDY = "One study: it can't say what another shop would find."


def series_estimates(series: pd.DataFrame, specimens: pd.DataFrame, *, level: float = 0.95) -> pd.DataFrame:
    """Centre and variance of each series, with run-outs counted as run-outs and missing spreads borrowed.

    Parameters
    ----------
    series : DataFrame
        ``series_id``, ``study_id``, ``joint``, ``family``, ``n`` (broken specimens, NaN where a published mean
        gives no count), ``held``, ``mean_log``, ``sd_log`` (NaN where unknown).
    specimens : DataFrame
        ``series_id``, ``value``, ``outcome``, of at least the series that have held specimens.
    level : float, optional
        Level of the interval.

    Returns
    -------
    DataFrame
        The series that can be used, with ``y`` and ``v`` (mean log and its variance [-]), ``v_steady`` (that
        variance drawn towards those of all series, for pooling), ``geometric_mean``, ``low``, ``high``,
        ``imputed`` (bool: spread borrowed), ``n_assumed`` (bool: count not stated).

    Notes
    -----
    A series with held specimens takes its mean and variance from the right-censored lognormal fit; where that
    can't be had (fewer than two broke) the series is left out, since it only says "at least this much".
    A missing spread is the pooled one of like series (same joint, then same family, then all) over n; a count
    that isn't stated is taken as one specimen, so that such a series weighs least.
    """
    frame = series.copy()
    frame["y"], frame["v"] = frame["mean_log"], frame["sd_log"] ** 2 / frame["n"]
    by_series = dict(tuple(specimens.groupby("series_id"))) if (frame["held"] > 0).any() else {}
    for row in frame.index[frame["held"] > 0]:
        own = by_series.get(frame.at[row, "series_id"])
        frame.at[row, "y"] = frame.at[row, "v"] = np.nan
        if own is None:
            continue
        try:
            fit = censored.fit_lognormal(own["value"].to_numpy(float), (own["outcome"] == "broke").to_numpy())
        except StatsError:
            continue
        frame.at[row, "y"], frame.at[row, "v"] = fit.mean_log, float(fit.covariance[0, 0])
    frame = frame[frame["y"].notna()]
    if frame.empty:
        return frame.assign(geometric_mean=np.nan, low=np.nan, high=np.nan, imputed=False, n_assumed=False).astype(
            {"imputed": bool, "n_assumed": bool}
        )
    frame["n_assumed"] = frame["n"].isna()
    frame = _borrow_spread(frame)
    own_n = frame["n"].where(~frame["imputed"])
    steadied = network.steady_variance(frame[["joint", "v"]].assign(study=frame["study_id"], n=own_n))
    frame["v_steady"] = steadied["v"].to_numpy()
    reach = np.where(
        frame["imputed"] | ~(frame["n"] > 1),
        stats.norm.ppf(0.5 + level / 2),
        stats.t.ppf(0.5 + level / 2, np.maximum(frame["n"] - 1, 1)),
    ) * np.sqrt(frame["v"])
    frame["geometric_mean"] = np.exp(frame["y"])
    frame["low"], frame["high"] = np.exp(frame["y"] - reach), np.exp(frame["y"] + reach)
    return frame


# With no spread anywhere in the choice, this one stands in: the upper end of what joint tests usually show
# (coefficient of variation 10-25 %, common practice).
LAST_RESORT_SD_LOG = 0.25


def _borrow_spread(frame: pd.DataFrame) -> pd.DataFrame:
    frame["v"] = frame["v"].where(frame["v"] > 0)
    like = ("family", "joint") if "family" in frame else ("joint",)
    try:
        filled = network.impute_variance(frame.assign(study=frame["study_id"]), like)
        return frame.assign(**{name: filled[name].to_numpy() for name in ("v", "imputed", "imputed_from")})
    except network.BadArms:
        lacking = frame["v"].isna()
        stand_in = LAST_RESORT_SD_LOG**2 / frame["n"].fillna(1.0)
        return frame.assign(v=frame["v"].fillna(stand_in), imputed=lacking, imputed_from="")


FEWEST_TO_PREDICT = 3


def study_means(series: pd.DataFrame, variance: str = "v_steady") -> pd.DataFrame:
    """One mean for each joint of each study.

    Parameters
    ----------
    series : DataFrame
        As `series_estimates` returns.
    variance : str, optional
        Which variances to go by: ``v_steady`` for pooling studies, ``v`` within one study.

    Returns
    -------
    DataFrame
        ``study_id``, ``joint``, ``y``, ``v``, ``k`` (series), ``df`` (specimens less series).

    Notes
    -----
    Weights are the inverse variances. Where a study holds several series of a joint and they differ by more
    than their own spread explains, the variance is that between the series' means instead.
    """
    w = 1.0 / series[variance]
    df = np.maximum(series["n"].fillna(1.0) - 1.0, 0.0)
    columns = {"study_id": series["study_id"], "joint": series["joint"], "y1": series["y"], "w": w}
    cells = pd.DataFrame({**columns, "wy": w * series["y"], "df": df}).groupby(["study_id", "joint"])
    total = cells[["w", "wy", "df"]].sum()
    spread = cells["y1"].agg(["size", "var"])
    apart = (spread["var"] / spread["size"]).fillna(0.0)
    return pd.DataFrame(
        {
            "y": total["wy"] / total["w"],
            "v": np.maximum(1.0 / total["w"], apart),
            "k": spread["size"],
            "df": total["df"],
        }
    ).reset_index()


def groups(series: pd.DataFrame, specimens: pd.DataFrame, *, level: float = 0.95) -> pd.DataFrame:
    """One line a joint: how much, how sure, how many.

    Parameters
    ----------
    series : DataFrame
        As `series_estimates` returns, with ``joint_name``, ``flagged`` (specimens doubted).
    specimens : DataFrame
        ``series_id``, ``value``, ``outcome``.
    level : float, optional

    Returns
    -------
    DataFrame
        ``joint``, ``joint_name``, ``studies``, ``series``, ``specimens``, ``held``, ``flagged``,
        ``geometric_mean``, ``low``, ``high`` (random-effects mean over studies), ``prediction_low``,
        ``prediction_high`` (NaN below three studies), ``between_sd`` (of logs, NaN for one study), ``cv_pct`` (within
        series), ``limit_5pct`` (5th percentile at 75 % confidence), ``note``; strongest first.
    """
    means, own_means = study_means(series), study_means(series, "v")
    joint_of = series.set_index("series_id")["joint"]
    study_of = series.set_index("series_id")["study_id"]
    told = specimens[specimens["series_id"].isin(joint_of.index)]
    told = told.assign(joint=told["series_id"].map(joint_of), study_id=told["series_id"].map(study_of))
    single = dict(tuple(told.groupby("joint")))
    rows = []
    for joint, part in series.groupby("joint", sort=False):
        own = means[means["joint"] == joint]
        pooled = _pooled(own if len(own) > 1 else own_means[own_means["joint"] == joint], level)
        rows.append(
            {
                "joint": joint,
                "joint_name": part["joint_name"].iloc[0],
                "studies": len(own),
                "series": len(part),
                "specimens": int(part["n"].fillna(0).sum() + part["held"].sum()),
                "held": int(part["held"].sum()),
                "flagged": int(part["flagged"].sum()),
                **pooled,
                "cv_pct": _within_cv(part),
                **_limit(single.get(joint)),
            }
        )
    frame = pd.DataFrame(rows)
    frame["note"] = [_note(row) for row in rows]
    return frame.sort_values("geometric_mean", ascending=False, ignore_index=True)


def _pooled(own: pd.DataFrame, level: float) -> dict[str, float]:
    fit = pool.random_effects(own["y"], own["v"], level=level)
    low, high = fit.interval.low, fit.interval.high
    if fit.k == 1 and own["df"].iloc[0] >= 1:
        reach = float(stats.t.ppf(0.5 + level / 2, own["df"].iloc[0])) * fit.se
        low, high = fit.estimate - reach, fit.estimate + reach
    # From two studies a prediction interval spans everything and says nothing.
    ahead = fit.prediction if fit.k >= FEWEST_TO_PREDICT else None
    return {
        "geometric_mean": float(np.exp(fit.estimate)),
        "low": float(np.exp(low)),
        "high": float(np.exp(high)),
        "prediction_low": float(np.exp(ahead.low)) if ahead else np.nan,
        "prediction_high": float(np.exp(ahead.high)) if ahead else np.nan,
        "between_sd": float(np.sqrt(fit.tau2)) if fit.tau2 is not None else np.nan,
    }


def _within_cv(part: pd.DataFrame) -> float:
    """Coefficient of variation within series [%], from the series that have a spread of their own."""
    own = part[(part["n"] > 1) & part["sd_log"].notna()]
    if own.empty:
        return np.nan
    df = own["n"] - 1
    s2 = float((df * own["sd_log"] ** 2).sum() / df.sum())
    return 100.0 * float(np.sqrt(np.expm1(s2)))


def _limit(told: pd.DataFrame | None) -> dict[str, float]:
    """The 5th percentile at 75 % confidence; studies are batches where there are several.

    Over several studies held specimens are taken at the most they held, which errs on the safe side.
    """
    if told is None or len(told) < 3:
        return {"limit_5pct": np.nan}
    values, batch = told["value"].to_numpy(float), told["study_id"].to_numpy()
    try:
        if len(np.unique(batch)) > 1:
            return {"limit_5pct": basis_between_batches(values, batch, 0.95, 0.75).value}
        broke = (told["outcome"] == "broke").to_numpy()
        return {"limit_5pct": tolerance.lower_limit(values, 0.95, 0.75, broke=broke).value}
    except StatsError:
        return {"limit_5pct": np.nan}


def _note(row: dict[str, Any]) -> str:
    if row["studies"] == 1:
        return ONE_STUDY
    if row["specimens"] < 5:
        return "Fewer than five specimens."
    return ""


def ratios(series: pd.DataFrame, reference: str, *, level: float = 0.95, across: bool = True) -> pd.DataFrame:
    """Every joint as a ratio to one of them.

    Parameters
    ----------
    series : DataFrame
        As `series_estimates` returns, with ``joint_name``.
    reference : str
        The joint that the others are measured against.
    level : float, optional
    across : bool, optional
        Whether joints that no chain of studies links may be set against each other because they stand on a
        footing that holds across rigs; their ratio is then that of the two means over studies.

    Returns
    -------
    DataFrame
        ``joint``, ``joint_name``, ``reference``, ``reference_name``, ``ratio``, ``low``, ``high``,
        ``prediction_low``, ``prediction_high`` (NaN where one study can't tell), ``studies`` (holding both),
        ``basis``, ``note``; strongest first, the reference left out.

    Notes
    -----
    Within studies first: study effects are fixed, so that a rig that reads high reads high for both joints
    and leaves the ratio alone [1]_. With one such study, Welch's interval on the logs.

    References
    ----------
    .. [1] Rücker G. and Schwarzer G., Network meta-analysis by graph-theoretical methods (2014), for the model;
       here fitted by restricted maximum likelihood.
    """
    names = series.drop_duplicates("joint").set_index("joint")["joint_name"].to_dict()
    if reference not in names:
        raise StatsError(f"reference {reference!r} is not among the joints shown: {', '.join(sorted(names))}.")
    means = study_means(series)
    within = study_means(series, "v")
    fitted = _network(series, reference, level)
    rows = []
    for joint in (j for j in names if j != reference):
        found = _linked(fitted, joint, reference, within, level) or (
            _apart(means, joint, reference, level) if across else None
        )
        if found is None:
            found = {
                **dict.fromkeys(("ratio", "low", "high", "prediction_low", "prediction_high"), np.nan),
                "studies": 0,
                "basis": APART,
                "note": "No chain of studies links the two, and this footing doesn't hold across rigs.",
            }
        rows.append(
            {"joint": joint, "joint_name": names[joint], "reference": reference,
             "reference_name": names[reference], **found}
        )  # fmt: skip
    columns = ["joint", "joint_name", "reference", "reference_name", "ratio", "low", "high", "prediction_low",
               "prediction_high", "studies", "basis", "note"]  # fmt: skip
    return pd.DataFrame(rows, columns=columns).sort_values("ratio", ascending=False, ignore_index=True)


def _network(series: pd.DataFrame, reference: str, level: float) -> network.Network | None:
    arms = series[["study_id", "joint", "y", "v_steady"]].rename(columns={"study_id": "study", "v_steady": "v"})
    try:
        return network.fit(arms, reference, level=level)
    except StatsError:  # fewer than two studies compare, or the reference stands alone
        return None


def _linked(
    fitted: network.Network | None, joint: str, reference: str, means: pd.DataFrame, level: float
) -> dict[str, object] | None:
    a, b = (means[means["joint"] == code].set_index("study_id") for code in (joint, reference))
    both = a.index.intersection(b.index)
    if fitted is not None and joint in fitted.joints:
        try:
            found = fitted.relative(joint, reference)
        except network.NotCompared:
            return None
        # What only one shop ever made can't tell how shops differ in making it.
        once = len(a) == 1 or len(b) == 1
        note = "Only one study tested one of the two: it can't say what another shop would find." if once else ""
        ahead = None if once else found.prediction
        return _row(found.estimate, found.interval, ahead, len(both), SAME if len(both) else THROUGH, note)
    if not len(both):
        return None
    # One study holds both: its own contrast, with the freedom of its own specimens.
    a, b = a.loc[both].iloc[0], b.loc[both].iloc[0]
    return _row(a["y"] - b["y"], _welch(a, b, level), None, 1, SAME, ONE_STUDY)


def _welch(a: pd.Series, b: pd.Series, level: float) -> Interval:
    v = a["v"] + b["v"]
    parts = [part["v"] ** 2 / part["df"] for part in (a, b) if part["df"] > 0]
    df = v**2 / sum(parts) if parts else np.inf
    reach = float(stats.t.ppf(0.5 + level / 2, df)) * float(np.sqrt(v))
    return Interval(a["y"] - b["y"] - reach, a["y"] - b["y"] + reach, level)


def _apart(means: pd.DataFrame, joint: str, reference: str, level: float) -> dict[str, object]:
    fits = [
        pool.random_effects(own["y"], own["v"], level=level)
        for own in (means[means["joint"] == joint], means[means["joint"] == reference])
    ]
    difference = fits[0].estimate - fits[1].estimate
    a, b = ((fit.interval.high - fit.interval.low) / 2 for fit in fits)
    reach = float(np.hypot(a, b))
    ends = Interval(difference - reach, difference + reach, level)
    note = "From different studies: the shops' rigs and hands are in this ratio too."
    return _row(difference, ends, None, 0, APART, note)


def _row(
    estimate: float, ends: Interval, ahead: Interval | None, studies: int, basis: str, note: str
) -> dict[str, object]:
    return {
        "ratio": float(np.exp(estimate)),
        "low": float(np.exp(ends.low)),
        "high": float(np.exp(ends.high)),
        "prediction_low": float(np.exp(ahead.low)) if ahead else np.nan,
        "prediction_high": float(np.exp(ahead.high)) if ahead else np.nan,
        "studies": studies,
        "basis": basis,
        "note": note,
    }
