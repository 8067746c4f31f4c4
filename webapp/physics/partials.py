"""The pitch of one ringing note: its partials by the run of their phases, the glide after the pluck taken
out.

Each partial is brought to rest (multiplied by a turning phasor of its expected frequency, averaged under a
Hann window) and the straight line through its phase is its frequency: far finer than a spectrum's bin, and
nearly as fine as the noise allows. All partials of a string glide together after a pluck, the tension falling
as the swing does, so one curve is fitted to all. The partials are found from the low ones upwards, each fit
of the law (``stiff_string``) saying where the next ones lie.
Sources: S. A. Tretter, Estimating the Frequency of a Noisy Sinusoid by Linear Regression, IEEE Trans. Inf.
Theory 31, 1985 (phase regression); K. A. Legge and N. H. Fletcher, Nonlinear Generation of Missing Modes on a
Vibrating String, J. Acoust. Soc. Am. 76, 1984 (tension that follows the swing); the joint fit is ours.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from webapp.physics.stiff_string import CENTS_PER_RATIO, StiffFit, fit, partial_hz, stretch_cents

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

SETTLE_S = 0.2
LONGEST_S = 3.0
# The window spans this many periods, so that the neighbours lie in its side lobes.
PERIODS, SHORTEST_WINDOW_S = 5.0, 0.08
OVERLAP = 3
TOP_HZ = 7000.0
MOST_PARTIALS = 48
# The partials looked at first, past the lowest one there is, and how many more each time.
FIRST_PARTIALS, GROWTH = 6, 1.6
COARSE_CENTS = 8.0
CLEAR_RATIO = 3.0
LEAST_FRAMES = 6
LARGEST_PARTIAL_ERROR = 6.0
# The glide at the moment of the pluck, before anything is heard, and how quickly it may go.
GLIDE_SPREAD_CENTS = 12.0
GLIDE_TIMES_S = (0.06, 0.1, 0.16, 0.25, 0.4, 0.65)
# Of what the note's halves differ by, this much is an error of its pitch.
WANDER_SHARE = 0.3
# A Hann window's correlation with itself a third and two thirds of its length on.
OVERLAP_FACTOR = 1.0 + 2.0 * (0.46 + 0.05)


@dataclass(frozen=True)
class Tracks:
    """The partials of one note at rest: [frame, partial] phasors, the noise beside each partial, the
    frames' times.

    ``expected_hz`` is what each was brought to rest by; times are seconds after the pluck, frame middles.
    """

    number: Floats
    expected_hz: Floats
    phasor: Complexes
    noise: Floats
    time_s: Floats


@dataclass(frozen=True)
class Measured:
    """A note's pitch (first partial, glide gone) with its standard error, its stiffness, and what they rest
    on."""

    pitch_hz: float
    error_cents: float
    stiffness: float
    stiffness_error: float
    scatter_cents: float
    partial_count: int
    rings_s: float


@dataclass(frozen=True)
class _Slopes:
    """Per partial: number, cents over its expected frequency, error; the error in cents that they share;
    seconds used."""

    number: Floats
    cents: Floats
    errors: Floats
    shared_error: float
    rings_s: float


def measure(
    samples: Floats,
    rate_hz: float,
    pluck_s: float,
    stop_s: float,
    pitch_hz: float,
    prior: tuple[float, float],
    lowest: int = 1,
    before: Measured | None = None,
) -> Measured | None:
    """The pitch of the note plucked at ``pluck_s`` and over before ``stop_s``; None where no partial is
    clear.

    ``pitch_hz`` within some 10 cents, ``prior`` the stiffness B and its error, ``lowest`` the lowest partial
    that the recording has, ``before`` what the note gave when measured once already.
    """
    known = StiffFit(0.0, COARSE_CENTS, prior[0], prior[1], 0.0, np.ones(0))
    best: tuple[StiffFit, _Slopes, Floats] | None = None
    top = lowest + FIRST_PARTIALS
    if before is not None:
        pitch_hz, top = before.pitch_hz, MOST_PARTIALS
        known = StiffFit(0.0, before.error_cents, before.stiffness, before.stiffness_error, 0.0, np.ones(0))
    while True:
        number = np.arange(1.0, min(top, MOST_PARTIALS) + 1)
        base = pitch_hz * 2 ** (known.cents / 1200)
        expected = partial_hz(number, base, known.stiffness)
        within = expected < min(TOP_HZ, 0.45 * rate_hz)
        tracks = rest(samples, rate_hz, pluck_s, stop_s, number[within], expected[within], base)
        slopes = None if tracks is None else _slopes(tracks)
        if slopes is None:
            break
        slopes = _near(slopes, known)
        if not len(slopes.number):
            break
        cents = slopes.cents + known.cents + stretch_cents(slopes.number, known.stiffness)
        known = fit(slopes.number, cents, slopes.errors, prior)
        best = known, slopes, cents
        if top >= MOST_PARTIALS or not within.all():
            break
        top = round(top * GROWTH)
    if best is None:
        return None
    known, slopes, _ = best
    return Measured(
        pitch_hz * 2 ** (known.cents / 1200),
        math.hypot(known.error_cents, slopes.shared_error),
        known.stiffness,
        known.stiffness_error,
        known.scatter_cents,
        int((known.weights > 0.2).sum()),
        slopes.rings_s,
    )


def rest(
    samples: Floats,
    rate_hz: float,
    pluck_s: float,
    stop_s: float,
    number: Floats,
    expected_hz: Floats,
    spacing_hz: float,
    begin_s: float = SETTLE_S,
) -> Tracks | None:
    """Bring partials to rest, from ``begin_s`` after the pluck on; None where less than a few windows is
    left."""
    size = round(max(PERIODS / spacing_hz, SHORTEST_WINDOW_S) * rate_hz)
    hop = max(1, size // OVERLAP)
    first = round((pluck_s + begin_s) * rate_hz)
    last = min(len(samples), round(min(stop_s, pluck_s + LONGEST_S) * rate_hz))
    if last - first < size + LEAST_FRAMES * hop or not len(number):
        return None
    frames = np.lib.stride_tricks.sliding_window_view(samples[first:last], size)[::hop]
    window = np.hanning(size)
    window /= window.sum() / 2
    begins = first + hop * np.arange(len(frames))
    half = 0.5 * spacing_hz
    between = 0.5 * (expected_hz[1:] + expected_hz[:-1])
    every_hz = np.concatenate([expected_hz, expected_hz[:1] - half, between, expected_hz[-1:] + half])
    # As one real product: half the work of a complex one.
    heard = ((frames * window) @ _turning(every_hz / rate_hz, size).view(float)).view(complex)
    count = len(number)
    at_rest = heard[:, :count] * np.exp(-2j * np.pi / rate_hz * np.outer(begins, expected_hz))
    left, right = np.abs(heard[:, count:-1]), np.abs(heard[:, count + 1 :])
    # Hum or another string may stand on one side; the tail of the note is where noise alone is left.
    beside_it = np.minimum(np.median(left, axis=0), np.median(right, axis=0))
    noise = np.asarray(beside_it / math.sqrt(math.log(2.0)), dtype=float)
    time_s = (begins + 0.5 * size) / rate_hz - pluck_s
    return Tracks(number, expected_hz, at_rest, np.maximum(noise, 1e-9), np.asarray(time_s))


def _turning(cycles: Floats, size: int) -> Complexes:
    """[sample, frequency]: ``exp(-2 pi i cycles sample)``, put together from two short runs."""
    run = math.isqrt(size) + 1
    within = np.exp(-2j * np.pi * np.outer(np.arange(run), cycles))
    begins = np.exp(-2j * np.pi * np.outer(np.arange(run) * run, cycles))
    return np.asarray((begins[:, None] * within).reshape(run * run, len(cycles))[:size])


def _slopes(tracks: Tracks) -> _Slopes | None:
    """The frequency of each clear partial from its phase, with one common glide taken out."""
    weight, warp, kept = _weighted(tracks)
    if not len(kept):
        return None
    time_s = tracks.time_s
    total = weight.sum(axis=0)
    mean = (weight * time_s[:, None]).sum(axis=0) / total
    centred = time_s[:, None] - mean
    spread = (weight * centred**2).sum(axis=0)

    def straightened(curve: Floats) -> tuple[Floats, Floats]:
        flat = curve - (weight * curve).sum(axis=0) / total
        slope = (weight * centred * flat).sum(axis=0) / spread
        return flat - slope * centred, slope

    residual, slope = straightened(warp)
    freedom = np.maximum((weight > 0).sum(axis=0) / OVERLAP_FACTOR - 2, 1.0)
    # The weights are in units of the noise beside the partial; what is left over says how true that was.
    excess = np.maximum((weight * residual**2).sum(axis=0) / freedom / OVERLAP_FACTOR, 1.0)
    share = weight / (excess * OVERLAP_FACTOR)
    bend, curve, glide_error = _glide(share, residual, straightened, time_s)
    errors = np.sqrt(excess * OVERLAP_FACTOR / spread) * CENTS_PER_RATIO
    # The glide shifts all partials nearly alike: its error is the note's, not the partial's.
    cents = (slope - bend) * CENTS_PER_RATIO
    wander = WANDER_SHARE * _wander(share, residual - curve, time_s)
    good = errors < LARGEST_PARTIAL_ERROR
    if not good.any():
        return None
    rings = float((weight > 0).sum(axis=0).max()) * float(time_s[1] - time_s[0])
    return _Slopes(
        tracks.number[kept][good], cents[good], errors[good], math.hypot(glide_error, wander), rings
    )


def _weighted(tracks: Tracks) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """(weights, time warps in seconds, which partials) of the partials clear for long enough.

    The warp is the phase over 2 pi times the frequency: relative frequency is its slope. The weight is one
    over its variance, ``noise**2 / (2 level**2 (2 pi f)**2)``; nothing after a partial first sinks into the
    noise.
    """
    level = np.abs(tracks.phasor)
    clear = np.logical_and.accumulate(level > CLEAR_RATIO * tracks.noise, axis=0)
    kept = np.flatnonzero(clear.sum(axis=0) >= LEAST_FRAMES)
    turn = 2 * np.pi * tracks.expected_hz[kept]
    warp = np.unwrap(np.angle(tracks.phasor[:, kept]), axis=0) / turn
    weight = 2 * (level[:, kept] / tracks.noise[kept] * turn) ** 2
    return np.where(clear[:, kept], weight, 0.0), warp, kept


def _glide(
    share: Floats, residual: Floats, straightened: Callable[[Floats], tuple[Floats, Floats]], time_s: Floats
) -> tuple[Floats, Floats, float]:
    """(the slope that the glide puts on each partial, its curve without that, the pitch error in cents it
    leaves).

    Frequencies go as ``f (1 + g exp(-t / tau))``; g by weighted least squares with a prior for each tau,
    and the taus by how well they do.
    """
    fits = []
    for tau in GLIDE_TIMES_S:
        curve = np.broadcast_to(tau * (1 - np.exp(-time_s / tau))[:, None], share.shape)
        bent, bend = straightened(curve)
        normal = float((share * bent**2).sum()) + (CENTS_PER_RATIO / GLIDE_SPREAD_CENTS) ** 2
        amount = float((share * bent * residual).sum()) / normal
        fits.append((amount, normal, bend, bent, 0.5 * amount**2 * normal - 0.5 * math.log(normal)))
    evidence = np.array([fitted[4] for fitted in fits])
    chance = np.exp(evidence - evidence.max())
    chance /= chance.sum()
    common = np.array([np.median(bend) for _, _, bend, _, _ in fits])
    amounts = np.array([amount for amount, *_ in fits])
    shift = float(chance @ (amounts * common))
    variance = float(chance @ (common**2 / np.array([normal for _, normal, *_ in fits])))
    variance += float(chance @ (amounts * common - shift) ** 2)
    parts = [part * amount for part, amount in zip(chance, amounts, strict=True)]
    slope = sum(part * bend for part, (_, _, bend, _, _) in zip(parts, fits, strict=True))
    curve = sum(part * bent for part, (_, _, _, bent, _) in zip(parts, fits, strict=True))
    return np.asarray(slope), np.asarray(curve), math.sqrt(variance) * CENTS_PER_RATIO


def _wander(share: Floats, residual: Floats, time_s: Floats) -> float:
    """Cents by which the note's first half lies from its second: what all partials share and no glide
    explains.

    No partial's own scatter shows it, as it moves them all.
    """
    weight = share.sum(axis=1)
    shared = (share * residual).sum(axis=1) / np.maximum(weight, 1e-12)
    half = np.searchsorted(np.cumsum(weight), 0.5 * weight.sum())
    # Neither half too short to have a slope of its own.
    half = int(np.clip(half, LEAST_FRAMES // 2, len(time_s) - LEAST_FRAMES // 2))
    slopes = []
    for part in (slice(0, half), slice(half, None)):
        w, t, y = weight[part], time_s[part], shared[part]
        t = t - (w * t).sum() / max(w.sum(), 1e-12)
        slopes.append(float((w * t * y).sum() / max((w * t * t).sum(), 1e-12)))
    return abs(slopes[1] - slopes[0]) * CENTS_PER_RATIO


def _near(slopes: _Slopes, known: StiffFit) -> _Slopes:
    """Without the partials too far from where the law, as far as known, puts them."""
    slope = 0.5 * CENTS_PER_RATIO * (slopes.number**2 - 1)
    allowed = 4.0 * np.hypot(known.error_cents, slope * known.stiffness_error) + 4.0 + 3 * slopes.errors
    near = np.abs(slopes.cents) < np.minimum(allowed, 60.0)
    return _Slopes(
        slopes.number[near], slopes.cents[near], slopes.errors[near], slopes.shared_error, slopes.rings_s
    )
