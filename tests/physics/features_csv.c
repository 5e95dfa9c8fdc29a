/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/physics/features_csv.h"

#include <math.h>

struct table {
	FILE *file;
	const struct settings *settings;
	int64_t start_unix_s;
};

/* Whether the line has the position of a family's feature. */
static bool
is_told(const struct table *table, int feature)
{
	int first = feature, count;

	feature_family(feature, &first);
	count = settings_line_family(&table->settings->lines[0], feature, &first);
	return feature - first < count;
}

static void
put(const struct table *table, double value)
{
	if (isnan(value))
		fputs(",", table->file);
	else
		fprintf(table->file, ",%.6g", value);
}

static void
write_header(const struct table *table)
{
	fputs("shot_no,start_s,outcome,lot,sheet", table->file);
	for (int feature = 0; feature < FEATURE_COUNT; feature++)
		if (is_told(table, feature))
			fprintf(table->file, ",%s", feature_get(feature)->name);
	fputs(",true_start_c,true_thickness_mm,true_melt_flow,true_conductivity_w_mk,"
	      "true_surface_heat_end_c,true_core_heat_end_c,true_mean_heat_end_c,"
	      "true_core_form_start_c,true_mean_form_start_c,true_given_kj",
	    table->file);
	for (int i = 0; i < PLANT_LINE_CIRCUITS; i++)
		fprintf(table->file, ",true_water_%d_kj", i + 1);
	fputs("\n", table->file);
}

static void
put_truth(const struct table *table, const struct plant_line_sheet *sheet)
{
	put(table, sheet->start_c);
	put(table, sheet->thickness_m * 1e3);
	put(table, sheet->melt_flow);
	put(table, sheet->conductivity);
	put(table, sheet->surface_heat_end_c);
	put(table, sheet->core_heat_end_c);
	put(table, sheet->mean_heat_end_c);
	put(table, sheet->core_form_start_c);
	put(table, sheet->mean_form_start_c);
	put(table, sheet->given_kj);
	for (int i = 0; i < PLANT_LINE_CIRCUITS; i++)
		put(table, sheet->water_kj[i]);
}

static void
take(void *arg, const struct shot *shot, const struct plant_line_sheet *sheet)
{
	const struct table *table = arg;
	double start_s =
	    (double)(shot_time(shot).ns - table->start_unix_s * CLOCK_SECOND_NS) /
	    (double)CLOCK_SECOND_NS;

	fprintf(table->file, "%lld,%.3f,%s,%s,%lld", (long long)shot->shot_no, start_s,
	    shot_outcome_text(shot->outcome), sheet == NULL ? "" : sheet->lot,
	    sheet == NULL ? 0LL : (long long)sheet->number);
	for (int feature = 0; feature < FEATURE_COUNT; feature++)
		if (is_told(table, feature))
			put(table, feature_from_si(feature, shot->value[feature]));
	if (sheet != NULL)
		put_truth(table, sheet);
	fputs("\n", table->file);
}

bool
features_csv_write(FILE *file, const struct settings *settings,
    const struct plant_line_setup *line, int count)
{
	struct table table = {file, settings, line->start_unix_s};
	struct player *player = player_new(&(struct player_setup){
	    .settings = settings, .line = *line, .take = take, .arg = &table});

	if (player == NULL)
		return false;
	write_header(&table);
	player_run_shots(player, count);
	player_free(player);
	return true;
}
