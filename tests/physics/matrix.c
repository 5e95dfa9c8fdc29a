/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the findings make of each fault of the simulated plant, or its shots themselves.
 *
 *     matrix [--healthy N] [FAULT]...
 *         every fault (whose name has these words) at each strength for EVENSOAK_SEEDS
 *         plants (20), and what is named in N (10,000) healthy shots
 *     matrix --tell [FAULT]...
 *         what is found of one plant, in words
 *     matrix --csv [--shots N] [--seed N] [--start UNIX_SECONDS] [SCRIPT_LINE]...
 *         every feature of so many shots, with the truth
 *
 * A SCRIPT_LINE is one line of a script of linesim's, or @FILE for all those of a file.
 */
#include <getopt.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/text.h"
#include "tests/physics/features_csv.h"
#include "tests/physics/findings_table.h"
#include "tests/physics/workers.h"
#include "tests/unit/seed.h"

#define START_UNIX_S 1772427600 /* 2026-03-02T05:00:00Z */

enum {
	SCRIPT_ROOM = 1 << 20,
	SEEDS_USUAL = 20,
	SEEDS_MAX = 500,
	ROWS_MAX = 200,
	HEALTHY_RUN = 100
};

static void
add_file(struct text *script, const char *path)
{
	char line[1000];
	FILE *file = fopen(path, "r");

	if (file == NULL) {
		perror(path);
		exit(2);
	}
	while (fgets(line, sizeof line, file) != NULL)
		text_puts(script, line);
	fclose(file);
}

static int
usage(void)
{
	fputs("usage: matrix [--healthy N] [FAULT]...\n"
	      "       matrix --tell [FAULT]...\n"
	      "       matrix --csv [--shots N] [--seed N] [--start UNIX_SECONDS] "
	      "[SCRIPT_LINE | @FILE]...\n",
	    stderr);
	return 2;
}

static int
write_csv(const struct settings *settings, struct plant_line_setup *line, int shots,
    char **words)
{
	struct text script;
	bool good;

	text_init(&script, SCRIPT_ROOM);
	for (; *words != NULL; words++)
		if (**words == '@')
			add_file(&script, *words + 1);
		else
			text_printf(&script, "%s\n", *words);
	line->script = script.bytes;
	good = features_csv_write(stdout, settings, line, shots);
	text_release(&script);
	return good ? 0 : 1;
}

static int
count_seeds(void)
{
	const char *given = getenv("EVENSOAK_SEEDS");
	int seeds = given == NULL ? SEEDS_USUAL : atoi(given);

	return seeds < 1 ? 1 : seeds > SEEDS_MAX ? SEEDS_MAX : seeds;
}

static bool
is_wanted(const struct fault *fault, char **words)
{
	if (*words == NULL)
		return true;
	for (; *words != NULL; words++)
		if (strstr(fault->name, *words) != NULL)
			return true;
	return false;
}

struct run {
	struct trial *trials[SEEDS_MAX];
	int seeds, healthy_runs;
	int rows[ROWS_MAX], row_count; /* fault and strength of each */
	int alarms[FINDING_CAUSE_COUNT];
};

static void
make_row(void *arg, int i, void *result)
{
	struct run *run = arg;
	struct findings_row row = findings_row_make(run->trials, run->seeds,
	    &faults[run->rows[i] / FAULT_STRENGTHS], run->rows[i] % FAULT_STRENGTHS);

	memcpy(result, &row, sizeof row);
}

static void
take_row(void *arg, int i, const void *result)
{
	const struct run *run = arg;

	findings_print_row(&faults[run->rows[i] / FAULT_STRENGTHS],
	    run->rows[i] % FAULT_STRENGTHS, result);
}

static void
count_alarms(void *arg, int i, void *result)
{
	const struct run *run = arg;
	int alarms[FINDING_CAUSE_COUNT] = {0};

	trial_healthy(run->trials[i], run->healthy_runs, HEALTHY_RUN, alarms);
	memcpy(result, alarms, sizeof alarms);
}

static void
add_alarms(void *arg, int i, const void *result)
{
	struct run *run = arg;
	const int *alarms = result;

	(void)i;
	for (int cause = 0; cause < FINDING_CAUSE_COUNT; cause++)
		run->alarms[cause] += alarms[cause];
}

static void
print_findings(const struct settings *settings, int healthy, char **words)
{
	static struct run run;
	unsigned seed = seed_take(1);

	run.seeds = count_seeds();
	run.healthy_runs = healthy / (HEALTHY_RUN * run.seeds);
	for (int i = 0; i < run.seeds; i++)
		run.trials[i] = trial_new(settings, seed + (unsigned)i);
	printf("%d plants, %d shots of reference; of each trial %d shots before the "
	       "fault, %d with it\n",
	    run.seeds, TRIAL_REFERENCE, TRIAL_BEFORE, TRIAL_AFTER);
	run.row_count = 0;
	for (int i = 0; i < fault_count * FAULT_STRENGTHS; i++)
		if (is_wanted(&faults[i / FAULT_STRENGTHS], words))
			run.rows[run.row_count++] = i;
	findings_print_head();
	workers_run(&(struct workers_job){.count = run.row_count,
	    .bytes = sizeof(struct findings_row),
	    .work = make_row,
	    .take = take_row,
	    .arg = &run});
	workers_run(&(struct workers_job){.count = run.seeds,
	    .bytes = sizeof run.alarms,
	    .work = count_alarms,
	    .take = add_alarms,
	    .arg = &run});
	findings_print_alarms(run.healthy_runs * run.seeds * HEALTHY_RUN, run.alarms);
	for (int i = 0; i < run.seeds; i++)
		trial_free(run.trials[i]);
}

/* One plant, in words. */
static void
tell_findings(const struct settings *settings, char **words)
{
	struct trial *trial = trial_new(settings, seed_take(1));

	for (int i = 0; i < fault_count * FAULT_STRENGTHS; i++)
		if (is_wanted(&faults[i / FAULT_STRENGTHS], words))
			trial_tell(
			    trial, &faults[i / FAULT_STRENGTHS], i % FAULT_STRENGTHS);
	trial_free(trial);
}

int
main(int argc, char **argv)
{
	static const struct option options[] = {{"csv", no_argument, NULL, 'c'},
	    {"shots", required_argument, NULL, 'n'},
	    {"seed", required_argument, NULL, 's'},
	    {"start", required_argument, NULL, 't'},
	    {"healthy", required_argument, NULL, 'h'}, {"tell", no_argument, NULL, 'w'},
	    {0}};
	struct plant_line_setup line = {.seed = 1, .start_unix_s = START_UNIX_S};
	struct settings *settings;
	int option, shots = 150, healthy = 10000, status = 0;
	bool csv = false, tell = false;

	while ((option = getopt_long(argc, argv, "", options, NULL)) >= 0)
		switch (option) {
		case 'c':
			csv = true;
			break;
		case 'n':
			shots = atoi(optarg);
			break;
		case 's':
			line.seed = strtoull(optarg, NULL, 10);
			break;
		case 't':
			line.start_unix_s = atoll(optarg);
			break;
		case 'w':
			tell = true;
			break;
		case 'h':
			healthy = atoi(optarg);
			break;
		default:
			return usage();
		}
	if (shots < 1)
		return usage();
	settings = player_settings();
	if (csv)
		status = write_csv(settings, &line, shots, argv + optind);
	else if (tell)
		tell_findings(settings, argv + optind);
	else
		print_findings(settings, healthy, argv + optind);
	settings_free(settings);
	return status;
}
