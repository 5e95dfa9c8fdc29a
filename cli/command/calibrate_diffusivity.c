/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_diffusivity.h"

#include <math.h>
#include <stdlib.h>

#include "cli/command/material_source.h"
#include "cli/command/number_option.h"
#include "cli/command/soak_input.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/heat/diffusivity.h"

#define FIRST_GUESS 1e-7 /* m2/s, of a plastic; common practice, no source */
/* Half of the 95 % interval of a thickness measured where the thermocouple is; common
 * practice, no source. */
#define THICKNESS_MEASURED 0.01
/* Neighbouring residuals this alike are no noise; common practice, no source. */
#define CORRELATED 0.5
#define CORRELATION_MOST 0.99
/* Where the model does not fit: thermocouples and pyrometers scatter by less than the
 * first, an interval past the second tells nothing, past the third where residuals go
 * together nobody knows what it is of.  Common practice, no source. */
#define RESIDUAL_MOST_DC 3.0
#define INTERVAL_MOST 0.5
#define INTERVAL_DOUBTED 0.25
#define CORRELATION_DOUBTED 0.9
enum { TOLERANCE_LEAST_PERCENT = 3, READINGS_FEW = 20 };

struct fitting {
	const struct material_settings *material; /* NULL: a bare diffusivity */
	struct substance substance;
	struct soak_file file;
	double depth;
	struct soak_case soak;
	struct diffusivity_fit fit;
	/* derived */
	double half;      /* of the 95 % interval, m2/s */
	double tolerance; /* ratio, that of the thickness within */
	bool fits;
	enum unit unit;
};

/* --- what was measured -------------------------------------------------------------- */

/* From the first reading of a face to the last. */
static enum command_exit
make_case(struct fitting *fitting, const struct call *call)
{
	const struct soak_file *file = &fitting->file;
	struct soak_case *soak = &fitting->soak;
	struct soak_stretch *stretch = &soak->stretches[0];

	soak->substance = &fitting->substance;
	soak->limit_c = NAN;
	soak->start_c = fitting->file.inside.c[0];
	soak->stretch_count = 1;
	*stretch = (struct soak_stretch){.boundary = SOAK_SURFACES,
	    .from_s = file->from_s,
	    .to_s = file->to_s,
	    .top = {fitting->file.top.count, fitting->file.top.s, fitting->file.top.c},
	    .bottom = {fitting->file.bottom.count, fitting->file.bottom.s,
		fitting->file.bottom.c},
	    .exit_top_c = NAN,
	    .exit_bottom_c = NAN};
	return number_option(call, OPTION_START_C, -40, 300, &soak->start_c);
}

/* --- what it says ---------------------------------------------------------------------- */

/* The 97.5 % point of Student's t by its expansion around the normal's: Abramowitz and
 * Stegun, Handbook of Mathematical Functions, 26.7.5. */
static double
student(double df)
{
	const double z = 1.959963984540054;
	const double z3 = z * z * z, z5 = z3 * z * z, z7 = z5 * z * z;

	return z + (z3 + z) / (4 * df) + (5 * z5 + 16 * z3 + 3 * z) / (96 * df * df) +
	       (3 * z7 + 19 * z5 + 17 * z3 - 15 * z) / (384 * df * df * df);
}

/* Residuals that go together are worth fewer readings: by (1 + r)/(1 - r), as of a first
 * order autoregression. */
static void
judge(struct fitting *fitting)
{
	const struct diffusivity_fit *fit = &fitting->fit;
	double r = fmin(fmax(fit->correlation, 0), CORRELATION_MOST);
	double worth = (1 + r) / (1 - r);
	double df = fmax((double)fit->count / worth - 1, 3);
	double thickness = 2 * THICKNESS_MEASURED;

	fitting->half = student(df) * fit->standard_error * sqrt(worth);
	double interval = fitting->half / fit->diffusivity;
	fitting->tolerance = hypot(interval, thickness);
	fitting->fits =
	    fit->residual_dc <= RESIDUAL_MOST_DC && interval <= INTERVAL_MOST &&
	    (interval <= INTERVAL_DOUBTED || fit->correlation <= CORRELATION_DOUBTED);
}

static int
tolerance_percent(const struct fitting *fitting)
{
	double percent = ceil(fitting->tolerance * 100 - 1e-9);

	return (int)fmin(fmax(percent, TOLERANCE_LEAST_PERCENT), 100);
}

static void
write_conductivity(const struct fitting *fitting, struct text *text)
{
	const struct material_curve *curve = &fitting->material->conductivity;

	for (int i = 0; i < curve->count; i++) {
		double value = curve->value[i] * fitting->fit.factor;
		if (curve->count > 1)
			text_printf(text, "%s%g: ", i > 0 ? ", " : "", curve->at_c[i]);
		text_printf(text, "%.4g", value);
	}
}

static void
put_lines(struct page *page, const struct fitting *fitting)
{
	const struct material_settings *material = fitting->material;
	struct text conductivity;

	if (!fitting->fits) {
		enum unit unit = fitting->unit;
		page_note(page, "refused", TONE_BAD,
		    "the model does not fit these readings (residuals of %.1f %s, the "
		    "interval is %.0f %% to either side): no lines for the set-up. "
		    "Look "
		    "at the depth, the thickness, the contact of the thermocouple and "
		    "which column is which.",
		    unit_from_si(unit, DIMENSION_TEMPERATURE_DIFFERENCE,
			fitting->fit.residual_dc),
		    unit_text(unit), fitting->half / fitting->fit.diffusivity * 100);
		return;
	}
	if (!material) {
		page_note(page, NULL, TONE_PLAIN,
		    "no lines for the set-up without --material NAME, whose density "
		    "and "
		    "heat capacity they rest on: use it as --diffusivity %.4g; in a "
		    "[material] it is conductivity "
		    "over density and heat capacity: with these from the sheet's "
		    "maker, write their product with it as conductivity_w_per_mk",
		    fitting->fit.diffusivity);
		return;
	}
	text_init(&conductivity, 1024);
	write_conductivity(fitting, &conductivity);
	const char *words = conductivity.bytes ? conductivity.bytes : "";
	page_note(page, NULL, TONE_PLAIN,
	    "put these into the set-up, the other lines of the material as they are:");
	page_note(page, NULL, TONE_STRONG, "[material %s]", material->name);
	page_note(page, NULL, TONE_STRONG, "conductivity_w_per_mk = %s", words);
	page_note(page, NULL, TONE_STRONG, "diffusivity_tolerance_percent = %d",
	    tolerance_percent(fitting));
	page_field(page, "conductivity_w_per_mk", NULL, cell_words(words));
	text_release(&conductivity);
}

/* A sentence for people and machines. */
static void
put_remark(struct page *page, enum page_tone tone, const char *sentence)
{
	page_open(page, GROUP_ITEM, NULL, NULL);
	page_note(page, NULL, tone, "%s", sentence);
	page_field(page, "text", NULL, cell_words(sentence));
	page_close(page);
}

static void
put_remarks(struct page *page, const struct fitting *fitting, bool start_told)
{
	const struct diffusivity_fit *fit = &fitting->fit;
	char text[400];

	page_open(page, GROUP_LIST, "remarks", NULL);
	put_remark(page, TONE_PLAIN,
	    "only the diffusivity over the square of the thickness can be found from "
	    "such a run: 1 % of thickness is 2 % of diffusivity; measure the thickness "
	    "where the thermocouple is");
	snprintf(text, sizeof text,
	    "the residuals go together (neighbours correlate at %.2f): the model lacks "
	    "something, such as the depth, the contact of the thermocouple or the lag "
	    "of the pyrometers; the interval is widened for it",
	    fit->correlation);
	if (fit->correlation > CORRELATED)
		put_remark(page, TONE_BAD, text);
	snprintf(text, sizeof text,
	    "%zu readings are few: with under %d the interval is itself unsure",
	    fit->count, READINGS_FEW);
	if (fit->count < READINGS_FEW)
		put_remark(page, TONE_BAD, text);
	if (!start_told)
		put_remark(page, TONE_PLAIN,
		    "the sheet is taken to go in at the first reading of the "
		    "thermocouple; --start-c says another");
	if (fitting->file.top.count == 0 || fitting->file.bottom.count == 0)
		put_remark(page, TONE_BAD,
		    "one face was not measured and is taken to be as the other: a "
		    "difference between them goes into the diffusivity, unseen by the "
		    "interval");
	put_remark(page, TONE_PLAIN,
	    "one run tells of one sheet: with another of the same lot, and one of "
	    "another lot, it shows how far that holds");
	page_close(page);
}

static const struct column columns[] = {
    {"diffusivity_m2_per_s", NULL, 0},
    {"standard_error_m2_per_s", NULL, 0},
    {"low_m2_per_s", NULL, 0},
    {"high_m2_per_s", NULL, 0},
    {"conductivity_factor", NULL, 0},
    {"residual_sd_dc", NULL, 0},
    {"residual_correlation", NULL, 0},
    {"readings", NULL, 0},
    {"tolerance", NULL, 0},
};
enum { FIGURES = sizeof columns / sizeof columns[0] };

static void
make_figures(const struct fitting *fitting, struct cell cells[static FIGURES])
{
	const struct diffusivity_fit *fit = &fitting->fit;
	const struct cell made[FIGURES] = {
	    cell_number(fit->diffusivity, 12),
	    cell_number(fit->standard_error, 12),
	    cell_number(fit->diffusivity - fitting->half, 12),
	    cell_number(fit->diffusivity + fitting->half, 12),
	    fitting->material ? cell_number(fit->factor, 4) : cell_absent(NULL),
	    cell_number(fit->residual_dc, 2),
	    cell_number(fit->correlation, 2),
	    cell_count((int64_t)fit->count),
	    cell_number(fitting->tolerance, 3),
	};

	for (int i = 0; i < FIGURES; i++)
		cells[i] = made[i];
}

static void
put_fields(struct page *page, const struct fitting *fitting)
{
	const struct diffusivity_fit *fit = &fitting->fit;
	enum unit unit = fitting->unit;
	char found[160], residual[120];

	snprintf(found, sizeof found,
	    "%.4g m2/s, standard error %.2g; 95 %%: %.4g to %.4g", fit->diffusivity,
	    fit->standard_error, fit->diffusivity - fitting->half,
	    fit->diffusivity + fitting->half);
	snprintf(residual, sizeof residual,
	    "standard deviation %.2f %s over %zu readings, neighbours correlate at "
	    "%.2f",
	    unit_from_si(unit, DIMENSION_TEMPERATURE_DIFFERENCE, fit->residual_dc),
	    unit_text(unit), fit->count, fit->correlation);
	page_field(page, NULL, "diffusivity", cell_words(found));
	if (fitting->material)
		page_field(
		    page, NULL, "conductivity times", cell_number(fit->factor, 3));
	page_field(page, NULL, "residuals", cell_words(residual));
}

static enum command_exit
put(const struct call *call, const struct fitting *fitting)
{
	struct page *page = command_page_of(call, "fit");
	struct cell figures[FIGURES];
	bool start_told = call->option[OPTION_START_C] != NULL;
	enum command_exit code = fitting->fits ? COMMAND_DONE : COMMAND_NO;

	if (!page)
		return COMMAND_CANNOT;
	make_figures(fitting, figures);
	if (call->format == PAGE_CSV) {
		page_table(page, "fit", NULL, columns, FIGURES);
		page_row(page, figures);
		page_table_end(page);
		return command_end_page(call, page, code);
	}
	put_fields(page, fitting);
	for (int i = 0; i < FIGURES; i++)
		page_field(page, columns[i].key, NULL, figures[i]);
	page_field(page, "fits", NULL, cell_truth(fitting->fits));
	page_field(page, "thickness_mm", NULL,
	    cell_number(fitting->soak.thickness_m * 1000, 2));
	page_field(page, "depth", NULL, cell_number(fitting->depth, 2));
	page_field(page, "start_c", NULL, cell_number(fitting->soak.start_c, 1));
	page_field(page, "material", NULL,
	    cell_words(fitting->material ? fitting->material->name : NULL));
	page_field(page, "diffusivity_tolerance_percent", NULL,
	    cell_count(tolerance_percent(fitting)));
	put_remarks(page, fitting, start_told);
	put_lines(page, fitting);
	return command_end_page(call, page, code);
}

/* --- the command -------------------------------------------------------------------------- */

static enum command_exit
fit(struct fitting *fitting, const struct call *call)
{
	const struct soak_history inside = {
	    fitting->file.inside.count, fitting->file.inside.s, fitting->file.inside.c};
	struct error error;

	if (diffusivity_fit(
		&fitting->soak, &inside, fitting->depth, &fitting->fit, &error) != 0) {
		error_prefix(&error, ERROR_INVALID, "'%s'", call->argument[1]);
		return command_cannot(call, &error);
	}
	judge(fitting);
	return put(call, fitting);
}

static enum command_exit
read(struct fitting *fitting, const struct call *call, const struct session *session)
{
	double given;
	enum command_exit code;

	fitting->depth = 0.5;
	fitting->unit =
	    session->settings ? session->settings->temperature : UNIT_CELSIUS;
	if ((code = soak_input_thickness(call, &fitting->soak.thickness_m)) !=
		COMMAND_DONE ||
	    (code = number_option(call, OPTION_DEPTH, 0.02, 0.98, &fitting->depth)) !=
		COMMAND_DONE ||
	    (code = soak_input_substance(&fitting->substance, &fitting->material,
		 &given, call, session, FIRST_GUESS)) != COMMAND_DONE ||
	    (code = soak_file_read(&fitting->file, call, call->argument[1], true)) !=
		COMMAND_DONE)
		return code;
	return make_case(fitting, call);
}

static enum command_exit
work(const struct call *call, const struct session *session)
{
	struct fitting *fitting = calloc(1, sizeof *fitting);
	enum command_exit code;

	if (!fitting) {
		struct error error;
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	code = read(fitting, call, session);
	if (code == COMMAND_DONE)
		code = fit(fitting, call);
	soak_file_release(&fitting->file);
	free(fitting);
	return code;
}

enum command_exit
calibrate_diffusivity(const struct call *call)
{
	static const enum option_id not_here[] = {
	    OPTION_TRANSFER_S, OPTION_AIR_C, OPTION_AT};

	for (size_t i = 0; i < sizeof not_here / sizeof not_here[0]; i++)
		if (call->option[not_here[i]])
			return command_usage(call,
			    "'calibrate diffusivity' takes no '--%s': the faces are "
			    "measured all the while",
			    option_table[not_here[i]].name);
	return material_source_run(call, work);
}
