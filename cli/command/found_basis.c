/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/found_basis.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define SAME_THICKNESS_MM 0.005

/* Of what is computed with them. */
static const int computed[] = {FEATURE_CORE_HEAT_END_C, FEATURE_CORE_HEAT_END_BAND_DC,
    FEATURE_SHEET_MEAN_HEAT_END_C, FEATURE_SHEET_MEAN_HEAT_END_BAND_DC,
    FEATURE_SURFACE_CORE_DC, FEATURE_SURFACE_CORE_BAND_DC, FEATURE_SOAK_INDEX,
    FEATURE_FOURIER, FEATURE_CORE_FORM_START_C, FEATURE_CORE_FORM_START_BAND_DC,
    FEATURE_SHEET_MEAN_FORM_START_C, FEATURE_SHEET_MEAN_FORM_START_BAND_DC,
    FEATURE_ABOVE_LIMIT_S, FEATURE_HEAT_BROUGHT_KWH, FEATURE_HEAT_BALANCE};
enum { COMPUTED = sizeof computed / sizeof computed[0] };

/* --- lists of words, each once -------------------------------------------------------- */

static bool
has(const char *list, const char *word)
{
	size_t length = strlen(word);

	for (const char *at = list; length > 0 && (at = strstr(at, word)); at++)
		if ((at == list || (at[-1] == ' ' && at[-2] == ',')) &&
		    (at[length] == '\0' || at[length] == ','))
			return true;
	return false;
}

static void
add(char list[static BASIS_TEXT], const char *word)
{
	size_t used = strlen(list);

	if (*word && !has(list, word))
		snprintf(
		    list + used, BASIS_TEXT - used, "%s%s", used ? ", " : "", word);
}

static void
add_thickness(char list[static BASIS_TEXT], double thickness_mm)
{
	char word[32];

	if (!isfinite(thickness_mm))
		return;
	snprintf(word, sizeof word, "%.2f mm", thickness_mm);
	add(list, word);
}

/* --- the reference's shots as they were frozen ------------------------------------------ */

struct frozen_basis {
	const struct found_series *frozen;
	const struct kind *kind;
	char *properties;
	size_t at;      /* of the frozen ones, the next */
	int64_t remade; /* the first shot that was made again since; 0: none was */
	char remade_properties[2 * LEDGER_NAME]; /* that it has now */
};

static bool
is_same(double a, double b)
{
	return (isnan(a) && isnan(b)) || fabs(a - b) < 1e-6;
}

/* A shot that still has the core that was frozen has the properties too. */
static int
take_now(void *arg, const struct ledger_shot *shot)
{
	struct frozen_basis *basis = arg;
	const struct found_series *frozen = basis->frozen;
	const struct kind kind = kind_of(shot);
	size_t i = basis->at;

	if (!kind_same(&kind, basis->kind))
		return 0;
	while (i < frozen->count && frozen->shots[i].shot_no != shot->shot_no)
		i++;
	if (i == frozen->count)
		return 0;
	basis->at = i + 1;
	if (is_same(frozen->shots[i].value[FEATURE_CORE_HEAT_END_C],
		shot->value[FEATURE_CORE_HEAT_END_C]))
		add(basis->properties, shot->properties);
	else if (basis->remade == 0) {
		basis->remade = shot->id;
		text_copy(basis->remade_properties, sizeof basis->remade_properties,
		    shot->properties);
	}
	return 0;
}

struct earlier_basis {
	struct wall frozen;
	char properties[BASIS_TEXT];
};

/* The newest first: the last that comes was replaced first after the freeze. */
static int
take_earlier(void *arg, const struct ledger_earlier *earlier)
{
	struct earlier_basis *basis = arg;

	if (strcmp(earlier->feature, "properties") == 0 &&
	    earlier->until.ns > basis->frozen.ns)
		text_copy(basis->properties, sizeof basis->properties, earlier->text);
	return 0;
}

static int
read_then(struct found_basis *basis, const struct session *session,
    const struct reference_known *reference, const struct found_series *frozen,
    struct error *error)
{
	static const int features[] = {FEATURE_CORE_HEAT_END_C};
	struct frozen_basis reading = {.frozen = frozen,
	    .kind = &reference->kind,
	    .properties = basis->properties_then};
	const struct ledger_filter filter = {.line = reference->kind.line,
	    .from = reference->from,
	    .to = {reference->to.ns + 1},
	    .by_time = true,
	    .features = features,
	    .feature_count = 1};
	int code = ledger_read_shots(
	    session->ledger, &filter, false, take_now, &reading, error);

	if (code == 0 && reading.remade != 0) {
		struct earlier_basis earlier = {.frozen = reference->frozen};
		code = ledger_read_earlier(
		    session->ledger, reading.remade, take_earlier, &earlier, error);
		/* made again for something else, it has those that it had */
		add(basis->properties_then, *earlier.properties
						? earlier.properties
						: reading.remade_properties);
	}
	for (size_t i = 0; i < frozen->count; i++)
		add_thickness(basis->thickness_then,
		    frozen->shots[i].value[FEATURE_SHEET_THICKNESS_MM]);
	return code;
}

/* --- and these ------------------------------------------------------------------------------ */

/* The thickness that sheets of a lot were computed with, the newest; NAN. */
static double
thickness_of(const struct found_series *series, const char *lot)
{
	double thickness = NAN;

	for (size_t i = 0; i < series->count; i++)
		if (strcmp(series->labels[i].lot, lot) == 0 &&
		    isfinite(series->shots[i].value[FEATURE_SHEET_THICKNESS_MM]))
			thickness = series->shots[i].value[FEATURE_SHEET_THICKNESS_MM];
	return thickness;
}

static bool
is_computed_alike(const struct found_basis *basis, const struct found_series *frozen,
    const struct found_series *series, size_t i)
{
	const struct found_series_labels *labels = &series->labels[i];
	double then = thickness_of(frozen, labels->lot);
	double now = series->shots[i].value[FEATURE_SHEET_THICKNESS_MM];

	if (*labels->properties && *basis->properties_then &&
	    strcmp(labels->properties, basis->properties_then) != 0)
		return false;
	return !(fabs(now - then) > SAME_THICKNESS_MM);
}

static void
compare(struct found_basis *basis, const struct found_series *frozen,
    struct found_series *series)
{
	bool alike = true;

	for (size_t i = 0; i < series->count; i++) {
		double *value = series->shots[i].value;
		bool as_before =
		    i > 0 &&
		    strcmp(series->labels[i].lot, series->labels[i - 1].lot) == 0 &&
		    strcmp(series->labels[i].properties,
			series->labels[i - 1].properties) == 0 &&
		    is_same(value[FEATURE_SHEET_THICKNESS_MM],
			series->shots[i - 1].value[FEATURE_SHEET_THICKNESS_MM]);
		if (!as_before)
			alike = is_computed_alike(basis, frozen, series, i);
		add(basis->properties_now, series->labels[i].properties);
		add_thickness(basis->thickness_now, value[FEATURE_SHEET_THICKNESS_MM]);
		if (alike || isnan(value[FEATURE_CORE_HEAT_END_C]))
			continue;
		basis->not_compared++;
		for (int k = 0; k < COMPUTED; k++)
			value[computed[k]] = NAN;
	}
}

int
found_basis_read(struct found_basis *basis, const struct session *session, int line,
    const struct found_held *held, struct error *error)
{
	const struct calibrate_span span = {.from = held->reference->to,
	    .known = held->reference->frozen,
	    .to = held->series->shots[held->last].at};

	*basis = (struct found_basis){0};
	int code = calibrate_since(session->settings, line, session->ledger, &span,
	    basis->calibrated_since, error);
	if (code == 0)
		code = read_then(basis, session, held->reference, held->frozen, error);
	if (code == 0)
		compare(basis, held->frozen, held->series);
	return code;
}

/* --- what a finding rests on --------------------------------------------------------------- */

static bool
is_of_water(int feature)
{
	return (feature >= FEATURE_TOOL_MEAN_C && feature <= FEATURE_FORM_COVERAGE) ||
	       feature >= FEATURE_WATER_RISE_FIRST;
}

static bool
is_water_sensor(const struct channel_settings *channel)
{
	return channel->role == ROLE_TOOL || channel->role == ROLE_WATER_SUPPLY ||
	       channel->role == ROLE_WATER_RETURN || channel->role == ROLE_WATER_FLOW;
}

/* Whether one of its figures may have moved by what the channel is corrected by: those of
 * the water by its sensors, those of the sheet by all others. */
static bool
rests_on(
    const struct finding *finding, const struct settings *settings, const char *channel)
{
	int64_t index = calibrate_find(settings, channel);

	if (index < 0)
		return true;
	for (int i = 0; i < finding->evidence_count; i++)
		if (finding->evidence[i].moved &&
		    is_of_water(finding->evidence[i].feature) ==
			is_water_sensor(&settings->channels[index]))
			return true;
	return false;
}

static void
remark_calibrated(const struct found_basis *basis, const struct settings *settings,
    struct finding *finding, char remark[static FOUND_REMARK])
{
	char words[CALIBRATE_WORDS], first[CALIBRATE_NAME] = "", more[32] = "",
				     *rest = NULL;
	/* cut short: there may be others */
	bool all = strlen(basis->calibrated_since) + CALIBRATE_NAME >= CALIBRATE_WORDS;
	int count = 0;

	text_copy(words, sizeof words, basis->calibrated_since);
	for (char *word = strtok_r(words, ", ", &rest); word;
	     word = strtok_r(NULL, ", ", &rest))
		if ((all || rests_on(finding, settings, word)) && count++ == 0)
			text_copy(first, sizeof first, word);
	if (count == 0)
		return;
	if (count > 1)
		snprintf(more, sizeof more, " and %d more", count - 1);
	finding->sure = FINDING_POSSIBLE;
	snprintf(remark, FOUND_REMARK,
	    "Possible at most: its figures rest on %s%s, calibrated otherwise than "
	    "when "
	    "the reference was frozen; that alone may be all of it.",
	    first, more);
}

/* What is entered of the lot's thickness may be the cause that was found. */
static int
remark_thickness(const struct session *session, const struct found_series *series,
    const struct finding *finding, char remark[static FOUND_REMARK],
    struct error *error)
{
	struct ledger_lot lot = {.thickness_m = NAN};
	double before = thickness_of(series, finding->lot_before);
	int code = ledger_read_lot(session->ledger, finding->lot, &lot, error);
	double now = isfinite(lot.thickness_m) ? lot.thickness_m * 1000
	                                       : thickness_of(series, finding->lot);

	if (code != 0 || !(fabs(now - before) > SAME_THICKNESS_MM))
		return code;
	if ((now > before) == finding->up)
		snprintf(remark, FOUND_REMARK,
		    "%.2f mm is entered for lot %s against %.2f mm of lot %s: that "
		    "explains it.",
		    now, finding->lot, before, finding->lot_before);
	else
		snprintf(remark, FOUND_REMARK,
		    "%.2f mm is entered for lot %s against %.2f mm of lot %s, which is "
		    "the other way: measure again.",
		    now, finding->lot, before, finding->lot_before);
	return 0;
}

int
found_basis_remark(const struct found_basis *basis, const struct session *session,
    const struct found_series *series, struct finding *finding,
    char remark[static FOUND_REMARK], struct error *error)
{
	remark[0] = '\0';
	if (*basis->calibrated_since)
		remark_calibrated(basis, session->settings, finding, remark);
	if (!*remark && *finding->lot && *finding->lot_before &&
	    (finding->cause == FINDING_LOT_THICKNESS || finding->cause == FINDING_LOT))
		return remark_thickness(session, series, finding, remark, error);
	return 0;
}
