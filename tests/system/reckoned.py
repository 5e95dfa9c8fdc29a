# SPDX-License-Identifier: GPL-3.0-or-later
"""A capability study reckoned a second time, with NumPy and SciPy, from the definitions: it
shares no code with the program.  A series is a list of numbers with nan where one is
missing; slots count from 1."""

import functools
import math

import numpy
from scipy import integrate, optimize, stats

NAN = float("nan")


def values_of(series):
    return numpy.array([x for x in series if not math.isnan(x)])


def mean_of(values):
    return math.fsum(values) / len(values) if len(values) else NAN


def sd_of(values):
    if len(values) < 2:
        return NAN
    mean = mean_of(values)
    return math.sqrt(math.fsum((x - mean) ** 2 for x in values) / (len(values) - 1))


def neighbours(series):
    return [(a, b) for a, b in zip(series, series[1:])
            if not math.isnan(a) and not math.isnan(b)]


def moving_ranges(series):
    return [abs(b - a) for a, b in neighbours(series)]


def lag1(series):
    """As it stands, and scaled up for the pairs that are missing."""
    values, pairs = values_of(series), neighbours(series)
    mean = mean_of(values)
    squares = math.fsum((x - mean) ** 2 for x in values)
    if not pairs or not squares > 0:
        return NAN, NAN
    products = math.fsum((a - mean) * (b - mean) for a, b in pairs)
    plain = products / squares
    return plain, plain * (len(values) - 1) / len(pairs)


# --- constants of charts, by quadrature ---------------------------------------------------

@functools.lru_cache(None)
def d2_d3(size):
    """Mean and deviation of the range of `size` standard normals."""
    phi = stats.norm.cdf
    mean = integrate.quad(lambda x: 1 - phi(x) ** size - (1 - phi(x)) ** size, -9, 9,
                          epsabs=1e-11)[0]
    at, weight = numpy.polynomial.legendre.leggauss(120)
    x = 9 * at[:, None]
    span = (9 - x) / 2
    y = x + span * (at[None, :] + 1)
    inner = 1 - phi(y) ** size - (1 - phi(x)) ** size + (phi(y) - phi(x)) ** size
    square = 2 * float((9 * weight[:, None] * span * weight[None, :] * inner).sum())
    return mean, math.sqrt(square - mean ** 2)


def c4(size):
    return math.sqrt(2 / (size - 1)) * math.exp(
        math.lgamma(size / 2) - math.lgamma((size - 1) / 2))


def subgroups(series, size):
    """Those that are complete, and the mean of each (nan for one that is not)."""
    blocks = [series[i:i + size] for i in range(0, len(series) - size + 1, size)]
    whole = [b for b in blocks if not any(map(math.isnan, b))]
    means = [NAN if any(map(math.isnan, b)) else mean_of(b) for b in blocks]
    return whole, means


def chart(series, size):
    whole, means = subgroups(series, size)
    if not whole:
        return None, means
    d2, d3 = d2_d3(size)
    grand = mean_of([mean_of(b) for b in whole])
    spread = mean_of([max(b) - min(b) for b in whole])
    deviation = mean_of([sd_of(b) for b in whole])
    pooled = math.sqrt(mean_of([sd_of(b) ** 2 for b in whole]))
    root, four = math.sqrt(size), c4(size)
    off = 3 * math.sqrt(1 - four ** 2) / four
    return {
        "count": len(whole), "grand_mean": grand, "mean_range": spread,
        "mean_sd": deviation, "pooled_sd": pooled, "sigma_range": spread / d2,
        "sigma_sd": deviation / four,
        "sigma_pooled": pooled / c4(len(whole) * (size - 1) + 1),
        "limits": {
            "mean_by_range": {"low": grand - 3 * spread / d2 / root, "centre": grand,
                              "high": grand + 3 * spread / d2 / root},
            "range": {"low": max(0, 1 - 3 * d3 / d2) * spread, "centre": spread,
                      "high": (1 + 3 * d3 / d2) * spread},
            "mean_by_sd": {"low": grand - 3 * deviation / four / root, "centre": grand,
                           "high": grand + 3 * deviation / four / root},
            "sd": {"low": max(0, 1 - off) * deviation, "centre": deviation,
                   "high": (1 + off) * deviation}}}, means


# --- indices -------------------------------------------------------------------------------

def chi_square_interval(index, df):
    return [index * math.sqrt(stats.chi2.ppf(p, df) / df) for p in (0.025, 0.975)]


def bissell(index, n):
    half = 1.959963984540054 * math.sqrt(1 / (9 * n) + index ** 2 / (2 * (n - 1)))
    return [index - half, index + half]


def bound_by_noncentral_t(index, n, share):
    """The true index of which a smaller one than `index` is seen in `share` of samples."""
    seen, root = 3 * math.sqrt(n) * index, 3 * math.sqrt(n)
    wide = 4 / math.sqrt(n) + 4 * abs(index) / math.sqrt(2 * (n - 1))
    return optimize.brentq(
        lambda true: stats.nct.cdf(seen, n - 1, root * true) - share, index - wide,
        index + wide, xtol=1e-12)


def anderson_darling(values):
    n = len(values)
    a2 = float(stats.anderson(values, "norm").statistic)
    a = a2 * (1 + 0.75 / n + 2.25 / n ** 2)
    if a < 0.2:
        p = 1 - math.exp(-13.436 + 101.14 * a - 223.73 * a * a)
    elif a < 0.34:
        p = 1 - math.exp(-8.318 + 42.796 * a - 59.938 * a * a)
    elif a < 0.6:
        p = math.exp(0.9177 - 4.279 * a - 1.38 * a * a)
    else:
        p = math.exp(1.2937 - 5.709 * a + 0.0186 * a * a)
    return a2, a, p


# --- patterns, charts with a memory ------------------------------------------------------------

def stretches(series, centre, sigma):
    """Runs of values without a gap: lists of (slot, z)."""
    runs = [[]]
    for slot, x in enumerate(series, 1):
        if math.isnan(x):
            runs.append([])
        else:
            runs[-1].append((slot, (x - centre) / sigma))
    return [run for run in runs if run]


def last(run, i, count):
    return [z for _, z in run[max(0, i - count + 1):i + 1]]


def some_beyond(run, i, most, need, limit):
    z = run[i][1]
    if abs(z) <= limit:
        return False
    side = math.copysign(1, z)
    return sum(side * other > limit for other in last(run, i, most)) >= need


def all_of(run, i, count, holds):
    window = last(run, i, count)
    return len(window) == count and all(map(holds, window))


def one_side(run, i, count):
    return all_of(run, i, count, lambda z: z > 0) or all_of(run, i, count, lambda z: z < 0)


def trending(run, i):
    window = last(run, i, 6)
    steps = [b - a for a, b in zip(window, window[1:])]
    return len(window) == 6 and (all(s > 0 for s in steps) or all(s < 0 for s in steps))


def alternating(run, i):
    window = last(run, i, 14)
    steps = [b - a for a, b in zip(window, window[1:])]
    return len(window) == 14 and all(a * b < 0 for a, b in zip(steps, steps[1:])) \
        and all(steps)


RULES = {
    "one-beyond-3s": lambda run, i: abs(run[i][1]) > 3,
    "two-of-three-beyond-2s": lambda run, i: some_beyond(run, i, 3, 2, 2),
    "four-of-five-beyond-1s": lambda run, i: some_beyond(run, i, 5, 4, 1),
    "eight-one-side": lambda run, i: one_side(run, i, 8),
    "nine-one-side": lambda run, i: one_side(run, i, 9),
    "six-trending": trending,
    "fourteen-alternating": alternating,
    "fifteen-within-1s": lambda run, i: all_of(run, i, 15, lambda z: abs(z) <= 1),
    "eight-beyond-1s": lambda run, i: all_of(run, i, 8, lambda z: abs(z) > 1),
}


def signals(series, centre, sigma):
    return {(rule, run[i][0]) for run in stretches(series, centre, sigma)
            for i in range(len(run)) for rule, holds in RULES.items() if holds(run, i)}


def ewma(series, centre, sigma, weight, limit):
    z, course, beyond, seen = centre, [], [], 0
    for slot, x in enumerate(series, 1):
        if math.isnan(x):
            continue
        seen += 1
        z = weight * x + (1 - weight) * z
        course.append(z)
        width = limit * sigma * math.sqrt(
            weight / (2 - weight) * (1 - (1 - weight) ** (2 * seen)))
        if abs(z - centre) > width:
            beyond.append(slot)
    return course, beyond


def cusum(series, centre, sigma, slack, limit):
    high, low, highs, lows, beyond = 0.0, 0.0, [], [], []
    for slot, x in enumerate(series, 1):
        if math.isnan(x):
            continue
        high = max(0.0, high + (x - centre) - slack * sigma)
        low = max(0.0, low - (x - centre) - slack * sigma)
        highs.append(high)
        lows.append(low)
        if high > limit * sigma or low > limit * sigma:
            beyond.append(slot)
    return highs, lows, beyond


# --- distributions ----------------------------------------------------------------------------

def distribution(name, parameters):
    p = parameters
    return {
        "normal": lambda: stats.norm(p["mean"], p["sigma"]),
        "half-normal": lambda: stats.halfnorm(0, p["sigma"]),
        "folded-normal": lambda: stats.foldnorm(p["mu"] / p["sigma"], 0, p["sigma"]),
        "lognormal": lambda: stats.lognorm(p["log_sigma"], 0, math.exp(p["log_mean"])),
        "weibull": lambda: stats.weibull_min(p["shape"], 0, p["scale"]),
        "gamma": lambda: stats.gamma(p["shape"], 0, p["scale"]),
    }[name]()


def fitted(name, values):
    """SciPy's own maximum likelihood, or None where it has no better way than a search that
    does not find it always."""
    if name == "normal":
        return stats.norm(*stats.norm.fit(values))
    if name == "half-normal":
        return stats.halfnorm(0, math.sqrt(mean_of(values ** 2)))
    if name == "lognormal":
        return stats.lognorm(*stats.lognorm.fit(values, floc=0))
    if name == "gamma":
        return stats.gamma(*stats.gamma.fit(values, floc=0))
    if name == "weibull":
        return stats.weibull_min(*stats.weibull_min.fit(values, floc=0))
    return stats.foldnorm(*stats.foldnorm.fit(values, floc=0))
