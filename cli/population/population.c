/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/population.h"

#include <assert.h>
#include <ctype.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "cli/source/source.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* --- growing ------------------------------------------------------------------ */

/* Room for one more of `size` bytes in `*list`; a zeroed new one, or NULL. */
static void *
add_zeroed(void **list, size_t count, size_t size)
{
	/* a power of two of them: grown when that is full */
	if ((count & (count - 1)) == 0) {
		void *grown = reallocarray(*list, count ? count * 2 : 1, size);
		if (!grown)
			return NULL;
		*list = grown;
	}
	void *added = (char *)*list + count * size;
	memset(added, 0, size);
	return added;
}

bool
numbers_add(struct numbers *numbers, int64_t number)
{
	if (numbers->count == numbers->room) {
		size_t room = numbers->room ? numbers->room * 2 : 16;
		int64_t *list = reallocarray(numbers->list, room, sizeof *list);
		if (!list)
			return false;
		numbers->list = list;
		numbers->room = room;
	}
	numbers->list[numbers->count++] = number;
	return true;
}

void
numbers_text(const struct numbers *numbers, struct text *text)
{
	for (size_t i = 0; i < numbers->count;) {
		int64_t first = numbers->list[i], last = first;
		while (++i < numbers->count && numbers->list[i] == last + 1)
			last++;
		text_printf(text, "%s%" PRId64, text->length ? ", " : "", first);
		if (last > first)
			text_printf(text, "-%" PRId64, last);
	}
}

/* --- one shot ------------------------------------------------------------------ */

static struct population *
find_population(struct populations *all, const struct ledger_shot *shot)
{
	void *list = all->list;

	/* mostly that of the shot before: from the end */
	for (size_t i = all->count; i-- > 0;) {
		struct population *one = &all->list[i];
		if (strcmp(one->recipe, shot->recipe) == 0 &&
		    strcmp(one->tool, shot->tool) == 0 &&
		    strcmp(one->lot, shot->lot) == 0 &&
		    strcmp(one->material, shot->material) == 0)
			return one;
	}
	struct population *added = add_zeroed(&list, all->count, sizeof *added);
	if (!added)
		return NULL;
	all->list = list;
	all->count++;
	text_copy(added->recipe, sizeof added->recipe, shot->recipe);
	text_copy(added->tool, sizeof added->tool, shot->tool);
	text_copy(added->lot, sizeof added->lot, shot->lot);
	text_copy(added->material, sizeof added->material, shot->material);
	added->first = shot->filed_at;
	added->features = all->features;
	return added;
}

static bool
add_complete(struct population *population, const struct ledger_shot *shot)
{
	size_t row = population->complete.count, width = population->features->count;

	if (row == population->room) {
		size_t room = population->room ? population->room * 2 : 64;
		double *values =
		    reallocarray(population->values, room, width * sizeof *values);
		if (!values)
			return false;
		population->values = values;
		unsigned char *absent = reallocarray(population->absent, room, width);
		if (!absent)
			return false;
		population->absent = absent;
		struct wall *filed_at =
		    reallocarray(population->filed_at, room, sizeof *filed_at);
		if (!filed_at)
			return false;
		population->filed_at = filed_at;
		population->room = room;
	}
	population->filed_at[row] = shot->filed_at;
	for (size_t i = 0; i < width; i++) {
		int id = population->features->list[i];
		population->values[row * width + i] = shot->value[id];
		population->absent[row * width + i] = shot->absent[id];
	}
	population->uncertainty_s +=
	    (shot->uncertainty_s - population->uncertainty_s) / (double)(row + 1);
	return numbers_add(&population->complete, shot->shot_no);
}

/* "no sag after 231 s" and "... 229 s" are one reason: each number becomes N. */
static void
generalize(const char *reason, char general[static 128])
{
	size_t length = 0;

	while (*reason && length + 1 < 128) {
		if (!isdigit((unsigned char)*reason)) {
			general[length++] = *reason++;
			continue;
		}
		general[length++] = 'N';
		while (isdigit((unsigned char)*reason) ||
		       (*reason == '.' && isdigit((unsigned char)reason[1])))
			reason++;
	}
	general[length] = '\0';
}

static struct left_out *
find_left_out(struct populations *all, const struct ledger_shot *shot)
{
	char general[sizeof shot->reason];
	void *list = all->left_out;

	generalize(shot->reason, general);
	for (size_t i = 0; i < all->left_out_count; i++) {
		struct left_out *one = &all->left_out[i];
		if (one->outcome != shot->outcome || strcmp(one->general, general) != 0)
			continue;
		if (strcmp(one->reason, shot->reason) != 0)
			text_copy(one->reason, sizeof one->reason, general);
		return one;
	}
	struct left_out *added = add_zeroed(&list, all->left_out_count, sizeof *added);
	if (!added)
		return NULL;
	all->left_out = list;
	all->left_out_count++;
	added->outcome = shot->outcome;
	text_copy(added->reason, sizeof added->reason, shot->reason);
	text_copy(added->general, sizeof added->general, general);
	return added;
}

static bool
add_left_out(struct populations *all, const struct ledger_shot *shot)
{
	struct left_out *one = find_left_out(all, shot);

	return one && numbers_add(&one->shots, shot->shot_no);
}

static bool
count_setup(struct populations *all, int64_t setup)
{
	void *list = all->setups;

	for (size_t i = all->setup_count; i-- > 0;)
		if (all->setups[i].setup == setup) {
			all->setups[i].shots++;
			return true;
		}
	struct setup_use *added = add_zeroed(&list, all->setup_count, sizeof *added);
	if (!added)
		return false;
	all->setups = list;
	all->setup_count++;
	*added = (struct setup_use){.setup = setup, .shots = 1};
	return true;
}

static bool
is_chosen(const struct population_chosen *chosen, const struct ledger_shot *shot)
{
	return (!chosen->recipe || strcmp(chosen->recipe, shot->recipe) == 0) &&
	       (!chosen->tool || strcmp(chosen->tool, shot->tool) == 0) &&
	       (!chosen->lot || strcmp(chosen->lot, shot->lot) == 0);
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct populations *all = arg;

	if (!is_chosen(all->chosen, shot)) {
		all->others++;
		all->failed = !lacking_add(&all->missing, shot);
		return all->failed;
	}
	struct population *population = find_population(all, shot);
	all->shots++;
	all->by_outcome[shot->outcome]++;
	if (!population || !count_setup(all, shot->setup) ||
	    !lacking_add(&all->missing, shot) ||
	    !(shot->outcome == SHOT_COMPLETE ? add_complete(population, shot)
					     : add_left_out(all, shot))) {
		all->failed = true;
		return 1;
	}
	population->shots++;
	population->last = shot->filed_at;
	return 0;
}

/* --- all ------------------------------------------------------------------------ */

void
population_features_add(struct population_features *features, int feature)
{
	for (size_t i = 0; i < features->count; i++)
		if (features->list[i] == feature)
			return;
	features->list[features->count++] = feature;
}

int
populations_read(struct populations *populations, struct source *source,
    const struct population_asked *asked, struct error *error)
{
	const struct population_chosen any = {NULL, NULL, NULL};

	return populations_read_chosen(populations, source, asked, &any, error);
}

int
populations_read_chosen(struct populations *populations, struct source *source,
    const struct population_asked *asked, const struct population_chosen *chosen,
    struct error *error)
{
	const struct ledger_filter filter = {
	    .line = asked->line,
	    .from = asked->from,
	    .to = asked->to,
	    .by_time = true,
	    .features = asked->features->list,
	    .feature_count = asked->features->count,
	};

	*populations =
	    (struct populations){.features = asked->features, .chosen = chosen};
	int code =
	    source_read_shots(source, &filter, true, take_shot, populations, error);
	populations->chosen = NULL;
	if (code == 0 && populations->failed)
		return error_set(error, ERROR_MEMORY,
		    "out of memory after %" PRId64 " shots: say a shorter time",
		    populations->shots);
	const struct lacking_asked missing = {asked->line, asked->from, asked->to};
	return code == 0 ? lacking_find(&populations->missing, source, &missing, error)
	                 : code;
}

void
populations_release(struct populations *populations)
{
	for (size_t i = 0; i < populations->count; i++) {
		free(populations->list[i].complete.list);
		free(populations->list[i].filed_at);
		free(populations->list[i].values);
		free(populations->list[i].absent);
	}
	for (size_t i = 0; i < populations->left_out_count; i++)
		free(populations->left_out[i].shots.list);
	free(populations->list);
	free(populations->left_out);
	free(populations->setups);
	lacking_release(&populations->missing);
	*populations = (struct populations){0};
}

size_t
population_column(const struct population *population, int feature)
{
	const struct population_features *features = population->features;
	size_t column = 0;

	while (column < features->count && features->list[column] != feature)
		column++;
	assert(column < features->count);
	return column;
}

void
population_series(
    const struct population *population, int feature, double *values, bool *breaks)
{
	const int64_t *numbers = population->complete.list;
	size_t column = population_column(population, feature),
	       width = population->features->count;

	for (size_t i = 0; i < population->complete.count; i++) {
		values[i] = population->values[i * width + column];
		breaks[i] = i == 0 || numbers[i] != numbers[i - 1] + 1;
	}
}

int
population_recipe(const char *recipe)
{
	int64_t number;

	if (!text_integer(recipe, &number) || number < 0 || number > INT32_MAX)
		return -1;
	return (int)number;
}
