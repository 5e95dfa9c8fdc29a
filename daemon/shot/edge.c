/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/edge.h"

#include <math.h>

#include "conf/settings.h"

struct mono
edge_time(const struct edge *edge)
{
	return (struct mono){edge->before.ns + (edge->at.ns - edge->before.ns) / 2};
}

double
edge_uncertainty_s(const struct edge *edge)
{
	return (double)(edge->at.ns - edge->before.ns) / (double)CLOCK_SECOND_NS;
}

double
edge_span_s(const struct edge *from, const struct edge *to)
{
	if (!from->known || !to->known)
		return NAN;
	return (double)(edge_time(to).ns - edge_time(from).ns) /
	       (double)CLOCK_SECOND_NS;
}

bool
bit_level(const struct channel_settings *channel, double value, bool was)
{
	double sign = channel->on_si < channel->off_si ? -1.0 : 1.0;

	if (isnan(channel->on_si))
		return value != 0.0;
	if (sign * value >= sign * channel->on_si)
		return true;
	return sign * value > sign * channel->off_si && was;
}

void
bit_init(struct bit *bit, double debounce_s)
{
	*bit = (struct bit){
	    .debounce_ns = (int64_t)(debounce_s * (double)CLOCK_SECOND_NS)};
}

enum bit_change
bit_take(struct bit *bit, bool level, struct mono sent, struct mono at,
    struct wall wall, struct edge *edge)
{
	if (!bit->known || level == bit->level) {
		bit->known = true;
		bit->level = level;
		bit->seen = sent;
		bit->pending = false;
		return BIT_SAME;
	}
	if (!bit->pending) {
		bit->pending = true;
		bit->first =
		    (struct edge){.known = true, .before = bit->seen, .at = at};
		bit->first.wall.ns = wall.ns - (at.ns - edge_time(&bit->first).ns);
	}
	if (at.ns - bit->first.at.ns < bit->debounce_ns)
		return BIT_SAME;
	*edge = bit->first;
	bit->level = level;
	bit->seen = sent;
	bit->pending = false;
	return level ? BIT_ROSE : BIT_FELL;
}
