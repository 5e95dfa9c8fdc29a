/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/compare_kind.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/judgement.h"
#include "cli/population/kin.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

struct judging {
	struct compare_kind *kind;
	const struct compare_kind_asked *asked;
	struct found_series frozen;
	struct found_basis found;
	double *then, *now;          /* room for a feature's values */
	int64_t *then_nos, *now_nos; /* of all shots */
	bool failed;
};

/* --- the reference run ---------------------------------------------------------------------- */

static int
take_frozen(void *arg, const struct ledger_reference_shot *shot)
{
	struct judging *judging = arg;
	struct findings_shot kept = {
	    .shot_no = shot->shot_no, .at = shot->filed_at, .usual = true};

	memcpy(kept.value, shot->value, sizeof kept.value);
	judging->failed = !found_series_add(&judging->frozen, &kept, shot->lot, "");
	return judging->failed;
}

static int
find_reference(struct judging *judging, struct error *error)
{
	struct compare_kind *kind = judging->kind;
	struct ledger_read *ledger = judging->asked->session->ledger;
	const char *name = judging->asked->reference;
	struct reference_known *known = &kind->reference;
	char words[KIND_TEXT], other[KIND_TEXT];
	int code = name ? reference_named(known, ledger, name, error)
	                : reference_newest(known, ledger, &kind->kind, error);

	if (code != 0)
		return code;
	kind_words(&kind->kind, words);
	if (known->id == 0) {
		snprintf(kind->trouble, sizeof kind->trouble,
		    "no reference run is frozen for %s: evensoak reference freeze NAME "
		    "--line %s, over a time in which all was well",
		    words, kind->kind.line);
	} else if (!kind_same(&known->kind, &kind->kind)) {
		kind_words(&known->kind, other);
		snprintf(kind->trouble, sizeof kind->trouble,
		    "reference run %s is of line %s, %s; these shots are of line %s, "
		    "%s: not held against it",
		    known->name, known->kind.line, other, kind->kind.line, words);
	}
	return 0;
}

static int
compare_numbers(const void *a, const void *b)
{
	const int64_t *x = a, *y = b;

	return (*x > *y) - (*x < *y);
}

/* A run is not held against itself. */
static bool
leave_out_own(struct judging *judging)
{
	struct found_series *series = &judging->kind->series;
	size_t kept = 0, count = judging->frozen.count;
	int64_t *own = calloc(count + 1, sizeof *own);

	if (!own)
		return false;
	for (size_t i = 0; i < count; i++)
		own[i] = judging->frozen.shots[i].shot_no;
	qsort(own, count, sizeof *own, compare_numbers);
	for (size_t i = 0; i < series->count; i++) {
		if (bsearch(&series->shots[i].shot_no, own, count, sizeof *own,
			compare_numbers))
			continue;
		series->shots[kept] = series->shots[i];
		series->labels[kept++] = series->labels[i];
	}
	judging->kind->own = series->count - kept;
	series->count = kept;
	free(own);
	return true;
}

static int
read_reference(struct judging *judging, struct error *error)
{
	struct compare_kind *kind = judging->kind;
	int code = ledger_read_reference_shots(judging->asked->session->ledger,
	    kind->reference.id, take_frozen, judging, error);

	if (code == 0 && (judging->failed || !leave_out_own(judging)))
		return found_series_too_many(error);
	if (code == 0 && kind->series.count < COMPARISON_LEAST)
		snprintf(kind->trouble, sizeof kind->trouble,
		    kind->own > 0 ? "%zu shots beside the reference's own: at least %d "
				    "are needed; say a later time"
				  : "%zu complete shots: at least %d are needed; say a "
				    "longer time",
		    kind->series.count, COMPARISON_LEAST);
	return code;
}

/* --- a feature -------------------------------------------------------------------------------- */

static size_t
column(const struct found_series *series, int feature, double *values, int64_t *nos)
{
	size_t there = 0;

	for (size_t i = 0; i < series->count; i++) {
		values[i] = series->shots[i].value[feature];
		nos[i] = series->shots[i].shot_no;
		there += isfinite(values[i]);
	}
	return there;
}

static bool
refuse(struct compare_kind *kind, int feature, const char *reason)
{
	struct report_compare_refused *refused =
	    reallocarray(kind->refused, kind->refused_count + 1, sizeof *refused);

	if (!refused)
		return false;
	kind->refused = refused;
	refused[kind->refused_count].feature = feature;
	text_copy(refused[kind->refused_count++].reason, REPORT_COMPARE_REASON, reason);
	return true;
}

static bool
add(struct judging *judging, int feature, const struct limit_settings *limit)
{
	struct compare_kind *kind = judging->kind;
	struct comparison_asked asked = {
	    .feature = feature,
	    .then = {judging->then, judging->then_nos, judging->frozen.count},
	    .now = {judging->now, judging->now_nos, kind->series.count},
	    .margin = judging->asked->margin,
	};
	struct comparison *list =
	    reallocarray(kind->list, kind->count + 1, sizeof *list);

	if (!list)
		return false;
	kind->list = list;
	judgement_limits(limit, feature, &asked.lower, &asked.upper);
	return comparison_make(&list[kind->count++], &asked);
}

static bool
refuse_few(struct compare_kind *kind, int feature, size_t then, size_t now)
{
	char reason[REPORT_COMPARE_REASON];

	snprintf(reason, sizeof reason,
	    "%zu values in the reference run, %zu in these shots: at least %d are "
	    "needed of both",
	    then, now, COMPARISON_LEAST);
	return refuse(kind, feature, reason);
}

static int
judge_feature(struct judging *judging, struct compare_basis *basis, int feature,
    struct error *error)
{
	struct compare_kind *kind = judging->kind;
	const struct limit_settings *limit =
	    settings_limit(judging->asked->session->settings, feature,
		population_recipe(kind->kind.recipe), kind->kind.tool);
	size_t then =
	    column(&judging->frozen, feature, judging->then, judging->then_nos);
	size_t now = column(&kind->series, feature, judging->now, judging->now_nos);
	char reason[REPORT_COMPARE_REASON];
	bool wanted = judging->asked->feature >= 0
	                  ? feature == judging->asked->feature
	                  : then > 0 && (limit || kin_is_input(feature));

	if (!wanted)
		return 0;
	int code = compare_basis_reason(basis, feature, reason, error);
	if (code != 0)
		return code;
	bool done = *reason ? refuse(kind, feature, reason)
	            : then < COMPARISON_LEAST || now < COMPARISON_LEAST
	                ? refuse_few(kind, feature, then, now)
	                : add(judging, feature, limit);
	return done ? 0 : found_series_too_many(error);
}

/* --- all ------------------------------------------------------------------------------------------- */

static int
judge_features(struct judging *judging, struct error *error)
{
	struct compare_kind *kind = judging->kind;
	const struct compare_kind_asked *asked = judging->asked;
	const struct found_held held = {
	    &kind->reference, &judging->frozen, &kind->series, kind->series.count - 1};
	int code = found_basis_read(
	    &judging->found, asked->session, asked->line, &held, error);

	if (code != 0)
		return code;
	const struct compare_basis_asked about = {.session = asked->session,
	    .line = asked->line,
	    .reference = &kind->reference,
	    .setups = &kind->setups,
	    .last = kind->series.shots[kind->series.count - 1].at,
	    .found = &judging->found};
	struct compare_basis *basis = compare_basis_new(&about, error);
	if (!basis)
		return ERROR_IO;
	for (int id = 0; id < FEATURE_COUNT && code == 0; id++)
		code = judge_feature(judging, basis, id, error);
	compare_basis_free(basis);
	return code;
}

static bool
make_room(struct judging *judging)
{
	size_t then = judging->frozen.count + 1, now = judging->kind->series.count + 1;

	judging->then = calloc(then, sizeof *judging->then);
	judging->now = calloc(now, sizeof *judging->now);
	judging->then_nos = calloc(then, sizeof *judging->then_nos);
	judging->now_nos = calloc(now, sizeof *judging->now_nos);
	return judging->then && judging->now && judging->then_nos && judging->now_nos;
}

int
compare_kind_judge(struct compare_kind *kind, const struct compare_kind_asked *asked,
    struct error *error)
{
	struct judging judging = {.kind = kind, .asked = asked};
	int code = find_reference(&judging, error);

	if (code == 0 && !*kind->trouble)
		code = read_reference(&judging, error);
	if (code == 0 && !*kind->trouble && !make_room(&judging))
		code = found_series_too_many(error);
	if (code == 0 && !*kind->trouble)
		code = judge_features(&judging, error);
	if (code == 0 && !*kind->trouble)
		code = compare_set_points_judge(kind, asked, error);
	found_series_release(&judging.frozen);
	free(judging.then);
	free(judging.now);
	free(judging.then_nos);
	free(judging.now_nos);
	return code;
}

void
compare_kind_release(struct compare_kind *kind)
{
	found_series_release(&kind->series);
	free(kind->list);
	free(kind->refused);
	free(kind->set_point_list);
	*kind = (struct compare_kind){0};
}
