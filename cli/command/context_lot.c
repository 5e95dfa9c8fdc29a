/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/context_lot.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/shown.h"
#include "conf/value.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { MEASURE = 64, NEAR_MAX = 256 /* materials that a slip is looked up in */ };

/* Of sheets for thermoforming; common practice, no source. */
static const double thickness_least_m = 0.5e-3, thickness_most_m = 25e-3;

static enum command_exit
read_measure(const struct call *call, enum option_id option, enum dimension dimension,
    double *value_si)
{
	char measure[MEASURE];
	struct error error;

	*value_si = NAN;
	if (!call->option[option])
		return COMMAND_DONE;
	snprintf(measure, sizeof measure, "%s%s%s", call->option[option],
	    call->unit[option] ? " " : "",
	    call->unit[option] ? call->unit[option] : "");
	if (value_measure(measure, dimension, value_si, &error) == 0)
		return COMMAND_DONE;
	return command_usage(
	    call, "'--%s' is '%s': %s", option_table[option].name, measure, error.text);
}

static enum command_exit
read_material(
    const struct call *call, const struct settings *settings, struct ledger_lot *lot)
{
	const char *name = call->option[OPTION_MATERIAL], *names[NEAR_MAX];
	size_t count = 0;

	if (!name)
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
    const struct call *call, const struct settings *settings, struct ledger_lot *lot)
{
	*lot = (struct ledger_lot){.thickness_m = NAN, .stack_c = NAN};
	enum command_exit code =
	    read_measure(call, OPTION_THICKNESS, DIMENSION_LENGTH, &lot->thickness_m);

	if (code == COMMAND_DONE)
		code = read_measure(
		    call, OPTION_STACK, DIMENSION_TEMPERATURE, &lot->stack_c);
	return code != COMMAND_DONE ? code : read_material(call, settings, lot);
}

bool
context_lot_given(const struct ledger_lot *lot)
{
	return !isnan(lot->thickness_m) || !isnan(lot->stack_c) || *lot->material;
}

/* A figure that replaces another does so for shots that were made before, too. */
static void
tell_replaced(const struct call *call, const struct settings *settings,
    enum dimension dimension, double was_si, const struct ledger_lot *lot,
    double now_si)
{
	const char *unit = unit_text(unit_shown(dimension, settings->temperature));
	struct cell was = shown_channel(settings, dimension, was_si);
	struct cell now = shown_channel(settings, dimension, now_si);

	if (isnan(was_si) || isnan(now_si) || fabs(now_si - was_si) < 1e-9)
		return;
	fprintf(call->err,
	    "evensoak: note: was %.*f %s; now %.*f %s, for all shots of lot %s\n",
	    was.digits, was.shown, unit, now.digits, now.shown, unit, lot->name);
}

static void
tell_unlikely(const struct call *call, const struct ledger_lot *lot)
{
	if (lot->thickness_m < thickness_least_m || lot->thickness_m > thickness_most_m)
		fprintf(call->err,
		    "evensoak: note: %.2f mm is no usual thickness of a sheet: most "
		    "have %.1f to %.0f mm\n",
		    lot->thickness_m * 1e3, thickness_least_m * 1e3,
		    thickness_most_m * 1e3);
}

int
context_lot_put(const struct call *call, struct ledger *ledger,
    const struct session *session, const struct ledger_lot *lot, struct error *error)
{
	struct ledger_lot known = {0}, row = *lot;
	int code = ledger_read_lot(session->ledger, lot->name, &known, error);

	if (code != 0)
		return code;
	if (isnan(row.thickness_m))
		row.thickness_m = known.thickness_m;
	if (isnan(row.stack_c))
		row.stack_c = known.stack_c;
	if (!*row.material)
		text_copy(row.material, sizeof row.material, known.material);
	if ((code = ledger_put_lot(ledger, &row, NULL, error)) != 0)
		return code;
	tell_replaced(call, session->settings, DIMENSION_LENGTH, known.thickness_m, lot,
	    lot->thickness_m);
	tell_replaced(call, session->settings, DIMENSION_TEMPERATURE, known.stack_c,
	    lot, lot->stack_c);
	if (*known.material && strcmp(row.material, known.material) != 0)
		fprintf(call->err,
		    "evensoak: note: was %s; now %s, for all shots of lot %s\n",
		    known.material, row.material, lot->name);
	tell_unlikely(call, lot);
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

void
context_lot_remark_earlier(const struct call *call, const struct session *session,
    const struct ledger_lot *lot)
{
	static const int none;
	struct earlier earlier = {.lot = lot->name};
	struct ledger_lot known;
	struct error error;

	if (ledger_read_lot(session->ledger, lot->name, &known, &error) != 0 ||
	    !context_lot_given(&known) ||
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
		    lot->name, earlier.shots);
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
