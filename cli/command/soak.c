/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <math.h>
#include <stdlib.h>

#include "cli/command/material_source.h"
#include "cli/command/soak_course.h"
#include "cli/command/soak_drawing.h"
#include "cli/command/soak_input.h"
#include "cli/command/soak_remarks.h"
#include "daemon/base/error.h"

/* What was asked and what came out. */
struct soaking {
	struct soak_input input;
	struct soak_result result;
	struct soak_course course;
	enum unit unit; /* of temperatures, for people */
};

/* --- figures ---------------------------------------------------------------------- */

static struct cell
temperature(enum unit unit, double c)
{
	return cell_shown(c, unit_from_si(unit, DIMENSION_TEMPERATURE, c), 1);
}

static struct cell
band(enum unit unit, double dc)
{
	struct cell cell =
	    cell_shown(dc, unit_from_si(unit, DIMENSION_TEMPERATURE_DIFFERENCE, dc), 1);

	cell.tone = TONE_FAINT;
	return cell;
}

/* Over the heat, with the diffusivity between the start and the surfaces. */
static double
diffusivity_of(const struct soaking *soaking)
{
	const struct soak_input *input = &soaking->input;
	const struct soak_state *end = &soaking->result.state[input->heat_end];
	double low_c = input->soak.start_c;
	double high_c = (end->surface_top_c + end->surface_bottom_c) / 2;

	if (!input->material)
		return input->diffusivity;
	return substance_diffusivity(
	    &input->substance, fmin(low_c, high_c), fmax(low_c, high_c));
}

static void
put_state(struct page *page, const struct soaking *soaking, size_t stretch)
{
	const struct soak_state *state = &soaking->result.state[stretch];
	const struct soak_band *of = &soaking->result.band[stretch];
	const struct {
		const char *key;
		double c;
	} figures[] = {
	    {"core_c", state->core_c},
	    {"mean_c", state->mean_c},
	    {"quarter_top_c", state->quarter_top_c},
	    {"quarter_bottom_c", state->quarter_bottom_c},
	    {"surface_top_c", state->surface_top_c},
	    {"surface_bottom_c", state->surface_bottom_c},
	};

	for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++)
		page_field(page, figures[i].key, NULL, cell_number(figures[i].c, 1));
	page_open(page, GROUP_OBJECT, "band_c", NULL);
	page_field(page, "low", NULL, cell_number(state->core_c - of->core_dc, 1));
	page_field(page, "high", NULL, cell_number(state->core_c + of->core_dc, 1));
	page_close(page);
	page_field(page, "mean_band_dc", NULL, cell_number(of->mean_dc, 1));
	page_field(
	    page, "surface_core_band_dc", NULL, cell_number(of->surface_core_dc, 1));
}

/* --- what was asked ------------------------------------------------------------------- */

static void
put_material(struct page *page, const struct soaking *soaking)
{
	const struct material_settings *material = soaking->input.material;
	char figures[160];

	page_field(
	    page, "material", NULL, cell_words(material ? material->name : NULL));
	page_open(page, GROUP_OBJECT, "properties", NULL);
	page_field(page, "version", NULL,
	    cell_words(material && *material->version ? material->version : NULL));
	page_field(page, "hash", NULL, cell_words(material ? material->hash : NULL));
	page_field(page, "diffusivity_m2_per_s", NULL,
	    cell_number(diffusivity_of(soaking), 12));
	page_field(page, "diffusivity_tolerance", NULL,
	    cell_number(soaking->input.soak.tolerances.diffusivity, 3));
	page_close(page);
	if (!material)
		return;
	snprintf(figures, sizeof figures, "%s (%s)",
	    *material->version ? material->version : "without a version",
	    material->hash);
	page_field(page, NULL, "figures", cell_words(figures));
}

/* For machines: halves of 95 % intervals that the band is computed with. */
static void
put_tolerances(struct page *page, const struct soak_tolerances *tolerances)
{
	const struct {
		const char *key;
		double value;
	} figures[] = {
	    {"thickness", tolerances->thickness},
	    {"diffusivity", tolerances->diffusivity},
	    {"surface_dc", tolerances->surface_dc},
	    {"gain", tolerances->gain},
	    {"start_dc", tolerances->start_dc},
	    {"lag_s", tolerances->lag_s},
	    {"side_dc", tolerances->side_dc},
	    {"transfer", tolerances->free_air},
	    {"air_dc", tolerances->free_air_dc},
	};

	page_open(page, GROUP_OBJECT, "tolerances", NULL);
	for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++)
		page_field(
		    page, figures[i].key, NULL, cell_number(figures[i].value, 3));
	page_close(page);
}

static void
put_asked(
    struct page *page, const struct soaking *soaking, const struct soak_words *words)
{
	const struct soak_input *input = &soaking->input;
	char heated[240], way[80], longer[40] = "";

	if (input->longer_s > 0)
		snprintf(longer, sizeof longer, ", then %g s held", input->longer_s);
	snprintf(heated, sizeof heated, "%.12g to %.12g s of '%.120s'%s",
	    input->file.from_s, input->heat_end_s - input->longer_s, input->file.name,
	    longer);
	page_field(page, "file", NULL, cell_words(input->file.name));
	page_field(page, NULL, "sheet", cell_words(words->sheet));
	put_material(page, soaking);
	page_field(page, NULL, "heated", cell_words(heated));
	if (input->transfer_s > 0) {
		snprintf(way, sizeof way, "%g s through air of %.1f %s",
		    input->transfer_s,
		    unit_from_si(soaking->unit, DIMENSION_TEMPERATURE, input->air_c),
		    unit_text(soaking->unit));
		page_field(page, NULL, "then", cell_words(way));
	}
	page_field(
	    page, "thickness_mm", NULL, cell_number(input->soak.thickness_m * 1000, 2));
	page_field(page, "start_c", NULL, cell_number(input->soak.start_c, 1));
	page_field(page, "heat_start_s", NULL, cell_number(input->file.from_s, 1));
	page_field(page, "heat_end_s", NULL, cell_number(input->heat_end_s, 1));
	page_field(page, "longer_s", NULL, cell_number(input->longer_s, 1));
	page_field(page, "transfer_s", NULL, cell_number(input->transfer_s, 1));
	page_field(
	    page, "transfer_w_per_m2k", NULL, cell_number(SOAK_TRANSFER_W_M2K, 1));
	page_field(page, "air_c", NULL, cell_number(input->air_c, 1)); /* NAN: none */
	page_field(page, "at_s", NULL, cell_number(input->end_s, 1));
	put_tolerances(page, &input->soak.tolerances);
}

/* --- what came out ---------------------------------------------------------------------- */

/* For people: from face to face, as the heat ends and at the form. */
static void
put_profile(struct page *page, const struct soaking *soaking)
{
	size_t heat_end = soaking->input.heat_end;
	size_t last = soaking->input.soak.stretch_count - 1;
	bool way = last > heat_end;
	enum unit unit = soaking->unit;
	char heading[60], end_title[32], form_title[32];
	const struct column columns[] = {
	    {NULL, "", 0},
	    {NULL, end_title, 0},
	    {NULL, "+-", 0},
	    {NULL, way ? form_title : NULL, 0},
	    {NULL, way ? "+-" : NULL, 0},
	};
	static const struct {
		const char *place;
		size_t offset;
	} rows[] = {
	    {"top face", offsetof(struct soak_state, surface_top_c)},
	    {"quarter", offsetof(struct soak_state, quarter_top_c)},
	    {"core", offsetof(struct soak_state, core_c)},
	    {"quarter", offsetof(struct soak_state, quarter_bottom_c)},
	    {"bottom face", offsetof(struct soak_state, surface_bottom_c)},
	    {"mean", offsetof(struct soak_state, mean_c)},
	};

	snprintf(heading, sizeof heading, "Through the thickness, %s", unit_text(unit));
	snprintf(end_title, sizeof end_title, "heat ends");
	snprintf(form_title, sizeof form_title, "at the form");
	page_table(page, NULL, heading, columns, sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct cell cells[5] = {cell_words(rows[i].place)};
		for (size_t part = 0; part < 2; part++) {
			size_t at = part == 0 ? heat_end : last;
			const struct soak_state *state = &soaking->result.state[at];
			const struct soak_band *of = &soaking->result.band[at];
			const double *c =
			    (const double *)(const void *)((const char *)state +
							   rows[i].offset);
			cells[1 + 2 * part] = temperature(unit, *c);
			cells[2 + 2 * part] =
			    c == &state->core_c   ? band(unit, of->core_dc)
			    : c == &state->mean_c ? band(unit, of->mean_dc)
						  : cell_absent("");
		}
		if (rows[i].offset == offsetof(struct soak_state, core_c))
			cells[0].tone = cells[1].tone = cells[3].tone = TONE_STRONG;
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_remarks(struct page *page, const struct soaking *soaking)
{
	page_open(page, GROUP_LIST, "remarks", NULL);
	for (int which = 0; which < SOAK_REMARK_COUNT; which++) {
		char text[SOAK_REMARK_TEXT];
		enum page_tone tone;
		soak_remark((enum soak_remark)which, &soaking->input, &soaking->result,
		    soaking->unit, text, &tone);
		if (!*text)
			continue;
		page_open(page, GROUP_ITEM, NULL, NULL);
		page_note(page, NULL, tone, "%s", text);
		page_field(page, "text", NULL, cell_words(text));
		page_close(page);
	}
	page_close(page);
}

static void
put_figures(struct page *page, const struct soaking *soaking)
{
	const struct soak_input *input = &soaking->input;
	size_t last = input->soak.stretch_count - 1;
	double fourier = soak_fourier(diffusivity_of(soaking), input->soak.thickness_m,
	    input->heat_end_s - input->file.from_s);

	double index =
	    soak_index(&soaking->result.state[input->heat_end], input->soak.start_c);
	struct cell shown =
	    cell_shown(index, unit_from_si(UNIT_PERCENT, DIMENSION_RATIO, index), 1);

	put_state(page, soaking, last);
	page_field(page, "soak_index", NULL, shown); /* of the heat, as fourier is */
	page_field(page, "fourier", NULL, cell_number(fourier, 2));
	page_field(
	    page, "above_limit_s", NULL, cell_number(soaking->result.above_limit_s, 0));
	page_open(page, GROUP_OBJECT, "heat_end", NULL);
	put_state(page, soaking, input->heat_end);
	page_close(page);
	put_profile(page, soaking);
	page_field(page, NULL, "soak index as the heat ends, %", shown);
	page_field(page, NULL, "Fourier number", cell_number(fourier, 2));
}

static enum command_exit
put_page(const struct call *call, const struct soaking *soaking,
    const struct soak_words *words)
{
	struct page *page = command_page(call);

	if (!page)
		return COMMAND_CANNOT;
	if (call->format == PAGE_CSV) {
		soak_course_put(&soaking->course, page);
		return command_end_page(call, page, COMMAND_DONE);
	}
	page_title(page, words->sheet);
	page_note(page, NULL, TONE_STRONG, "%s", words->core);
	if (page_draws(page))
		soak_drawing_put(&soaking->input, &soaking->course, &soaking->result,
		    words, soaking->unit, page);
	put_asked(page, soaking, words);
	put_figures(page, soaking);
	put_remarks(page, soaking);
	return command_end_page(call, page, COMMAND_DONE);
}

/* --- the command -------------------------------------------------------------------------- */

static enum command_exit
put(const struct call *call, const struct soaking *soaking)
{
	struct soak_words words;

	soak_words_make(&words, &soaking->input, &soaking->result, soaking->unit);
	return put_page(call, soaking, &words);
}

static enum command_exit
compute(const struct call *call, struct soaking *soaking)
{
	const struct soak_case *soak = &soaking->input.soak;
	struct error error;

	if (soak_compute(soak, &soaking->result, &error) != 0 ||
	    soak_course_make(&soaking->course, soak, &error) != 0)
		return command_cannot(call, &error);
	return put(call, soaking);
}

static enum command_exit
work(const struct call *call, const struct session *session)
{
	struct soaking *soaking = calloc(1, sizeof *soaking);
	enum command_exit code;

	if (!soaking) {
		struct error error;
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	soaking->unit =
	    session->settings ? session->settings->temperature : UNIT_CELSIUS;
	code = soak_input_read(&soaking->input, call, session);
	if (code == COMMAND_DONE)
		code = compute(call, soaking);
	soak_course_release(&soaking->course);
	soak_input_release(&soaking->input);
	free(soaking);
	return code;
}

static enum command_exit
run_soak(const struct call *call)
{
	return material_source_run(call, work);
}

const struct command command_soak = {
    .name = "soak",
    .arguments = "FILE.csv",
    .summary = "how hot the middle of a sheet is, from readings of its faces",
    .details =
	"Computes the heat on its way into a sheet.  FILE.csv has a header and the "
	"columns\nt_s, top_c, bottom_c in C, or top_f, bottom_f in F (one face may be "
	"missing; an empty\nfield is no reading); '-' is the standard input.  A "
	"material "
	"comes from the set-up, from\n--config FILE with [material] sections alone, or "
	"from those that came with the program.\nWhat if: another --thickness-mm for a "
	"thicker sheet, --longer-s for more heat.\n--format html and pdf also draw it, "
	"svg and png draw it alone; csv is the course, a row\na step.",
    .options = SOAK_INPUT_OPTIONS,
    .argument_least = 1,
    .argument_most = 1,
    .csv_table = "course",
    .pages = true,
    .run = run_soak,
};
