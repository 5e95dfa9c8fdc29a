/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/soak_remarks.h"

#include <math.h>
#include <stdio.h>

/* What every remark looks at. */
struct about {
	const struct soak_input *input;
	const struct soak_result *result;
	const struct soak_state *end; /* as the case ends */
	const struct soak_band *band;
	enum unit unit;
	char *text;
};

static double
shown(const struct about *about, double c)
{
	return unit_from_si(about->unit, DIMENSION_TEMPERATURE, c);
}

static double
shown_dc(const struct about *about, double dc)
{
	return unit_from_si(about->unit, DIMENSION_TEMPERATURE_DIFFERENCE, dc);
}

static double
surface_core_dc(const struct soak_state *state)
{
	return (state->surface_top_c + state->surface_bottom_c) / 2 - state->core_c;
}

static enum page_tone
tell_soaked(const struct about *about)
{
	const char *unit = unit_text(about->unit);
	double difference_dc = surface_core_dc(about->end);
	double shown_difference = shown_dc(about, fabs(difference_dc));

	if (isnan(soak_index(about->end, about->input->soak.start_c))) {
		snprintf(about->text, SOAK_REMARK_TEXT,
		    "the surfaces did not rise above the start: nothing was heated");
		return TONE_BAD;
	}
	if (difference_dc < 0) {
		snprintf(about->text, SOAK_REMARK_TEXT,
		    "the core is %.1f %s hotter than the surfaces: these have cooled "
		    "%s",
		    shown_difference, unit,
		    about->input->transfer_s > 0 ? "on the way to the form"
						 : "while the core still rises");
		return TONE_PLAIN;
	}
	snprintf(about->text, SOAK_REMARK_TEXT,
	    "%s: the surfaces are %.1f %s hotter than the core (+-%.1f %s)",
	    difference_dc <= SOAK_SOAKED_DC   ? "soaked"
	    : difference_dc <= SOAK_NEARLY_DC ? "nearly soaked"
					      : "still soaking",
	    shown_difference, unit, shown_dc(about, about->band->surface_core_dc),
	    unit);
	return difference_dc <= SOAK_SOAKED_DC ? TONE_GOOD : TONE_PLAIN;
}

/* Where the core stands, and what of its band reaches out. */
static enum page_tone
tell_window(const struct about *about)
{
	const struct material_settings *material = about->input->material;
	double core_c = about->end->core_c, half = about->band->core_dc;

	if (!material || isnan(material->form_low_c) || isnan(material->form_high_c))
		return TONE_PLAIN;
	double low = material->form_low_c, high = material->form_high_c;
	bool below = core_c - half<low, above = core_c + half> high;
	bool inside = core_c >= low && core_c <= high;
	const char *how = "lies within", *band = "";
	if (core_c < low)
		how = core_c + half < low ? "is too cold for" : "is below";
	else if (core_c > high)
		how = core_c - half > high ? "is too hot for" : "is above";
	if (inside && below && above)
		band = "; its band reaches out at both ends";
	else if (inside && (below || above))
		band = below ? "; its band reaches below it"
		             : "; its band reaches above it";
	else if (inside)
		band = ", and so does its band";
	else if (core_c + half >= low && core_c - half <= high)
		band = "; its band reaches into it";
	snprintf(about->text, SOAK_REMARK_TEXT,
	    "the core %s the forming window of %s, %.0f to %.0f %s%s", how,
	    material->name, shown(about, low), shown(about, high),
	    unit_text(about->unit), band);
	return inside && !below && !above ? TONE_GOOD : inside ? TONE_PLAIN : TONE_BAD;
}

static enum page_tone
tell_limit(const struct about *about)
{
	const struct material_settings *material = about->input->material;

	if (!material || !(about->result->above_limit_s > 0))
		return TONE_PLAIN;
	snprintf(about->text, SOAK_REMARK_TEXT,
	    "a surface was above %.0f %s, where %s degrades, for %.0f s",
	    shown(about, material->limit_c), unit_text(about->unit), material->name,
	    about->result->above_limit_s);
	return TONE_BAD;
}

static enum page_tone
tell_held(const struct about *about)
{
	if (about->input->longer_s > 0)
		snprintf(about->text, SOAK_REMARK_TEXT,
		    "the last %g s were not measured: the surfaces are held where they "
		    "were; heaters that stay on would raise them, and the core with "
		    "them",
		    about->input->longer_s);
	return TONE_PLAIN;
}

static enum page_tone
tell_start(const struct about *about)
{
	if (!about->input->start_told)
		snprintf(about->text, SOAK_REMARK_TEXT,
		    "the sheet is taken to go in at %.1f %s, the first reading: a "
		    "pyrometer in a hot oven reads the heaters' reflection then; "
		    "--start-c says what the stack had",
		    shown(about, about->input->soak.start_c), unit_text(about->unit));
	return TONE_PLAIN;
}

static enum page_tone
tell_side(const struct about *about)
{
	const struct soak_input *input = about->input;
	bool top = input->file.top.count > 0, bottom = input->file.bottom.count > 0;

	if (top != bottom)
		snprintf(about->text, SOAK_REMARK_TEXT,
		    "the %s face was not measured and is taken to be as the %s one; "
		    "the band allows for %.0f %s between them",
		    top ? "bottom" : "top", top ? "top" : "bottom",
		    shown_dc(about, SOAK_SIDE_DC), unit_text(about->unit));
	return TONE_PLAIN;
}

static enum page_tone
tell_gaps(const struct about *about)
{
	const struct soak_input *input = about->input;
	double top_s = input->file.top.count > 0 ? input->file.top.gap_s : 0;
	double bottom_s = input->file.bottom.count > 0 ? input->file.bottom.gap_s : 0;

	if (fmax(top_s, bottom_s) > SOAK_GAP_S)
		snprintf(about->text, SOAK_REMARK_TEXT,
		    "the %s face has no reading for %.0f s at a stretch: bridged by a "
		    "straight line, or held at either end",
		    top_s >= bottom_s ? "top" : "bottom", fmax(top_s, bottom_s));
	return TONE_PLAIN;
}

/* The first is named. */
static enum page_tone
tell_spikes(const struct about *about)
{
	const struct soak_file *file = &about->input->file;
	size_t top_at = 0, bottom_at = 0;
	size_t top = soak_side_spikes(&file->top, &top_at);
	size_t bottom = soak_side_spikes(&file->bottom, &bottom_at);
	bool is_top = top > 0 && (bottom == 0 || top_at <= bottom_at);
	const struct soak_side *side = is_top ? &file->top : &file->bottom;
	size_t at = is_top ? top_at : bottom_at, count = top + bottom;
	char more[40] = "";

	if (count == 0)
		return TONE_PLAIN;
	if (count > 1)
		snprintf(more, sizeof more, ", and %zu more like it", count - 1);
	snprintf(about->text, SOAK_REMARK_TEXT,
	    "%.160s:%d: the %s face reads %.1f %s between %.1f and %.1f%s: no sheet "
	    "jumps so; it is computed as it stands, empty the field to leave it out",
	    file->name, side->line[at], is_top ? "top" : "bottom",
	    shown(about, side->c[at]), unit_text(about->unit),
	    shown(about, side->c[at - 1]), shown(about, side->c[at + 1]), more);
	return TONE_BAD;
}

static enum page_tone
tell_twice(const struct about *about)
{
	const struct soak_file *file = &about->input->file;
	const struct soak_side *side = &file->top;
	size_t high, low;

	if (!soak_side_twice(side, &high, &low)) {
		side = &file->bottom;
		if (!soak_side_twice(side, &high, &low))
			return TONE_PLAIN;
	}
	snprintf(about->text, SOAK_REMARK_TEXT,
	    "%.160s:%d: the %s face falls back to %.1f %s and rises again, as in two "
	    "heats: computed as one; '--at %.10g' ends with the first",
	    file->name, side->line[low], side == &file->top ? "top" : "bottom",
	    shown(about, side->c[low]), unit_text(about->unit), side->s[high]);
	return TONE_BAD;
}

static enum page_tone
tell_band(const struct about *about)
{
	const struct soak_tolerances *t = &about->input->soak.tolerances;
	char fusion[32] = "", way[96] = "";

	if (about->input->substance.melts)
		snprintf(fusion, sizeof fusion, ", %.0f %% of fusion", t->fusion * 100);
	if (about->input->transfer_s > 0)
		snprintf(way, sizeof way,
		    ", %.0f %% of the convection and %.1f %s of the air on the way",
		    t->free_air * 100, shown_dc(about, t->free_air_dc),
		    unit_text(about->unit));
	snprintf(about->text, SOAK_REMARK_TEXT,
	    "the band (95 %%) allows for %.0f %% of thickness, %.0f %% of diffusivity, "
	    "%.1f %s and %.0f %% of the rise in the surfaces, %.1f %s at the start, "
	    "%.0f s of lag%s%s",
	    t->thickness * 100, t->diffusivity * 100, shown_dc(about, t->surface_dc),
	    unit_text(about->unit), t->gain * 100, shown_dc(about, t->start_dc),
	    unit_text(about->unit), t->lag_s, fusion, way);
	return TONE_FAINT;
}

static enum page_tone
tell_caution(const struct about *about)
{
	snprintf(about->text, SOAK_REMARK_TEXT,
	    "an estimate, to compare sheets and settings by: release no part on it "
	    "alone");
	return TONE_FAINT;
}

void
soak_remark(enum soak_remark which, const struct soak_input *input,
    const struct soak_result *result, enum unit unit,
    char text[static SOAK_REMARK_TEXT], enum page_tone *tone)
{
	static enum page_tone (*const tell[SOAK_REMARK_COUNT])(
	    const struct about *about) = {
	    [SOAK_REMARK_SOAKED] = tell_soaked,
	    [SOAK_REMARK_WINDOW] = tell_window,
	    [SOAK_REMARK_LIMIT] = tell_limit,
	    [SOAK_REMARK_HELD] = tell_held,
	    [SOAK_REMARK_START] = tell_start,
	    [SOAK_REMARK_SIDE] = tell_side,
	    [SOAK_REMARK_GAPS] = tell_gaps,
	    [SOAK_REMARK_SPIKES] = tell_spikes,
	    [SOAK_REMARK_TWICE] = tell_twice,
	    [SOAK_REMARK_BAND] = tell_band,
	    [SOAK_REMARK_CAUTION] = tell_caution,
	};
	size_t last = input->soak.stretch_count - 1;
	const struct about about = {
	    input, result, &result->state[last], &result->band[last], unit, text};

	text[0] = '\0';
	*tone = tell[which](&about);
}

void
soak_words_make(struct soak_words *words, const struct soak_input *input,
    const struct soak_result *result, enum unit unit)
{
	size_t last = input->soak.stretch_count - 1;
	double core_c = result->state[last].core_c, half = result->band[last].core_dc;
	double thickness_mm = input->soak.thickness_m * 1000;

	if (input->material)
		snprintf(words->sheet, sizeof words->sheet, "%g mm of %s", thickness_mm,
		    input->material->name);
	else
		snprintf(words->sheet, sizeof words->sheet,
		    "%g mm of diffusivity %.3g m2/s", thickness_mm, input->diffusivity);
	snprintf(words->core, sizeof words->core,
	    "core %.1f %s (%.1f to %.1f) after %g s of heat%s%s",
	    unit_from_si(unit, DIMENSION_TEMPERATURE, core_c), unit_text(unit),
	    unit_from_si(unit, DIMENSION_TEMPERATURE, core_c - half),
	    unit_from_si(unit, DIMENSION_TEMPERATURE, core_c + half),
	    input->heat_end_s - input->file.from_s,
	    input->longer_s > 0 ? ", the last of them not measured" : "",
	    input->transfer_s > 0 ? " and the way to the form" : "");
}
