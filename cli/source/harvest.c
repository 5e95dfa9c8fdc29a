/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/harvest.h"

#include <stdlib.h>
#include <string.h>

#include "cli/source/point.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

void
harvest_init(struct harvest *harvest)
{
	*harvest = (struct harvest){0};
}

void
harvest_clear(struct harvest *harvest)
{
	for (size_t i = 0; i < harvest->count; i++)
		free(harvest->rows[i]);
	harvest->count = 0;
	if (harvest->index != NULL)
		memset(harvest->index, 0,
		    (2 * harvest->room + 1) * sizeof *harvest->index);
}

void
harvest_release(struct harvest *harvest)
{
	harvest_clear(harvest);
	free(harvest->rows);
	free(harvest->index);
	harvest_init(harvest);
}

static bool
is_row(
    const struct harvest_row *row, const char *line, int64_t point_ns, int64_t revision)
{
	return row->point_ns == point_ns && row->shot.revision == revision &&
	       strcmp(row->shot.line, line) == 0;
}

/* The place in the index where the row is, or is to be. */
static size_t *
find_place(
    const struct harvest *harvest, const char *line, int64_t point_ns, int64_t revision)
{
	uint64_t hash = text_hash(line, strlen(line)) ^
	                ((uint64_t)point_ns / 1000000 + (uint64_t)revision * 7919) *
	                    UINT64_C(0x9e3779b97f4a7c15);
	size_t places = 2 * harvest->room + 1, at = (size_t)(hash >> 20) % places;

	while (harvest->index[at] != 0 &&
	       !is_row(harvest->rows[harvest->index[at] - 1], line, point_ns, revision))
		at = (at + 1) % places;
	return &harvest->index[at];
}

static bool
grow(struct harvest *harvest)
{
	size_t room = harvest->room != 0 ? harvest->room * 2 : 64;
	struct harvest_row **rows =
	    reallocarray(harvest->rows, room, sizeof(struct harvest_row *));
	if (rows == NULL)
		return false;
	harvest->rows = rows;
	size_t *index = calloc(2 * room + 1, sizeof *index);
	if (index == NULL)
		return false;
	free(harvest->index);
	harvest->index = index;
	harvest->room = room;
	for (size_t i = 0; i < harvest->count; i++) {
		const struct harvest_row *row = rows[i];
		*find_place(
		    harvest, row->shot.line, row->point_ns, row->shot.revision) = i + 1;
	}
	return true;
}

static struct harvest_row *
add(struct harvest *harvest, const char *line, int64_t point_ns, int64_t revision,
    int *code)
{
	*code = harvest->count < HARVEST_MOST ? ERROR_MEMORY : ERROR_FULL;
	if (*code == ERROR_FULL || (harvest->count == harvest->room && !grow(harvest)))
		return NULL;
	struct harvest_row *row = malloc(sizeof *row);
	if (row == NULL)
		return NULL;
	point_blank(&row->shot, line);
	row->shot.revision = revision;
	row->point_ns = point_ns;
	row->set_up[0] = '\0';
	*find_place(harvest, row->shot.line, point_ns, revision) = harvest->count + 1;
	harvest->rows[harvest->count++] = row;
	return row;
}

struct harvest_row *
harvest_row(struct harvest *harvest, const char *line, int64_t point_ns,
    int64_t revision, int *code)
{
	char name[LEDGER_NAME];
	size_t next = harvest->last + 1;

	text_copy(name, sizeof name, point_tag(line));
	if (next < harvest->count &&
	    is_row(harvest->rows[next], name, point_ns, revision)) {
		harvest->last = next;
		return harvest->rows[next];
	}
	size_t place =
	    harvest->room != 0 ? *find_place(harvest, name, point_ns, revision) : 0;
	if (place != 0) {
		harvest->last = place - 1;
		return harvest->rows[harvest->last];
	}
	harvest->last = harvest->count;
	return add(harvest, name, point_ns, revision, code);
}

static int
compare_numbers(int64_t a, int64_t b)
{
	return (a > b) - (a < b);
}

/* By line and time, the highest revision first. */
static int
compare_revisions(const void *a, const void *b)
{
	const struct harvest_row *one = *(struct harvest_row *const *)a;
	const struct harvest_row *two = *(struct harvest_row *const *)b;
	int order = strcmp(one->shot.line, two->shot.line);

	if (order == 0)
		order = compare_numbers(one->point_ns, two->point_ns);
	return order != 0 ? order
	                  : compare_numbers(two->shot.revision, one->shot.revision);
}

static int
compare_shots(const void *a, const void *b)
{
	const struct ledger_shot *one = &(*(struct harvest_row *const *)a)->shot;
	const struct ledger_shot *two = &(*(struct harvest_row *const *)b)->shot;
	int order = compare_numbers(one->filed_at.ns, two->filed_at.ns);

	if (order == 0)
		order = strcmp(one->line, two->line);
	return order != 0 ? order : compare_numbers(one->shot_no, two->shot_no);
}

void
harvest_finish(struct harvest *harvest)
{
	size_t kept = 0;

	if (harvest->count == 0)
		return;
	qsort(harvest->rows, harvest->count, sizeof(struct harvest_row *),
	    compare_revisions);
	for (size_t i = 0; i < harvest->count; i++) {
		struct harvest_row *row = harvest->rows[i];
		const struct harvest_row *before =
		    kept > 0 ? harvest->rows[kept - 1] : NULL;
		bool is_shot = row->shot.filed_at.ns != 0 && row->shot.shot_no != 0;
		if (!is_shot || (before != NULL && before->point_ns == row->point_ns &&
				    strcmp(before->shot.line, row->shot.line) == 0))
			free(row);
		else
			harvest->rows[kept++] = row;
	}
	harvest->count = kept;
	qsort(
	    harvest->rows, harvest->count, sizeof(struct harvest_row *), compare_shots);
}
