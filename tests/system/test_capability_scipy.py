# SPDX-License-Identifier: GPL-3.0-or-later
"""`evensoak capability` on 200 random series, as files of other programs, against SciPy and
the definitions (reckoned.py).  The seed is printed; EVENSOAK_SEED gives another."""

import json
import math
import os
import random
import subprocess
import sys
import tempfile
import warnings

from plant import program

try:
    import numpy
    import reckoned
    import scipy
except ImportError as error:
    print(f"no SciPy here: {error}")
    sys.exit(77)

SERIES = 200
NAN = float("nan")
FIGURES = {"sd": "standard deviations", "median": "medians", "mr": "mean moving ranges",
           "lag1": "autocorrelations", "sigma within": "deviations within", "ppk": "Ppk",
           "cpk": "Cpk", "bissell": "intervals of an index, by Bissell's formula",
           "nct": "one-sided bounds, by the noncentral t", "a2": "Anderson-Darling statistics",
           "p": "p of normality", "quantile": "quantiles of fitted distributions",
           "likelihood": "log likelihoods of fits", "below": "expected shares below, ppm",
           "above": "expected shares above, ppm"}
held = {}  # of each figure: how many were held against SciPy, and the one nearest to its bound


def near(got, wanted, relative=1e-9, absolute=0.0, what=""):
    if got is None:
        got = NAN
    if math.isnan(wanted) and math.isnan(got):
        return
    assert math.isclose(got, wanted, rel_tol=relative, abs_tol=absolute), \
        (what, got, wanted)
    bound = max(relative * max(abs(got), abs(wanted)), absolute)
    nearness = abs(got - wanted) / bound if got != wanted else 0
    name = FIGURES.get("quantile" if isinstance(what, tuple) else what, "further figures")
    count, most = held.get(name, (0, None))
    if most is None or nearness > most[0]:
        most = (nearness, wanted, got, bound)
    held[name] = (count + 1, most)


def record(seed):
    """The rows that tests/unit/published.h writes, for `make validation`."""
    if not os.environ.get("EVENSOAK_PUBLISHED"):
        return
    with open(os.environ["EVENSOAK_PUBLISHED"], "a", encoding="utf-8") as rows:
        for what, (count, (_, wanted, got, bound)) in sorted(held.items()):
            print(1, f"SciPy {scipy.__version__} and the definitions: {SERIES} random series "
                  f"(seed {seed}) through the program", "tests/system/test_capability_scipy.py",
                  what, count, repr(float(wanted)), repr(float(got)), repr(float(bound)), "yes",
                  sep="\t", file=rows)


# --- the series -----------------------------------------------------------------------------

def draw_positive(chance, n):
    kind = chance.choice(["half", "weibull", "gamma", "lognormal", "folded"])
    scale = 10 ** chance.uniform(-2, 2)
    draw = {
        "half": lambda: abs(chance.gauss(0, 1)),
        "weibull": lambda: chance.weibullvariate(1, 1.7),
        "gamma": lambda: chance.gammavariate(2.5, 0.4),
        "lognormal": lambda: chance.lognormvariate(0, 0.5),
        "folded": lambda: abs(chance.gauss(1, 0.6)),
    }[kind]
    return [scale * draw() for _ in range(n)]


def draw_course(chance, n):
    kind = chance.choice(["normal", "normal", "dependent", "uniform", "step", "drift"])
    scale, centre = 10 ** chance.uniform(-3, 3), 0.0
    if chance.random() < 0.7:
        centre = scale * 10 ** chance.uniform(0, 4)
    values, before = [], 0.0
    for i in range(n):
        before = 0.7 * before + chance.gauss(0, 0.7)
        values.append(centre + scale * {
            "normal": lambda: chance.gauss(0, 1),
            "dependent": lambda b=before: b,
            "uniform": lambda: chance.uniform(-2, 2),
            "step": lambda j=i: chance.gauss(1.5 if j > n / 2 else 0, 1),
            "drift": lambda j=i: chance.gauss(2 * j / n, 1),
        }[kind]())
    return values


def draw(chance):
    """A series, and the options that go with it."""
    n = chance.choice([2, 3, 5, 8, 12, 25, 30, 68, 160, 300, chance.randrange(2, 400)])
    bounded = chance.random() < 0.3
    series = draw_positive(chance, n) if bounded else draw_course(chance, n)
    coarse = chance.random() < 0.15
    if coarse:
        step = (max(series) - min(series)) / 12
        series = [round(x / step) * step for x in series]
    spread = numpy.std(series)
    options = {"lower": NAN, "upper": NAN, "target": NAN, "bounded": bounded,
               "subgroup": 0, "method": "individuals"}
    sides = chance.choice(["upper"] if bounded else ["both", "both", "both", "lower",
                                                     "upper", "none"])
    if sides in ("both", "upper"):
        options["upper"] = max(series) + spread * chance.uniform(-1, 7)
        if options["upper"] <= 0 and bounded:
            options["upper"] = max(series)
    if sides in ("both", "lower"):
        options["lower"] = min(series) - spread * chance.uniform(-1, 7)
    if sides == "both" and options["lower"] >= options["upper"]:
        options["lower"], options["upper"] = min(series) - spread, max(series) + spread
    if sides == "both" and chance.random() < 0.5:
        options["target"] = (options["lower"] + options["upper"]) / 2 + 0.1 * spread
    # means of coarse values tie but for their last bit, which no two ways of adding agree on
    if not bounded and not coarse and chance.random() < 0.3:
        options["subgroup"] = chance.randrange(2, 9)
        options["method"] = chance.choice(["mean-range", "mean-sd"])
    if chance.random() < 0.3:
        options["centre"] = sum(series) / n + spread * chance.gauss(0, 0.3)
        options["sigma"] = spread * chance.uniform(0.5, 1.5) + 1e-9 * abs(series[0])
    options["ewma"] = (round(chance.uniform(0.05, 1), 3), round(chance.uniform(1, 4), 3))
    options["cusum"] = (round(chance.uniform(0, 1), 3), round(chance.uniform(1, 6), 3))
    gaps = chance.choice([0, 0, 0.03, 0.12])
    series = [NAN if chance.random() < gaps else x for x in series]
    return series, options


def write(chance, path, series):
    """As some program or other would; the arguments that read it."""
    comma = chance.random() < 0.3
    part = chance.choice([";", "\t"]) if comma else chance.choice([",", ";", "\t"])
    with open(path, "w", encoding="utf-8", newline="") as file:
        end = chance.choice(["\n", "\r\n"])
        if chance.random() < 0.2:
            file.write("\ufeff")
        file.write(f'no{part}"what, or ""so"""{part}x{end}')
        for i, x in enumerate(series):
            cell = chance.choice(["", "nan", "NaN", '""']) if math.isnan(x) else repr(x)
            if comma:
                cell = cell.replace(".", ",")
            file.write(f'{i}{part}"a{part} b"{part}{cell}{end}')
    return ["--column", "x"] + (["--decimal-comma"] if comma else [])


def study(path, arguments, options):
    for name in ("lower", "upper", "target", "centre", "sigma"):
        if not math.isnan(options.get(name, NAN)):
            arguments += [f"--{name}", repr(options[name])]
    if options["bounded"]:
        arguments.append("--zero-bounded")
    if options["subgroup"]:
        arguments += ["--subgroup", str(options["subgroup"]), "--method",
                      options["method"]]
    arguments += ["--rules", "all", "--ewma", "{},{}".format(*options["ewma"]),
                  "--cusum", "{},{}".format(*options["cusum"]), "--format", "json"]
    done = subprocess.run([program("evensoak"), "capability", path, *arguments],
                          capture_output=True, text=True, timeout=20, check=False)
    assert done.stderr == "" and done.returncode in (0, 1), (done, arguments)
    told = json.loads(done.stdout)
    assert (done.returncode == 0) == (told["verdict"] == "capable"), told["verdict"]
    return told


# --- what must agree ---------------------------------------------------------------------------

def description_agrees(told, series):
    values = reckoned.values_of(series)
    n = len(values)
    assert told["n"] == n and told["missing"] == len(series) - n
    if n == 0:
        assert told["mean"] is None and told["sd"] is None and told["median"] is None
        return
    assert told["min"] == min(values) and told["max"] == max(values)
    assert told["distinct"] == len(set(values))
    near(told["mean"], reckoned.mean_of(values), 1e-13,
         1e-15 * max(abs(values)), what="mean")
    near(told["sd"], reckoned.sd_of(values), 1e-10, what="sd")
    near(told["median"], float(numpy.median(values)), 1e-14, what="median")
    for name, p in (("x00135", 0.00135), ("x50", 0.5), ("x99865", 0.99865)):
        near(told["quantiles"][name], float(numpy.quantile(values, p)), 1e-12,
             1e-15 * max(abs(values)), what=name)
    ranges = reckoned.moving_ranges(series)
    assert told["moving_range"]["count"] == len(ranges)
    if ranges:
        near(told["moving_range"]["mean"], reckoned.mean_of(ranges), 1e-10, what="mr")
        median, ulp = float(numpy.median(ranges)), 4e-16 * max(abs(values))
        near(told["moving_range"]["median"], median, 1e-12, ulp)
        near(told["sigma_within"]["from_median_range"], median / 0.9538725524, 1e-9, ulp)
    plain, of_pairs = reckoned.lag1(series)
    memory = told["autocorrelation"]
    near(memory["lag1"], plain, 1e-7, 1e-9, what="lag1")
    near(memory["lag1_of_pairs"], of_pairs, 1e-7, 1e-9, what="lag1 of pairs")
    near(memory["bound"], 1.96 / math.sqrt(n), 1e-12)
    if ranges:
        near(memory["bound_of_pairs"], 1.96 / math.sqrt(len(ranges) + 1), 1e-12)


def subgroups_agree(told, series, options):
    """What rules and charts go over: the values, or the means of the subgroups."""
    if not options["subgroup"]:
        ranges = reckoned.moving_ranges(series)
        sigma = reckoned.mean_of(ranges) * math.sqrt(math.pi) / 2 if ranges else NAN
        near(told["sigma_within"]["value"], sigma, 1e-10, what="sigma within")
        return series, sigma, sigma, reckoned.mean_of(reckoned.values_of(series))
    size, groups = options["subgroup"], told["subgroups"]
    chart, means = reckoned.chart(series, size)
    assert groups["size"] == size
    if chart is None:
        assert groups["count"] == 0 and groups["grand_mean"] is None
        return means, NAN, NAN, NAN
    limits, told_limits = chart.pop("limits"), groups["limits"]
    for name, wanted in chart.items():
        near(groups[name], wanted, 1e-9, 1e-300, what=name)
    for name, wanted in limits.items():
        for side, value in wanted.items():
            near(told_limits[name][side], value, 1e-6,
                 1e-9 * abs(chart["mean_range"]), what=(name, side))
    sigma = chart["sigma_range" if options["method"] == "mean-range" else "sigma_pooled"]
    near(told["sigma_within"]["value"], sigma, 1e-9)
    return means, sigma, sigma / math.sqrt(size), chart["grand_mean"]


def index_of(off, sigma):
    return off / (3 * sigma) if sigma > 0 else NAN


def indices_agree(told, series, options, sigma):
    values = reckoned.values_of(series)
    n, mean, sd = len(values), reckoned.mean_of(values), reckoned.sd_of(values)
    lower, upper = options["lower"], options["upper"]
    if options["bounded"]:
        for name in ("cpl", "cpu", "cpm"):
            assert told[name] is None, name
        assert told["cp"]["value"] is None and told["cpk"]["value"] is None
        return
    for prefix, s in (("p", sd), ("c", sigma)):
        low, high = index_of(mean - lower, s), index_of(upper - mean, s)
        both = index_of((upper - lower) / 2, s)
        least = min((x for x in (low, high) if not math.isnan(x)), default=NAN)
        for name, wanted in ((prefix + "pl", low), (prefix + "pu", high)):
            near(told[name], wanted, 1e-8, 1e-10, what=name)
        near(told[prefix + "p"]["value"], both, 1e-8, what=prefix + "p")
        near(told[prefix + "pk"]["value"], least, 1e-8, 1e-10, what=prefix + "pk")
    about = math.sqrt(sd ** 2 + (mean - options["target"]) ** 2) if n > 1 else NAN
    near(told["cpm"], index_of((upper - lower) / 2, about), 1e-8, what="cpm")
    ppk = told["ppk"]["value"]
    if ppk is not None and told["autocorrelation"]["lag1"] is not None:
        overall_intervals_agree(told, ppk, n)


def overall_intervals_agree(told, ppk, n):
    got = [told["ppk"]["low"], told["ppk"]["high"], told["ppk"]["lower_bound"]]
    if told["autocorrelation"]["lag1_of_pairs"] > told["autocorrelation"]["bound_of_pairs"]:
        return  # of dependent values: wider, by other formulas
    for value, wanted in zip(got, reckoned.bissell(ppk, n)):
        near(value, wanted, 1e-8, 1e-9, what="bissell")
    if n >= 5 and abs(3 * math.sqrt(n) * ppk) < 120:  # SciPy's noncentral t fails far out
        near(got[2], reckoned.bound_by_noncentral_t(ppk, n, 0.95), 1e-7, 1e-7, what="nct")
        # of two limits either may be the one that binds
        share = 0.05 if told["pp"]["value"] is None else 0.025
        near(told["ppk"]["upper_bound"], reckoned.bound_by_noncentral_t(ppk, n, share),
             1e-7, 1e-7, what="nct above")
    if told["pp"]["value"] is not None:
        wanted = reckoned.chi_square_interval(told["pp"]["value"], n - 1)
        near(told["pp"]["low"], wanted[0], 1e-8)
        near(told["pp"]["high"], wanted[1], 1e-8)


def normality_agrees(told, values):
    if len(values) < 8 or not numpy.ptp(values) > 0:
        assert told["normality"]["p"] is None
        return
    a2, adjusted, p = reckoned.anderson_darling(values)
    near(told["normality"]["a2"], a2, 1e-6, 1e-8, what="a2")
    near(told["normality"]["a2_adjusted"], adjusted, 1e-6, 1e-8)
    if adjusted < 10:
        near(told["normality"]["p"], min(1.0, max(0.0, p)), 1e-4, 1e-8, what="p")


def fit_agrees(fit, values, options):
    """Its own figures by SciPy's distribution, and no less likely than SciPy's fit."""
    dist = reckoned.distribution(fit["distribution"], fit["parameters"])
    for name, p in (("x00135", 0.00135), ("x50", 0.5), ("x99865", 0.99865)):
        near(fit[name], float(dist.ppf(p)), 1e-6, what=(fit["distribution"], name))
    upper = options["upper"]
    if not math.isnan(upper):
        near(fit["ppu"], (upper - fit["x50"]) / (fit["x99865"] - fit["x50"]), 1e-9)
    if fit["log_likelihood"] is None or min(values) == 0:
        return  # zeros of a coarse gauge are fitted as what was rounded to them
    likelihood = float(dist.logpdf(values).sum())
    near(fit["log_likelihood"], likelihood, 1e-8, 1e-6 * len(values), what="likelihood")
    other = reckoned.fitted(fit["distribution"], values)
    best = float(other.logpdf(values).sum())
    assert likelihood > best - 1e-4 - 1e-7 * abs(best), (fit, likelihood, best)
    if abs(likelihood - best) < 1e-7 * len(values):
        near(fit["x99865"], float(other.ppf(0.99865)), 1e-2, what=fit["distribution"])


def distribution_agrees(told, values, options):
    for fit in told["fits"]:
        fit_agrees(fit, values, options)
    fit = told["fit"]
    if fit is None:
        return
    dist = reckoned.distribution(fit["distribution"], fit["parameters"])
    for side, limit, share in (("below", options["lower"], dist.cdf),
                               ("above", options["upper"], dist.sf)):
        wanted = NAN if math.isnan(limit) else 1e6 * float(share(limit))
        # SciPy's folded normal has no tail of its own: 1 less what lies below
        near(told["expected_ppm"][side], wanted, 1e-6, 1e-9, what=side)


def verdict_agrees(told):
    """By what is judged: enough by its lower bound, or too little by its upper one."""
    judged, required = told["judged"], told["required"]
    least, most = (NAN if judged[side] is None else judged[side]
                   for side in ("lower_bound", "upper_bound"))
    if not judged["by_percentiles"]:
        assert judged["index"] == told["ppk"]["value"]
    elif told["fit"] is not None:
        sides = [told["fit"][side] for side in ("ppl", "ppu")]
        near(judged["index"], min((x for x in sides if x is not None), default=NAN), 1e-9)
    if told["verdict"] == "capable":
        assert least >= required and told["stability"]["verdict"] == "stable"
    elif told["verdict"] == "not-capable":
        assert most < required or "beyond" in told["reason_names"]


def course_agrees(told, charted, sigma, centre, options):
    if "centre" in options:
        centre = options["centre"]
        sigma = options["sigma"] / math.sqrt(max(1, options["subgroup"]))
    got = {(s["rule"], s["index"]) for s in told["signals"]}
    assert len(got) == len(told["signals"])
    if not sigma > 0:
        assert not got, got
        return
    near(told["centre"], centre, 1e-12, 1e-15 * abs(sigma))
    near(told["sigma"], sigma, 1e-9)
    wanted = reckoned.signals(charted, told["centre"], told["sigma"])
    assert got == wanted, (sorted(got - wanted), sorted(wanted - got))
    course, beyond = reckoned.ewma(charted, centre, sigma, *options["ewma"])
    assert told["ewma"]["signals"] == beyond, (told["ewma"], beyond)
    if not course:
        return
    scale = abs(centre) + sigma
    near(told["ewma"]["last"], course[-1], 1e-10, 1e-12 * scale)
    near(told["ewma"]["max"], max(course), 1e-10, 1e-12 * scale)
    highs, lows, beyond = reckoned.cusum(charted, centre, sigma, *options["cusum"])
    assert told["cusum"]["signals"] == beyond
    near(told["cusum"]["high_last"], highs[-1], 1e-6, 1e-8 * scale)
    near(told["cusum"]["high_max"], max(highs), 1e-6, 1e-8 * scale)
    near(told["cusum"]["low_max"], max(lows), 1e-6, 1e-8 * scale)


def agrees(told, series, options):
    values = reckoned.values_of(series)
    description_agrees(told, series)
    if len(values) < 2:
        assert told["verdict"] == "not-established"
        return
    charted, sigma, charted_sigma, centre = subgroups_agree(told, series, options)
    indices_agree(told, series, options, sigma)
    normality_agrees(told, values)
    distribution_agrees(told, values, options)
    verdict_agrees(told)
    course_agrees(told, charted, charted_sigma, centre, options)
    beyond = sum(x < options["lower"] or x > options["upper"] for x in values)
    if math.isnan(options["lower"]) and math.isnan(options["upper"]):
        assert told["observed_beyond"] is None
    else:
        assert told["observed_beyond"] == beyond


def main():
    seed = int(os.environ.get("EVENSOAK_SEED", "7"))
    print(f"EVENSOAK_SEED={seed}")
    chance = random.Random(seed)
    warnings.simplefilter("ignore")  # SciPy's searches leave the range of doubles now and then
    verdicts = {}
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "series.csv")
        for number in range(SERIES):
            series, options = draw(chance)
            told = study(path, write(chance, path, series), options)
            verdicts[told["verdict"]] = verdicts.get(told["verdict"], 0) + 1
            try:
                agrees(told, series, options)
            except AssertionError:
                print(f"series {number}, n {len(series)}: {options}")
                raise
    print(f"{SERIES} series agree: {verdicts}")
    record(seed)
    assert len(verdicts) == 3, "every verdict is among them"
    return 0


if __name__ == "__main__":
    sys.exit(main())
