"""How long meshes last: against lifelines, and by lives that are known."""

from __future__ import annotations

import random
import statistics
import warnings
from collections.abc import Sequence

import pytest
from simulated_figures import table

from tickets.calculator import lifetime
from tickets.calculator.lifetime import Survival, UsesOfMesh, survival
from tickets.calculator.units import CannotBe
from tickets.calculator.verdict import Level

MEDIAN = 26.0
SHAPE = 2.2


def meshes(rng: random.Random, number: int, *, early: float, before: str) -> list[UsesOfMesh]:
    """Meshes that wear ends after 26 uses as often as not (Weibull), if nobody restretches them before: `early` is the
    mean of an exponential for that. Half of them are registered in use: `before` says whether their uses until then are
    "known", "forgotten" (they count from 0: what a shop with no such field has) or "left out". All are looked at after
    another 1 to 60 uses."""
    made: list[UsesOfMesh] = []
    while len(made) < number:
        worn = rng.weibullvariate(MEDIAN / 0.6931 ** (1 / SHAPE), SHAPE)
        taken = rng.expovariate(1 / early) if early else 1e9
        entered = float(rng.randint(1, 30)) if rng.random() < 0.5 else 0.0
        end, looked = round(min(worn, taken)) + 1, entered + rng.randint(1, 60)
        if end <= entered:
            continue  # it ended before anybody registered it
        if entered and before == "left out":
            number -= 1
            continue
        from_, since = (entered, 0.0) if before == "forgotten" else (0.0, entered)
        made.append(UsesOfMesh(min(end, looked) - from_, end <= looked, since, worn <= taken))
    return made


def fitted(lives: Sequence[UsesOfMesh]) -> tuple[object, float, tuple[float, float]]:
    lifelines = pytest.importorskip("lifelines")
    from lifelines.utils import median_survival_times

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = lifelines.KaplanMeierFitter().fit(
            [one.uses for one in lives], [one.ended for one in lives], entry=[one.entered for one in lives]
        )
        low, high = median_survival_times(fit.confidence_interval_).to_numpy()[0]
    return fit, float(fit.median_survival_time_), (float(low), float(high))


@pytest.mark.parametrize("seed", range(8))
def test_lives_seen_from_some_use_on_agree_with_lifelines(seed: int) -> None:
    """The curve, its median and the interval of the median, with `entry`."""
    lives = meshes(random.Random(seed), 60, early=60, before="known")
    found = survival(lives)
    fit, median, interval = fitted(lives)
    assert any(one.entered for one in lives)
    for row in found.rows:
        assert row.survival == pytest.approx(float(fit.predict(row.uses)), abs=1e-9)  # type: ignore[attr-defined]
    assert (found.median, (found.median_low, found.median_high)) == (median, interval)


@pytest.mark.parametrize("seed", range(4))
def test_two_ends_agree_with_the_aalen_johansen_estimate_of_lifelines(seed: int) -> None:
    lifelines = pytest.importorskip("lifelines")
    lives = [one for one in meshes(random.Random(seed), 80, early=50, before="left out") if not one.entered]
    lives = [UsesOfMesh(one.uses + place / 1e6, one.ended, 0.0, one.worn) for place, one in enumerate(lives)]  # no ties
    codes = [0 if not one.ended else 1 if one.worn else 2 for one in lives]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = lifelines.AalenJohansenFitter(calculate_variance=False).fit([one.uses for one in lives], codes, 1)
    said = survival(lives)
    for row in said.rows:
        assert row.worn == pytest.approx(float(fit.cumulative_density_.loc[row.uses].iloc[0]), abs=1e-9)
    last = said.rows[-1]
    assert 0 < last.worn < 1 - last.survival  # some of the others were restretched in good time


def test_a_mesh_seen_late_is_at_risk_only_from_then_on() -> None:
    """Three meshes: one ended at 10, one at 20, one seen from 15 on and ended at 30. At 10 two were at risk."""
    rows = survival([UsesOfMesh(10, True), UsesOfMesh(20, True), UsesOfMesh(30, True, 15)]).rows
    assert [(row.at_risk, row.survival) for row in rows] == [(2, 0.5), (2, 0.25), (1, 0.0)]
    with pytest.raises(CannotBe):
        survival([UsesOfMesh(5, True, 6)])


def judged(lives: Sequence[UsesOfMesh], uses: float) -> tuple[Level, str]:
    (reason,) = lifetime.judge_life(survival(lives), uses, further=5, least_chance=0.8)
    return reason.level, reason.key


def test_the_verdict_goes_by_the_interval_of_the_chance() -> None:
    """Of meshes that all end between 20 and 29: at 22 it is sure that fewer than 80 % last another five, at 2 that more
    do. Of six meshes nobody can say so of 20."""
    many = [UsesOfMesh(20 + number % 10, True) for number in range(60)]
    assert judged(many, 22) == (Level.CAUTION, "life-near-end")
    assert judged(many, 2) == (Level.OK, "life-long")
    few = [UsesOfMesh(uses, True) for uses in (10, 18, 24, 30, 36, 40)]
    assert judged(few, 20) == (Level.UNKNOWN, "life-open")
    assert judged(few, 40 - 1) == (Level.UNKNOWN, "life-open")  # its median may be 40
    assert judged(many[:10], 27) == (Level.CAUTION, "life-past-half")
    assert lifetime.sure_of_next(survival(few), 20, 2) == (0.25, 1.0)  # none of four ended: fewer than three in four
    assert lifetime.sure_of_next(survival(many), 28.5, 5) == (0.0, 0.5)  # all of six did


def bias_and_coverage(
    rng: random.Random, number: int, early: float, before: str, truth: float
) -> tuple[float, float, float]:
    """The median of the medians, and how often the interval holds the truth; and how often nothing is said."""
    medians, inside, silent = [], 0, 0
    runs = 80
    for _ in range(runs):
        found: Survival = survival(meshes(rng, number, early=early, before=before))
        if found.ended < lifetime.LEAST_ENDED or found.median is None or found.median_low is None:
            silent += 1
            continue
        medians.append(found.median)
        inside += found.median_low <= truth <= (found.median_high or 1e9)
    return statistics.median(medians), inside / max(1, runs - silent), silent / runs


def true_median(early: float) -> float:
    rng = random.Random(99)
    worn = (rng.weibullvariate(MEDIAN / 0.6931 ** (1 / SHAPE), SHAPE) for _ in range(40_000))
    return statistics.median(round(min(one, rng.expovariate(1 / early) if early else 1e9)) + 1 for one in worn)


def test_meshes_of_known_lives_in_small() -> None:
    median, inside, _silent = bias_and_coverage(random.Random(3), 120, 0, "known", true_median(0))
    assert abs(median - true_median(0)) <= 2 and inside >= 0.85


@pytest.mark.slow
def test_meshes_of_known_lives() -> None:
    """Medians and their intervals of shops with so many meshes, where nobody restretches in good time, and where as
    many do as wear out. What counts from 0 though it was in use reads too low: that is why its uses are asked for."""
    rows = []
    for early in (0.0, 40.0):
        truth = true_median(early)
        for before in ("known", "left out", "forgotten"):
            for number in (20, 60, 200):
                found = bias_and_coverage(random.Random(number), number, early, before, truth)
                rows.append((early, before, number, truth, *found))
    head = ("restretched", "uses before", "meshes", "true median", "median said", "inside", "says nothing")
    table("How long meshes last, of known lives", head, rows)
    honest = [row for row in rows if row[1] != "forgotten"]
    assert all(abs(row[4] - row[3]) <= 3 and row[5] >= 0.9 for row in honest if row[2] >= 60)
    assert all(row[4] < row[3] and row[5] < 0.75 for row in rows if row[1] == "forgotten" and row[2] == 200)
