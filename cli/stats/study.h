/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The capability study of one characteristic in one population: everything that the other
 * files here compute of it, put together, and judged.  Whatever is not defined is NAN.
 *
 * With subgroups, sigma within is mean range / d2 (STUDY_MEAN_RANGE) or pooled deviation / c4
 * (STUDY_MEAN_SD), and rules, EWMA, CUSUM and stability go over the means of the subgroups with
 * sigma / sqrt(size): their slots count subgroups.  Without, sigma within is mean moving range /
 * d2, and slots count values.
 *
 * The tests of stability are of normal values: single values of another distribution (see
 * study_distribution) go through them as its normal scores, and onset is told in their own unit.
 *
 * Values beyond 2^200 or within 2^-200 are studied divided by a power of two (study_scale.h), so
 * that indices hold at every magnitude.  What no double can hold is NAN.
 *
 * A zero-bounded quantity has the percentile indices of the fit that is used, and no index
 * within: that of a normal distribution would flatter it.  Its bounds span those of every fit that
 * is nearly as likely: by simulation (50 to 300 values of six distributions) two-sided ones
 * held the true index in 0.90 to 0.97; of one fit alone, 0.74 to 0.92.  No lower limit is made up for it.
 * Pure; any thread.  Values and limits in one unit, any.
 */
#ifndef CLI_STATS_STUDY_H
#define CLI_STATS_STUDY_H

#include "cli/stats/capability.h"
#include "cli/stats/describe.h"
#include "cli/stats/ewma.h"
#include "cli/stats/fit.h"
#include "cli/stats/normality.h"
#include "cli/stats/onset.h"
#include "cli/stats/outliers.h"
#include "cli/stats/run_rules.h"
#include "cli/stats/subgroups.h"

/* In sds of the rounded values: what is rounded to more says too little.  Common practice, no
 * source, is "no coarser than 1 sigma"; the sd is estimated, so that this lets 1 sigma pass. */
#define STUDY_COARSEST 1.25

/* The capability that has to be shown (lower bound of Ppk) where nobody says another. */
#define STUDY_REQUIRED 1.33

enum study_method {
	STUDY_INDIVIDUALS,
	STUDY_MEAN_RANGE,
	STUDY_MEAN_SD,
};

struct study_asked {
	struct series series;        /* infinite values count as missing */
	double lower, upper, target; /* NAN: none */
	bool zero_bounded; /* cannot fall below zero: the percentile method alone */
	enum study_method method;
	size_t subgroup; /* 0 for individuals */
	/* Known ones, of single values, for rules, EWMA and CUSUM; NAN: estimated.  Limits of
	 * the indices and of stability are always those of the series itself. */
	double centre, sigma;
	unsigned rules;                    /* RULE_BIT of each */
	const struct ewma_setting *ewma;   /* NULL: none */
	const struct cusum_setting *cusum; /* NULL: none */
	double required;                   /* NAN: STUDY_REQUIRED */
};

/* Why an index is withheld or a capability not established; a set of bits. */
enum study_reason {
	STUDY_NO_LIMIT,
	STUDY_TOO_FEW,
	STUDY_MUCH_MISSING,
	STUDY_COARSE, /* fewer than 5 distinct values inside the limits, or rounded to more than
	                 1.25 sd */
	STUDY_FEW_NEIGHBOURS, /* too few moving ranges */
	STUDY_AUTOCORRELATED, /* within: |r1| beyond its bound */
	STUDY_UNSTABLE,
	STUDY_TOO_DEPENDENT, /* worth too few independent values for an interval */
	STUDY_NOTHING_FITS,  /* zero-bounded or not normal, and no distribution fits */
	STUDY_NOT_NORMAL, /* p below 0.005: the percentile method answers, if anything fits */
	STUDY_BOUND_BELOW, /* the index is there, but its lower bound is below the required */
	STUDY_INDEX_BELOW,  /* the index itself is; its upper bound need not be */
	STUDY_ZERO_BOUNDED, /* within: no such index by the percentile method */
	STUDY_BEYOND, /* by counting alone (95 %) more lie beyond a limit than the required
	                 index allows, whatever else is withheld */
	STUDY_FEW_SUBGROUPS, /* too few complete subgroups */
	STUDY_OUT_OF_RANGE,  /* the index is no number that a double can hold */
	STUDY_REASON_COUNT
};
#define STUDY_BIT(reason) (1U << (reason))

enum study_verdict {
	STUDY_CAPABLE, /* stable, and the one-sided 95 % bound is at least the required */
	STUDY_NOT_CAPABLE, /* the one-sided 95 % upper bound is below the required, or too many
	                      lie beyond a limit */
	STUDY_NOT_ESTABLISHED, /* anything else */
};

struct study_index {
	double value;       /* always the computed one */
	double low, high;   /* two-sided 95 % */
	double lower_bound; /* one-sided 95 % */
	double upper_bound; /* likewise: capability_most_pk_df */
	bool quotable;
	unsigned reasons; /* STUDY_BITs, why not */
};

struct study {
	struct description described;
	double *sorted;             /* described.n of them */
	struct quantiles quantiles; /* of the values themselves, type 7 */
	struct moving_ranges moving;
	struct subgroups subgroups; /* size 0: individuals */
	double sigma_within;        /* of the method */
	double within_df;           /* its degrees of freedom */
	/* mean -+ 3 moving.sigma; of a zero-bounded quantity none below zero */
	struct control_limits individuals;
	struct capability c; /* r1, indices, intervals by the normal distribution */
	struct study_index ppk, cpk;
	double pp, ppl, ppu, cp, cpl, cpu, cpm;
	struct interval pp_95, cp_95;
	struct normality normality;
	struct fits fits;
	/* Of the fit that is used and of all that are nearly as likely, widened where the
	 * values depend on their last; NAN: none. */
	struct fit_bounds fit_bounds;
	double expected_below,
	    expected_above; /* shares, 0 ... 1, by the distribution in use */
	size_t observed_below, observed_above;
	double observed_most; /* share beyond: one-sided 95 % upper bound by counting */
	double centre, sigma; /* that rules, EWMA and CUSUM used */
	struct signals signals;
	/* Of any signal in a perfect series of this length; NAN where it is not known: the values
	 * are zero-bounded, or their normality is refused (p < 0.05), or they are rounded to more
	 * than half an sd. */
	double signals_chance;
	struct ewma ewma;
	size_t *ewma_signals; /* ewma.signal_count; NULL: none */
	struct cusum cusum;
	size_t *cusum_signals;
	struct stability stability;
	struct onset onset;
	struct interval steady; /* a value (or mean) beyond fails the first test */
	size_t
	    outliers; /* values beyond what chance gives n of them: outlying.low + .high */
	struct outliers outlying;
	double ppk_without_outliers; /* NAN: there are none */
	double step; /* the smallest between two values: the resolution */
	double
	    rounding; /* the step that all values are whole multiples of; 0: none is seen */
	enum study_verdict verdict;
	unsigned reasons; /* STUDY_BITs */
	double required;
	double
	    needed; /* the index that would show the required one by so many values */
	double lower, upper, target; /* as asked */
	bool zero_bounded;
};

/* NULL when memory is short.  The caller frees: study_free. */
struct study *study_new(const struct study_asked *asked);
void study_free(struct study *study);

/* The distribution in use: of study->fits where the values are zero-bounded or shown not to be
 * normal, else the normal one with mean and sd.  Its parameters are NAN where there is none: there
 * nothing fits, or nothing varies. */
struct fit study_distribution(const struct study *study);

/* There is one, it was not refused, and so many values that its curve may be drawn. */
bool study_has_distribution(const struct study *study);

/*
 * What the verdict rests on: Ppk and its 95 % bounds, or those of the fit that is used
 * where the values are zero-bounded or shown not to be normal; NAN where none fits.  ppk.value is
 * then the normal one all the same (unless they are zero-bounded), and not quotable for
 * STUDY_NOT_NORMAL.  It is of values that nothing fits because a step, a drift or a change of
 * scatter lies in them, or because they are worth too few independent ones: there it describes
 * what was made.  But no verdict rests on it.
 */
struct study_shown {
	double index, least, most;
	double low, high; /* two-sided 95 % */
	bool by_fit;      /* the index is one of percentiles */
	bool quotable;    /* it is there, and nothing of the population withholds it */
};
struct study_shown study_shown(const struct study *study);

#endif
