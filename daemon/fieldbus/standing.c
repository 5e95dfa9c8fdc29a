/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/standing.h"

#include "daemon/base/log.h"
#include "daemon/base/text.h"

void
standing_init(struct standing *standing, const char *device)
{
	*standing = (struct standing){.device = device};
}

static void
tell_recovery(const struct standing *standing, struct mono at)
{
	char lasted[TEXT_DURATION];

	text_from_duration(at.ns - standing->failing_since.ns, lasted);
	log_info("device '%s' answers again after %s, %lld reads failed",
	    standing->device, lasted, (long long)standing->failures);
}

static void
tell(const struct standing *standing, enum scan_outcome outcome, struct mono at,
    const char *why)
{
	switch (outcome) {
	case SCAN_OUTCOME_FULL:
		if (standing->failures)
			tell_recovery(standing, at);
		else
			log_info("device '%s' answers", standing->device);
		break;
	case SCAN_OUTCOME_PART:
		log_warnx("device '%s' answers in part: %s", standing->device, why);
		break;
	case SCAN_OUTCOME_SILENT:
		log_warnx("device '%s' silent: %s", standing->device, why);
		break;
	}
}

static const int64_t steady_ns = 600 * CLOCK_SECOND_NS;
static const int64_t hours_ns = 6 * 3600 * CLOCK_SECOND_NS;
static const int64_t day_ns = 86400 * CLOCK_SECOND_NS;

static const char *
how_long(const struct standing *standing)
{
	return standing->for_hours ? "6 h" : "10 min";
}

/* False: it has changed too often to be told of. */
static bool
is_steady(struct standing *standing, struct mono at)
{
	bool spent = allowance_is_spent(&standing->day, at, STANDING_DAY);

	if (standing->untold == 0 && at.ns - standing->told_since.ns >= steady_ns) {
		standing->told = 0;
		standing->told_since = at;
	}
	if (standing->untold == 0 && !spent && standing->told++ < STANDING_CHANGES)
		return true;
	if (standing->untold++ > 0)
		return false;
	standing->for_hours = spent;
	standing->said_at = at;
	log_warnx(
	    "device '%s' comes and goes: told again once it has stayed as it is for "
	    "%s",
	    standing->device, how_long(standing));
	return false;
}

/* Whether it has stayed for long enough since it came and went. */
static bool
has_settled(const struct standing *standing, struct mono at)
{
	int64_t wanted_ns = standing->for_hours ? hours_ns : steady_ns;

	return standing->untold > 0 && at.ns - standing->changed_at.ns >= wanted_ns;
}

/* A line a day. */
static void
remind(struct standing *standing, struct mono at)
{
	if (standing->untold == 0 || at.ns - standing->said_at.ns < day_ns)
		return;
	standing->said_at = at;
	log_warnx("device '%s' still comes and goes: %lld more changes",
	    standing->device, (long long)standing->untold);
}

static void
settle(struct standing *standing)
{
	log_info("device '%s' has stayed as it is for %s, after %lld more changes",
	    standing->device, how_long(standing), (long long)standing->untold);
	standing->untold = standing->told = 0;
}

static void
tell_of_day(struct standing *standing, enum scan_outcome outcome, struct mono at,
    const char *why)
{
	(void)allowance_take(&standing->day, at, STANDING_DAY);
	tell(standing, outcome, at, why);
}

void
standing_note(struct standing *standing, enum scan_outcome outcome, struct mono at,
    const char *why)
{
	if (!standing->known || standing->outcome != outcome) {
		standing->changed_at = at;
		if (is_steady(standing, at))
			tell_of_day(standing, outcome, at, why);
	} else if (has_settled(standing, at)) {
		settle(standing);
		tell_of_day(standing, outcome, at, why);
	}
	remind(standing, at);
	standing->known = true;
	standing->outcome = outcome;
	if (outcome == SCAN_OUTCOME_FULL)
		standing->failures = 0;
	else if (standing->failures++ == 0)
		standing->failing_since = at;
}
