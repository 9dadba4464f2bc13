"""How often the intervals hold the truth, over simulated books.

Run: python -m tests.bench.coverage [books]

A book has 3 to 40 studies with series of 3 to 10 specimens, a CV of 10 to 25 % that differs between series, and a
between-study sd of 0 to 0.3 on logs; the variances are estimated from the specimens, as in life, and given either as
they are (own) or drawn in by `network.steady_variance` (steadied), which is how the book gives them. Half of the books
have ten studies or fewer. The seed is fixed. Ends with status 1 if the coverage of 95 % intervals by what the book does
lies outside 93.5 to 96.5 %.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import pandas as pd

from stats.inference import network, pool

LOWEST, HIGHEST = 93.5, 96.5
TAUS = (0.0, 0.1, 0.2, 0.3)


@dataclass
class Tally:
    """Hits by method and stratum."""

    hits: dict[tuple[str, str], list[bool]]

    def add(self, method: str, strata: tuple[str, ...], hit: bool) -> None:
        """Count one interval in all its strata."""
        for stratum in ("all", *strata):
            self.hits[method, stratum].append(hit)

    def show(self, title: str) -> None:
        """Print coverage [%] by stratum."""
        strata = sorted({s for _, s in self.hits})
        methods = list(dict.fromkeys(m for m, _ in self.hits))
        print(f"\n{title}, coverage of 95 % intervals [%]")
        print(f"{'':44}" + "".join(f"{s:>10}" for s in strata))
        print(f"{'books':44}" + "".join(f"{len(self.hits[methods[0], s]):>10}" for s in strata))
        for m in methods:
            print(f"{m:44}" + "".join(f"{100 * np.mean(self.hits[m, s]):>10.1f}" for s in strata))

    def share(self, method: str) -> float:
        """Give overall coverage [%]."""
        return 100 * float(np.mean(self.hits[method, "all"]))


def studies_drawn(rng: np.random.Generator) -> int:
    """Draw a number of studies, half of the time no more than ten."""
    return int(rng.integers(3, 11 if rng.random() < 0.5 else 41))


def size(k: int) -> str:
    """Name the stratum of a number of studies."""
    return "k 3-5" if k < 6 else "k 6-10" if k < 11 else "k 11-40"


def series_drawn(rng: np.random.Generator, count: int) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Draw specimens, errors of the means and estimated variances of the means, own and steadied, for some series."""
    n = rng.integers(3, 11, count)
    cv = np.clip(rng.uniform(0.10, 0.25) * np.exp(rng.normal(0, 0.25, count)), 0.08, 0.30)
    sd = np.sqrt(np.log1p(cv**2))
    v = sd**2 * rng.chisquare(n - 1) / (n - 1) / n
    frame = pd.DataFrame({"study": 0, "joint": 0, "v": v, "n": n})
    return rng.normal(0, sd / np.sqrt(n)), {"steadied": network.steady_variance(frame)["v"].to_numpy(), "own": v}


def pooled_books(books: int) -> Tally:
    """Pool one ratio in many books."""
    rng, tally, truth = np.random.default_rng(20240611), Tally(defaultdict(list)), 0.2
    for _ in range(books):
        k, tau = studies_drawn(rng), float(rng.choice(TAUS))
        errors, variances = series_drawn(rng, 2 * k)
        y = truth + rng.normal(0, tau, k) + errors[:k] - errors[k:]
        further = truth + rng.normal(0, tau)
        strata = (size(k), f"tau {tau}")
        for kind, v in variances.items():
            for name, knapp_hartung in (("Knapp-Hartung", True), ("ad hoc", "adhoc"), ("normal", False)):
                default = " *" if knapp_hartung is True and kind == "steadied" else ""
                found = pool.random_effects(y, v[:k] + v[k:], knapp_hartung=knapp_hartung)
                tally.add(f"{kind}: mean, {name}{default}", strata, truth in found.interval)
                tally.add(f"{kind}: prediction, {name}, t k-2{default}", strata, further in found.prediction)
            same = pool.random_effects(y, v[:k] + v[k:], prediction="same")
            tally.add(f"{kind}: prediction, Knapp-Hartung, t k-1", strata, further in same.prediction)
    return tally


def network_books(books: int) -> Tally:
    """Fit the network of 3 to 8 joints in many books, and look at one pair of each."""
    rng, tally = np.random.default_rng(20240612), Tally(defaultdict(list))
    done = 0
    while done < books:
        k, joints, tau = studies_drawn(rng), int(rng.integers(3, 9)), float(rng.choice(TAUS))
        truth = np.r_[0.0, rng.normal(0, 0.3, joints - 1)]
        often = np.r_[0.35, np.full(joints - 1, 0.65 / (joints - 1))]  # the first joint is the usual control
        held = np.minimum(rng.choice([2, 3, 4], k, p=[0.5, 0.3, 0.2]), joints)
        study = np.repeat(np.arange(k), held)
        joint = np.concatenate([rng.choice(joints, h, replace=False, p=often) for h in held])
        errors, variances = series_drawn(rng, len(study))
        y = rng.normal(7.5, 1, k)[study] + truth[joint] + rng.normal(0, tau / np.sqrt(2), len(study)) + errors
        arms = pd.DataFrame({"study": study, "joint": joint, "y": y})
        fits = {
            (kind, name): network.fit(arms.assign(v=v), joint[0], knapp_hartung=name == "Knapp-Hartung")
            for kind, v in variances.items()
            for name in ("Knapp-Hartung", "normal")
        }
        found = fits["own", "normal"]
        if found.tau2 is None:  # each comparison rests on one study; the network says so
            continue
        done += 1
        a, b = rng.choice(np.array(found.components[0]), 2, replace=False)
        further = truth[a] - truth[b] + rng.normal(0, tau)
        strata = (size(k), f"tau {tau}", "df 1-2" if found.df < 3 else "df 3-9" if found.df < 10 else "df 10-")
        for (kind, name), fitted in fits.items():
            default = " *" if (kind, name) == ("steadied", "Knapp-Hartung") else ""
            relative = fitted.relative(a, b)
            tally.add(f"{kind}: relative, {name}{default}", strata, truth[a] - truth[b] in relative.interval)
            tally.add(f"{kind}: prediction, {name}{default}", strata, further in relative.prediction)
    return tally


def main(books: int) -> int:
    """Run both and judge the defaults."""
    error = 100 * np.sqrt(0.95 * 0.05 / books)
    print(
        f"{books} books each; * is what the book does; the simulation's own standard error is {error:.2f} points "
        "over all"
    )
    status = 0
    for title, run in (("Pool", pooled_books), ("Network", network_books)):
        tally = run(books)
        tally.show(title)
        for method in [m for m, s in tally.hits if s == "all" and m.endswith("*")]:
            if not LOWEST <= tally.share(method) <= HIGHEST:
                print(f"OUTSIDE {LOWEST} to {HIGHEST}: {title}, {method}: {tally.share(method):.1f}")
                status = 1
    return status


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000))
