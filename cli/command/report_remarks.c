/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/report_remarks.h"

#include "cli/command/found.h"
#include "cli/command/remark.h"
#include "cli/source/source.h"
#include "cli/stats/capability.h"

void
report_remarks_put(struct page *page, const struct session *session)
{
	page_open(page, GROUP_OBJECT, "remarks", "Remarks");
	page_note(page, "limits", TONE_PLAIN, "Limits: from the set-up %s%s, hash %s.",
	    session->filed ? "filed newest in " : "", session->settings->path,
	    session->settings->hash);
	page_note(page, "verdicts", TONE_PLAIN,
	    "Capable: stable, and Ppk is at least what is required, with 95 %% "
	    "confidence. Not capable: with that confidence Ppk is below it, or more "
	    "shots are outside than it allows, by counting alone. Not established: "
	    "neither is shown; it speaks neither against the parts nor for them. What "
	    "is not stable has a performance over the shots at hand and no capability "
	    "(ISO 22514-1). Polling: a duration that scatters no more than polling "
	    "leaves of it; its index says more about polling than about the line.");
	page_note(page, "stability", TONE_PLAIN,
	    "Not stable: a shot too far out, too many in a row on one side of the "
	    "mean, "
	    "or a weighted mean of the last ones that strays too far; the three bounds "
	    "are set for the number of shots, so that a perfect series is called so in "
	    "5 %% of cases. It need not be outside a limit: the shots do not promise "
	    "what the next ones will be, so no index of them is a promise.");
	page_note(page, "statistics", TONE_PLAIN,
	    "Statistics use complete shots only; recipes, tools and lots are not "
	    "pooled. Whether values are normal is tested (Anderson-Darling). Spreads "
	    "cannot fall below zero: their Ppk is by percentiles of the likeliest "
	    "distribution that fits (ISO 22514-2), and they have no Cpk. ppm: "
	    "what the distribution has outside the limits; no such number of shots "
	    "could show it. Patterns point at shots to look at; the chance is that of "
	    "any of them in a perfect series of that length.");
	page_note(page, "intervals", TONE_PLAIN,
	    "In brackets: 95 %% intervals, two-sided; Cp and Pp by chi-square, Cpk and "
	    "Ppk after Bissell (Applied Statistics 39:331-340, 1990). Ppk at least: "
	    "one-sided 95 %% bound by the noncentral t. r1: lag-1 autocorrelation. "
	    "Where r1 is above its bound, the intervals of Pp and Ppk are those of a "
	    "first-order autoregressive series: wider, lower by the bias of its s, and "
	    "approximate; Ppk at least is then a normal bound, as approximate. Too "
	    "dependent: worth fewer than %d independent values.",
	    CAPABILITY_LEAST_EFFECTIVE);
	if (page_draws(page))
		page_note(page, "control_limits", TONE_PLAIN,
		    "In pictures, limits are what the customer takes; control limits "
		    "are what the process does, three deviations from its mean by the "
		    "spread from shot to shot. A shot beyond a control limit is worth "
		    "a "
		    "look and no reject.");
	found_put_words(page);
	page_note(page, "energy", TONE_PLAIN,
	    "Energies of zones are estimated from their outputs and rated power; "
	    "meter_kwh alone is measured.");
	page_note(page, "gaps", TONE_PLAIN,
	    "What was not logged is unknown: a gap is no evidence of good parts. In "
	    "'evensoak shots', " REMARK_GAP ".");
	page_note(page, "program", TONE_FAINT, "evensoak " EVENSOAK_VERSION ", %s",
	    source_name(session->source));
	page_close(page);
}
