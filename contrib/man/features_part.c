/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The catalogue of features. */
#include "contrib/man/parts.h"

#include <stdbool.h>
#include <string.h>

#include "conf/feature.h"
#include "contrib/man/mdoc.h"
#include "daemon/base/error.h"

static int told[FEATURE_COUNT]; /* in how many lists it stood */

/* "exit_top_1_c", where several that differ by their number follow: and the last. */
static int
last_of_family(int id)
{
	int first, of, last = id;

	if (feature_family(id, &first) == FAMILY_NONE)
		return id;
	while (last + 1 < FEATURE_COUNT &&
	       feature_family(last + 1, &of) != FAMILY_NONE && of == first)
		last++;
	return last;
}

static void
put_feature(FILE *out, int id, int last)
{
	const struct feature *feature = feature_get(id);
	const char *unit = feature_unit_text(id);
	bool bare = strcmp(unit, "1") == 0;
	char facts[96];

	fprintf(out, ".It Ic %s", feature->name);
	if (last > id)
		fprintf(out, " No to Ic %s", feature_get(last)->name);
	snprintf(facts, sizeof facts, "%s%sversion %d", bare ? "" : unit,
	    bare ? "" : "; ", feature->version);
	fputs(" Pq", out);
	mdoc_argument(out, facts);
	fputs("\n", out);
	mdoc_sentence(out, feature->meaning);
}

int
part_features(FILE *out, const char *argument, struct error *error)
{
	char name[64];
	size_t length = strcspn(argument, " ");
	int from, to;

	snprintf(name, sizeof name, "%.*s", (int)length, argument);
	from = feature_find(name);
	to = feature_find(argument + length + strspn(argument + length, " "));
	if (from < 0 || to < from)
		return error_set(error, ERROR_INVALID,
		    "no features from '%s': name the first and the last of a list, in "
		    "the "
		    "order of enum feature_id",
		    argument);
	fputs(".Bl -tag -width Ds\n", out);
	for (int id = from; id <= to;) {
		int last = last_of_family(id);
		put_feature(out, id, last);
		while (id <= last)
			told[id++]++;
	}
	fputs(".El\n", out);
	return 0;
}

int
part_features_end(FILE *out, const char *argument, struct error *error)
{
	(void)out;
	(void)argument;
	for (int id = 0; id < FEATURE_COUNT; id++)
		if (told[id] != 1)
			return error_set(error, ERROR_INVALID,
			    "the feature '%s' stands in %d lists of this page: widen "
			    "one "
			    "of its '@features' lines",
			    feature_get(id)->name, told[id]);
	return 0;
}
