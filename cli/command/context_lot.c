/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/context_lot.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/number_option.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { MEASURE = 64, NEAR_MAX = 256 /* materials that a slip is looked up in */ };

/* Of a cold sheet: the same bounds as in a set-up. */
static enum command_exit
check_measure(const struct call *call, const struct settings *settings,
    enum option_id option, enum dimension dimension, double value_si)
{
	bool length = dimension == DIMENSION_LENGTH;
	double least = length ? SHEET_LEAST_MM * 1e-3 : SHEET_COLDEST_C;
	double most = length ? SHEET_MOST_MM * 1e-3 : SHEET_WARMEST_C;
	enum unit unit = unit_shown(dimension, settings->temperature);

	if (value_si >= least && value_si <= most)
		return COMMAND_DONE;
	return command_usage(call, "'--%s' is %.4g %s, must be %g %s to %g %s",
	    option_table[option].name, unit_from_si(unit, dimension, value_si),
	    unit_text(unit), unit_from_si(unit, dimension, least), unit_text(unit),
	    unit_from_si(unit, dimension, most), unit_text(unit));
}

static enum command_exit
read_measure(const struct call *call, const struct settings *settings,
    enum option_id option, enum dimension dimension, double *value_si)
{
	enum command_exit code = measure_option(call, option, dimension, value_si);

	return code != COMMAND_DONE || isnan(*value_si)
	           ? code
	           : check_measure(call, settings, option, dimension, *value_si);
}

static enum command_exit
read_material(
    const struct call *call, const struct settings *settings, struct ledger_lot *lot)
{
	const char *name = call->option[OPTION_MATERIAL], *names[NEAR_MAX];
	size_t count = 0;

	if (!name || !*name)
		return COMMAND_DONE;
	if (settings_material(settings, name)) {
		text_copy(lot->material, sizeof lot->material, name);
		return COMMAND_DONE;
	}
	while (count < settings->material_count && count < NEAR_MAX) {
		names[count] = settings->materials[count].name;
		count++;
	}
	const char *near = text_nearest(name, names, count);
	return command_usage(call, "the set-up has no material '%s'%s%s%s", name,
	    near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
}

enum command_exit
context_lot_read(
    const struct call *call, const struct settings *settings, struct lot_said *said)
{
	*said = (struct lot_said){
	    .lot = {.thickness_m = NAN, .stack_c = NAN},
	    .thickness = call->option[OPTION_THICKNESS] != NULL,
	    .stack = call->option[OPTION_STACK] != NULL,
	    .material = call->option[OPTION_MATERIAL] != NULL,
	};
	struct ledger_lot *lot = &said->lot;
	enum command_exit code = read_measure(
	    call, settings, OPTION_THICKNESS, DIMENSION_LENGTH, &lot->thickness_m);

	if (code == COMMAND_DONE)
		code = read_measure(
		    call, settings, OPTION_STACK, DIMENSION_TEMPERATURE, &lot->stack_c);
	return code != COMMAND_DONE ? code : read_material(call, settings, lot);
}

bool
context_lot_given(const struct lot_said *said)
{
	return said->thickness || said->stack || said->material;
}

static void
tell_change(
    const struct call *call, const char *was, const char *now, const char *lot_name)
{
	command_tell(call, "note: was %s; now %s, for all shots of lot %s", was,
	    *now ? now : "as the set-up says", lot_name);
}

/* "6.35 mm"; "" when it is not known. */
static void
describe(const struct settings *settings, enum dimension dimension, double value_si,
    char text[static MEASURE])
{
	struct cell cell = shown_channel(settings, dimension, value_si);

	*text = '\0';
	if (!isnan(value_si))
		snprintf(text, MEASURE, "%.*f %s", cell.digits, cell.shown,
		    unit_text(unit_shown(dimension, settings->temperature)));
}

/* What replaces another does so for shots that were made before, too. */
static void
tell_replaced(const struct call *call, const struct settings *settings,
    enum dimension dimension, double was_si, double now_si, const char *lot_name)
{
	char was[MEASURE], now[MEASURE];

	if (isnan(was_si) || fabs(now_si - was_si) < 1e-9)
		return;
	describe(settings, dimension, was_si, was);
	describe(settings, dimension, now_si, now);
	tell_change(call, was, now, lot_name);
}

int
context_lot_put(const struct call *call, struct ledger *ledger,
    const struct session *session, const struct lot_said *said, int64_t *relabelled,
    struct error *error)
{
	struct ledger_lot known = {0}, row = said->lot;
	int code = ledger_read_lot(session->ledger, row.name, &known, error);

	if (code != 0)
		return code;
	if (!said->thickness)
		row.thickness_m = known.thickness_m;
	if (!said->stack)
		row.stack_c = known.stack_c;
	if (!said->material)
		text_copy(row.material, sizeof row.material, known.material);
	if ((code = ledger_put_lot(ledger, &row, relabelled, error)) != 0)
		return code;
	tell_replaced(call, session->settings, DIMENSION_LENGTH, known.thickness_m,
	    row.thickness_m, row.name);
	tell_replaced(call, session->settings, DIMENSION_TEMPERATURE, known.stack_c,
	    row.stack_c, row.name);
	if (*known.material && strcmp(row.material, known.material) != 0)
		tell_change(call, known.material, row.material, row.name);
	return 0;
}

/* --- shots that were made before ----------------------------------------------------- */

struct earlier {
	const char *lot;
	struct wall from; /* the first entry of the lot on any line; ns 0: none */
	int64_t shots;
};

static int
take_entry(void *arg, const struct ledger_context *entry)
{
	struct earlier *earlier = arg;

	if (strcmp(entry->key, context_key_text(CONTEXT_LOT)) != 0 ||
	    strcmp(entry->value, earlier->lot) != 0)
		return 0;
	earlier->from = entry->from; /* they come in the order of time */
	return 1;
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct earlier *earlier = arg;

	earlier->shots += strcmp(shot->lot, earlier->lot) == 0;
	return 0;
}

static bool
is_known(const struct session *session, const char *name)
{
	struct ledger_lot lot;
	struct error error;

	return ledger_read_lot(session->ledger, name, &lot, &error) == 0 &&
	       (!isnan(lot.thickness_m) || !isnan(lot.stack_c) || *lot.material);
}

void
context_lot_remark_earlier(
    const struct call *call, const struct session *session, const struct lot_said *said)
{
	static const int none;
	struct earlier earlier = {.lot = said->lot.name};
	struct error error;

	if ((!context_lot_given(said) && !is_known(session, earlier.lot)) ||
	    ledger_read_context(session->ledger, NULL, take_entry, &earlier, &error) !=
		0 ||
	    earlier.from.ns == 0)
		return;
	const struct ledger_filter filter = {
	    .from = earlier.from, .by_time = true, .features = &none};
	if (ledger_read_shots(
		session->ledger, &filter, false, take_shot, &earlier, &error) == 0 &&
	    earlier.shots > 0)
		fprintf(call->err,
		    "evensoak: note: shots of lot %s on file: %" PRId64
		    "; 'evensoak recompute' makes those whose readings are kept again "
		    "with what is known of the lot now\n",
		    earlier.lot, earlier.shots);
}

/* --- showing ------------------------------------------------------------------------- */

struct cell
context_lot_thickness(const struct settings *settings, const struct ledger_lot *lot)
{
	return shown_channel(settings, DIMENSION_LENGTH, lot->thickness_m);
}

struct cell
context_lot_stack(const struct settings *settings, const struct ledger_lot *lot)
{
	return shown_channel(settings, DIMENSION_TEMPERATURE, lot->stack_c);
}

struct cell
context_lot_material(const struct ledger_lot *lot)
{
	return shown_name(lot->material);
}

void
context_lot_fields(
    struct page *page, const struct settings *settings, const struct ledger_lot *lot)
{
	char thickness[MEASURE], stack[MEASURE];
	enum unit length = unit_shown(DIMENSION_LENGTH, settings->temperature);

	snprintf(thickness, sizeof thickness, "lot's thickness %s", unit_text(length));
	snprintf(
	    stack, sizeof stack, "lot's stack %s", unit_text(settings->temperature));
	page_field(page, "lot_thickness_m", isnan(lot->thickness_m) ? NULL : thickness,
	    context_lot_thickness(settings, lot));
	page_field(page, "lot_stack_c", isnan(lot->stack_c) ? NULL : stack,
	    context_lot_stack(settings, lot));
	page_field(page, "lot_material", *lot->material ? "lot's material" : NULL,
	    context_lot_material(lot));
}
