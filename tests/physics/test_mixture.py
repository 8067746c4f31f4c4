"""A belief as a mixture of Gaussians: what readings, moves and forgetting may do to it, and what not."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.mixture import NINETY, Floats, Mixture, Seen, normal_cdf, shares

calm = settings(deadline=None, max_examples=60)
seeds = st.integers(0, 2**32)


def a_mixture(seed: int, most: int = 4, size: int = 3) -> Mixture:
    """Anything: some explanations, unknowns that lean on one another, one mark."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, most + 1))
    roots = rng.normal(0, 1, (count, size, size)) * rng.uniform(0.05, 1.5, (count, 1, 1))
    covs = roots @ roots.transpose(0, 2, 1) + 1e-4 * np.eye(size)
    weights = rng.dirichlet(np.ones(count))
    return Mixture(weights, rng.normal(0, 2, (count, size)), covs, rng.normal(0, 1, (count, 1)))


def a_row(seed: int, size: int = 3) -> Floats:
    return np.random.default_rng(seed + 1).normal(0, 1, size)


ranges = st.one_of(
    st.tuples(st.floats(-5, 5), st.floats(0.01, 3)).map(lambda p: (p[0], p[0] + p[1])),
    st.floats(-5, 5).map(lambda edge: (-inf, edge)),
    st.floats(-5, 5).map(lambda edge: (edge, inf)),
)
readings = st.one_of(
    st.builds(lambda r, s: Seen(r[0], r[1], s), ranges, st.floats(0.005, 1)),
    st.builds(lambda v, s, w: Seen(v, v, s, w), st.floats(-5, 5), st.floats(0.005, 1), st.floats(0, 0.5)),
)


def assert_sound(mixture: Mixture) -> None:
    assert mixture.weights.sum() == pytest.approx(1.0)
    assert np.all(mixture.weights >= 0)
    assert np.all(np.isfinite(mixture.means))
    for cov in mixture.covs:
        assert cov == pytest.approx(cov.T, abs=1e-9)
        assert np.linalg.eigvalsh(cov).min() > -1e-9 * max(1.0, np.trace(cov))


@calm
@given(seed=seeds, seen=st.lists(readings, min_size=1, max_size=6), slip=st.sampled_from([0.0, 0.015, 0.3]))
def test_whatever_is_read_leaves_a_belief(seed: int, seen: list[Seen], slip: float) -> None:
    mixture = a_mixture(seed)
    for number, one in enumerate(seen):
        mixture, slipped = mixture.observed(a_row(seed + number), one, slip, 0.05)
        assert -1e-9 <= slipped <= 1 + 1e-9
        assert_sound(mixture)


@calm
@given(seed=seeds, sigma=st.floats(0.01, 2), half=st.floats(0.01, 3), slip=st.sampled_from([0.0, 0.015]))
def test_a_reading_about_the_mean_never_widens(seed: int, sigma: float, half: float, slip: float) -> None:
    mixture, row = a_mixture(seed, most=1), a_row(seed)
    mean, sd = mixture.moments(row)
    for seen in (Seen(mean, mean, sigma), Seen(mean - half, mean + half, sigma)):
        after, _ = mixture.observed(row, seen, slip, 0.05)
        then, narrower = after.moments(row)
        assert then == pytest.approx(mean, abs=1e-7)
        assert narrower <= sd + 1e-9
        # Nor does it widen anything else.
        assert np.all(np.diag(after.covs[0]) <= np.diag(mixture.covs[0]) + 1e-9)


@calm
@given(seed=seeds, sigma=st.floats(0, 1))
def test_a_reading_that_rules_nothing_out_teaches_nothing(seed: int, sigma: float) -> None:
    mixture = a_mixture(seed)
    after, slipped = mixture.observed(a_row(seed), Seen(-inf, inf, sigma), 0.0, 0.0)
    assert slipped == 0.0
    assert after.weights == pytest.approx(mixture.weights)
    assert after.means == pytest.approx(mixture.means, abs=1e-6)
    assert after.covs == pytest.approx(mixture.covs, abs=1e-6)


@calm
@given(seed=seeds, edges=st.lists(st.floats(-4, 4), min_size=1, max_size=5), sigma=st.floats(0.001, 1))
def test_all_that_might_be_read_says_nothing_new(seed: int, edges: list[float], sigma: float) -> None:
    """The mean, and the spread, over every answer that a card may give are those beforehand."""
    mixture, row = a_mixture(seed, most=1), a_row(seed)
    mean, sd = mixture.moments(row)
    blurred = np.sqrt(sd**2 + sigma**2)
    ends = [-inf, *sorted(edges), inf]
    chances, means, squares = [], [], []
    for low, high in zip(ends, ends[1:], strict=False):
        below, above = normal_cdf((np.array([low, high]) - mean) / blurred)
        if above - below < 1e-6:
            continue
        then, width = mixture.observed(row, Seen(low, high, sigma), 0.0, 0.0)[0].moments(row)
        chances.append(above - below)
        means.append(then)
        squares.append(width**2 + then**2)
    assert sum(chances) == pytest.approx(1.0, abs=1e-5)
    assert np.dot(chances, means) == pytest.approx(mean, abs=1e-4)
    assert np.dot(chances, squares) == pytest.approx(sd**2 + mean**2, abs=1e-3)


@calm
@given(seed=seeds, seen=readings)
def test_a_mirrored_reading_gives_the_mirrored_belief(seed: int, seen: Seen) -> None:
    mixture, row = a_mixture(seed, most=1), a_row(seed)
    turned = Mixture(mixture.weights, -mixture.means, mixture.covs, mixture.marks)
    one, _ = mixture.observed(row, seen, 0.015, 0.05)
    other, _ = turned.observed(row, seen.scaled(-1), 0.015, 0.05)
    assert other.means == pytest.approx(-one.means, abs=1e-6)
    assert other.covs == pytest.approx(one.covs, abs=1e-6)


@calm
@given(seed=seeds, seen=readings, factor=st.sampled_from([-3.0, -0.4, 0.5, 2.0]))
def test_the_same_reading_said_of_something_larger_is_the_same(seed: int, seen: Seen, factor: float) -> None:
    mixture, row = a_mixture(seed), a_row(seed)
    one, _ = mixture.observed(row, seen, 0.0, 0.0)
    other, _ = mixture.observed(row * factor, seen.scaled(factor), 0.0, 0.0)
    assert other.means == pytest.approx(one.means, abs=1e-6)
    assert other.weights == pytest.approx(one.weights, abs=1e-6)


def test_a_range_far_out_leaves_numbers_that_are_numbers() -> None:
    mixture = Mixture.single(np.array([0.0, 1.0]), np.array([0.1, 0.1]))
    row = mixture.unit(0)
    for seen in (Seen(90, 91, 0.01), Seen(-inf, -90, 0.01), Seen(500, 500, 0.01)):
        after, _ = mixture.observed(row, seen, 0.0, 0.0)
        assert_sound(after)
        low, high = sorted((0.0, float(np.clip(0.0, seen.low, seen.high))))
        assert low - 1e-6 <= after.means[0, 0] <= high + 1e-6


@pytest.mark.parametrize("away", [4.0, 6.9, 30.0])
def test_far_above_and_far_below_are_as_exact(away: float) -> None:
    mixture = Mixture.single(np.array([0.0]), np.array([0.1]))
    low, high = 0.1 * away, 0.1 * away + 0.1
    above, _ = mixture.observed(mixture.unit(0), Seen(low, high, 1e-4), 0.0, 0.0)
    below, _ = mixture.observed(mixture.unit(0), Seen(-high, -low, 1e-4), 0.0, 0.0)
    assert above.means == pytest.approx(-below.means, abs=1e-9)
    assert above.covs == pytest.approx(below.covs, abs=1e-9)
    # What is cut far out falls off fast: the mean lies close by the near edge.
    assert low - 1e-3 <= above.means[0, 0] <= low + 0.2 / away


def test_where_a_slip_is_as_likely_as_not_the_belief_widens() -> None:
    mixture = Mixture.single(np.array([0.3]), np.array([0.05]))
    row = mixture.unit(0)
    spreads = []
    for value in np.linspace(0.3, 0.9, 61):
        after, slipped = mixture.observed(row, Seen(value, value, 0.02), 0.015, 0.02 / 3)
        spreads.append((slipped, after.moments(row)[1]))
    torn = max(spread for slipped, spread in spreads if 0.3 < slipped < 0.7)
    assert torn > 0.05
    assert max(spread for slipped, spread in spreads if slipped < 0.01) < 0.05


def test_what_a_slip_explains_better_is_hardly_believed() -> None:
    mixture = Mixture.single(np.array([0.3]), np.array([0.05]))
    row = mixture.unit(0)
    far, likely = mixture.observed(row, Seen(1.3, 1.3, 0.02), 0.015, 0.02 / 3)
    assert likely > 0.99
    assert far.means[0, 0] == pytest.approx(0.3, abs=1e-6)
    near, unlikely = mixture.observed(row, Seen(0.32, 0.32, 0.02), 0.015, 0.02 / 3)
    assert unlikely < 0.01
    assert near.means[0, 0] == pytest.approx(0.3 + 0.02 * 0.05**2 / (0.05**2 + 0.02**2), abs=1e-4)


def test_the_explanation_that_foresaw_a_reading_gains_weight() -> None:
    means, covs = np.array([[0.0], [1.0]]), np.full((2, 1, 1), 0.04)
    two = Mixture(np.array([0.5, 0.5]), means, covs, np.zeros((2, 1)))
    after, _ = two.observed(two.unit(0), Seen(0.9, 1.5, 0.1), 0.015, 0.2)
    assert after.weights[1] > 0.95


@calm
@given(seed=seeds, parts=st.lists(st.floats(0.05, 1), min_size=1, max_size=4))
def test_branching_changes_nothing_that_is_believed(seed: int, parts: list[float]) -> None:
    mixture, row = a_mixture(seed), a_row(seed)
    values = np.arange(len(parts), dtype=float)
    branched = mixture.branched(0, values, shares(parts))
    assert branched.count == mixture.count * len(parts)
    assert branched.moments(row) == pytest.approx(mixture.moments(row))
    for value, part in zip(values, shares(parts), strict=True):
        assert branched.weights[branched.marks[:, 0] == value].sum() == pytest.approx(part)


@calm
@given(seed=seeds, mean=st.floats(-3, 3), sd=st.floats(0.01, 3))
def test_a_place_believed_anew_forgets_and_is_forgotten(seed: int, mean: float, sd: float) -> None:
    mixture = a_mixture(seed)
    freed = mixture.freed(1, mean, sd)
    assert_sound(freed)
    assert freed.moments(freed.unit(1)) == pytest.approx((mean, sd))
    assert freed.moments(freed.unit(0)) == pytest.approx(mixture.moments(mixture.unit(0)))
    # Whatever is read there says nothing of the others any more.
    after, _ = freed.observed(freed.unit(1), Seen(mean + sd, mean + sd, 0.1), 0.0, 0.0)
    assert after.moments(after.unit(0)) == pytest.approx(mixture.moments(mixture.unit(0)))


@calm
@given(seed=seeds, by=st.floats(-2, 2), noise=st.floats(0, 1))
def test_a_known_move_moves_and_widens(seed: int, by: float, noise: float) -> None:
    mixture = a_mixture(seed)
    moved = mixture.shifted(np.array([by, 0.0, 0.0]), np.array([noise, 0.0, 0.0]))
    mean, sd = mixture.moments(mixture.unit(0))
    assert moved.moments(moved.unit(0)) == pytest.approx((mean + by, np.sqrt(sd**2 + noise)))
    assert moved.moments(moved.unit(2)) == pytest.approx(mixture.moments(mixture.unit(2)))


@calm
@given(seed=seeds, least=st.floats(0, 0.6), most=st.integers(1, 3))
def test_only_the_heaviest_explanations_are_kept(seed: int, least: float, most: int) -> None:
    mixture = a_mixture(seed)
    kept = mixture.kept(mixture.likely(least, most))
    assert_sound(kept)
    if np.any(mixture.weights >= least):
        assert kept.count <= most
        assert kept.weights.max() * (1 + 1e-12) >= mixture.weights.max()
    else:
        assert kept is mixture


@calm
@given(seed=seeds, edges=st.lists(st.floats(-6, 6), min_size=2, max_size=4).map(sorted))
def test_chances_add_up(seed: int, edges: list[float]) -> None:
    mixture, row = a_mixture(seed), a_row(seed)
    parts = [mixture.chance(row, low, high) for low, high in zip(edges, edges[1:], strict=False)]
    assert all(part >= -1e-9 for part in parts)
    assert sum(parts) == pytest.approx(mixture.chance(row, edges[0], edges[-1]), abs=1e-9)
    assert mixture.chance(row, -1e6, 1e6) == pytest.approx(1.0)


@calm
@given(seed=seeds)
def test_nine_in_ten_lie_within_the_half_width(seed: int) -> None:
    mixture, row = a_mixture(seed), a_row(seed)
    mean, sd = mixture.moments(row)
    half = mixture.half_width(row)
    assert mixture.chance(row, mean - half, mean + half) > 0.89
    # Not wider than it need be, by more than a step of where it is looked for.
    less = max(half - 0.2 * sd, 0.0)
    assert mixture.chance(row, mean - less, mean + less) < 0.91
    if mixture.count == 1:
        assert half == pytest.approx(NINETY * sd)


@calm
@given(seed=seeds)
def test_several_rows_at_once_say_what_each_says_alone(seed: int) -> None:
    mixture = a_mixture(seed)
    rows = np.stack([a_row(seed), a_row(seed + 7)])
    means, sds = mixture.along_each(rows)
    for number, row in enumerate(rows):
        alone, variances = mixture.along(row)
        assert means[:, number] == pytest.approx(alone)
        assert sds[:, number] == pytest.approx(np.sqrt(variances))


@given(z=st.floats(-40, 40))
def test_the_normal_distribution_is_even_about_nought(z: float) -> None:
    below, above = normal_cdf(np.array([z, -z]))
    assert below + above == pytest.approx(1.0)
    assert normal_cdf(np.array([z + 0.01]))[0] >= below
    assert list(normal_cdf(np.array([-inf, 0.0, inf]))) == pytest.approx([0.0, 0.5, 1.0], abs=1e-7)


@pytest.mark.parametrize("step", [0.0, 0.05])
def test_a_normal_belief_and_a_normal_reading(step: float) -> None:
    """Variance 1/(1/9 + 1/v) and mean (30/9 + 24/v) times that; a division adds its own, step^2/12."""
    error = 4.0 + step**2 / 12
    belief = Mixture.single(np.array([30.0]), np.array([3.0]))
    after, _ = belief.observed(np.ones(1), Seen(24.0, 24.0, 2.0, step), 0.0, 0.0)
    variance = 1 / (1 / 9 + 1 / error)
    assert after.moments(np.ones(1)) == pytest.approx((variance * (30 / 9 + 24 / error), variance**0.5))
