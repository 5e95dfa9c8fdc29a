/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/duty_log.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>

#include <math.h>

bool
duty_is_on(const struct duty_state *state, int bit)
{
	return state->on >> bit & 1;
}

bool
duty_is_known(const struct duty_state *state, int bit)
{
	return state->known >> bit & 1;
}

bool
duty_pulse_next(
    const struct duty_log *log, int bit, size_t *from, struct duty_pulse *pulse)
{
	const struct duty_state *states = log->states;
	bool risen = false;

	for (size_t i = *from > 0 ? *from : 1; i < log->count; i++) {
		bool known = duty_is_known(&states[i - 1], bit) &&
		             duty_is_known(&states[i], bit);

		if (!known)
			risen = false;
		else if (!duty_is_on(&states[i - 1], bit) &&
			 duty_is_on(&states[i], bit)) {
			risen = true;
			pulse->rise = i;
		} else if (risen && !duty_is_on(&states[i], bit)) {
			pulse->fall = i;
			*from = i;
			return true;
		}
	}
	return false;
}

double
duty_span_s(const struct duty_log *log, size_t from, size_t to)
{
	return (double)(log->states[to].at.ns - log->states[from].at.ns) /
	       (double)CLOCK_SECOND_NS;
}

size_t
duty_rises(const struct duty_log *log, int bit)
{
	size_t count = 0;

	for (size_t i = 1; i < log->count; i++)
		count += duty_is_known(&log->states[i - 1], bit) &&
		         duty_is_known(&log->states[i], bit) &&
		         !duty_is_on(&log->states[i - 1], bit) &&
		         duty_is_on(&log->states[i], bit);
	return count;
}

bool
duty_is_constant(const struct duty_log *log, int bit)
{
	bool seen[2] = {false, false};

	for (size_t i = 0; i < log->count; i++)
		if (duty_is_known(&log->states[i], bit))
			seen[duty_is_on(&log->states[i], bit)] = true;
	return !(seen[0] && seen[1]);
}

/* NAN when there is none. */
static double
median(double *values, size_t count)
{
	gsl_sort(values, 1, count);
	return count > 0 ? gsl_stats_median_from_sorted_data(values, 1, count) : NAN;
}

double
duty_pulse_s(const struct duty_log *log, int bit)
{
	double lengths_s[DUTY_LOG];
	struct duty_pulse pulse;
	size_t from = 0, count = 0;

	while (duty_pulse_next(log, bit, &from, &pulse))
		lengths_s[count++] = duty_span_s(log, pulse.rise, pulse.fall);
	return median(lengths_s, count);
}

double
duty_gap_s(const struct duty_log *log, int a, bool rise, int b)
{
	double gaps_s[DUTY_LOG];
	struct duty_pulse one, again, next;
	size_t from = 0, count = 0;

	while (duty_pulse_next(log, a, &from, &one)) {
		size_t begin = rise ? one.rise : one.fall;
		size_t after = begin, later = one.fall;

		if (duty_pulse_next(log, b, &after, &next) &&
		    (!duty_pulse_next(log, a, &later, &again) ||
			next.rise <= again.rise))
			gaps_s[count++] = duty_span_s(log, begin, next.rise);
	}
	return median(gaps_s, count);
}

bool
duty_was_on(
    const struct duty_log *log, const struct duty_pulse *pulse, int bit, double share)
{
	double on_s = 0.0;

	for (size_t i = pulse->rise; i < pulse->fall; i++)
		if (duty_is_on(&log->states[i], bit))
			on_s += duty_span_s(log, i, i + 1);
	return on_s >= share * duty_span_s(log, pulse->rise, pulse->fall);
}

bool
duty_has_edge(const struct duty_log *log, const struct duty_pulse *pulse, int bit,
    bool rise, double slack_s)
{
	for (size_t i = 1; i < log->count; i++)
		if (duty_span_s(log, i, pulse->rise) <= slack_s &&
		    duty_span_s(log, pulse->fall, i) <= slack_s &&
		    duty_is_on(&log->states[i], bit) == rise &&
		    duty_is_on(&log->states[i - 1], bit) != rise)
			return true;
	return false;
}

bool
duty_changes(
    const struct duty_log *log, const struct duty_pulse *pulse, int bit, double slack_s)
{
	for (size_t i = pulse->rise + 1; i < pulse->fall; i++)
		if (duty_span_s(log, pulse->rise, i) > slack_s &&
		    duty_span_s(log, i, pulse->fall) > slack_s &&
		    duty_is_on(&log->states[i], bit) !=
			duty_is_on(&log->states[i - 1], bit))
			return true;
	return false;
}
