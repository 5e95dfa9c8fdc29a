/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/agenda.h"

#include <math.h>
#include <stdlib.h>

struct agenda *
agenda_new(size_t count)
{
	struct agenda *agenda =
	    calloc(1, sizeof *agenda + count * sizeof agenda->tasks[0]);

	if (agenda)
		agenda->count = count;
	return agenda;
}

static bool
is_due(const struct task *task, struct mono now)
{
	return task->begun || task->wanted || task->due.ns <= now.ns;
}

static bool
is_before(const struct task *one, const struct task *other)
{
	if (one->period_ns != other->period_ns)
		return one->period_ns < other->period_ns;
	return one->due.ns < other->due.ns;
}

static bool
is_starving(const struct task *task, struct mono now)
{
	return task->wanted || (task->begun && (task->starving || task->hurried)) ||
	       now.ns - task->due.ns >= task->period_ns;
}

/* In periods; one that is wanted goes before all that are late. */
static double
waited_for(const struct task *task, struct mono now)
{
	if (task->wanted || (task->begun && task->hurried))
		return INFINITY;
	return (double)(now.ns - task->due.ns) / (double)task->period_ns;
}

/* The slow task that has waited for most of its periods. */
static size_t
find_starving(const struct agenda *agenda, const struct task *first, struct mono now)
{
	size_t found = agenda->count;
	double most = 0;

	for (size_t i = 0; i < agenda->count; i++) {
		const struct task *task = &agenda->tasks[i];
		double periods = waited_for(task, now);

		if (task->period_ns > first->period_ns && is_due(task, now) &&
		    is_starving(task, now) &&
		    (found == agenda->count || periods > most)) {
			found = i;
			most = periods;
		}
	}
	return found;
}

size_t
agenda_next(struct agenda *agenda, struct mono now)
{
	size_t first = agenda->count, starving;

	for (size_t i = 0; i < agenda->count; i++)
		if (is_due(&agenda->tasks[i], now) &&
		    (first == agenda->count ||
			is_before(&agenda->tasks[i], &agenda->tasks[first])))
			first = i;
	if (first == agenda->count || agenda->favoured)
		return first;
	starving = find_starving(agenda, &agenda->tasks[first], now);
	if (starving == agenda->count)
		return first;
	agenda->favoured = true;
	agenda->favourite = starving;
	return starving;
}

struct mono
agenda_due(const struct agenda *agenda)
{
	struct mono due = agenda->tasks[0].due;

	for (size_t i = 1; i < agenda->count; i++)
		if (agenda->tasks[i].due.ns < due.ns)
			due = agenda->tasks[i].due;
	return due;
}

int64_t
agenda_begin(struct agenda *agenda, size_t index, struct mono now)
{
	struct task *task = &agenda->tasks[index];
	int64_t behind_ns = now.ns - task->due.ns;

	task->begun = true;
	task->hurried = task->wanted;
	task->wanted = false;
	task->extra = behind_ns < 0;
	task->starving = behind_ns >= task->period_ns;
	if (task->extra)
		return -1;
	task->due.ns += behind_ns / task->period_ns * task->period_ns;
	return behind_ns;
}

/* More than 0, at most a period. */
static int64_t
first_step_ns(const struct agenda *agenda, size_t index)
{
	double periods =
	    fmod((double)(index + 1) / (double)agenda->count + agenda->shift, 1);
	int64_t ns = (int64_t)(periods * (double)agenda->tasks[index].period_ns);

	return ns > 0 ? ns : agenda->tasks[index].period_ns;
}

void
agenda_end(struct agenda *agenda, size_t index)
{
	struct task *task = &agenda->tasks[index];
	int64_t step_ns = task->period_ns;

	if (!task->again)
		step_ns = first_step_ns(agenda, index);
	task->again = true;
	task->begun = false;
	if (!task->extra)
		task->due.ns += step_ns;
	if (index != agenda->favourite)
		agenda->favoured = false;
}
