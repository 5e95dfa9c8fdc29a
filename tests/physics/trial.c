/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/physics/trial.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "tests/physics/player.h"

#define DAY_S INT64_C(86400)
#define REFERENCE_UNIX_S INT64_C(1772427600) /* 2026-03-02T05:00:00Z */

enum {
	FAULT_SHEET = TRIAL_BEFORE + 6,
	LINE_ROOM = 200,
	SCRIPT_ROOM = 4000,
	FINDINGS_ROOM = 64
};

void
shots_free(struct shots *shots)
{
	free(shots->list);
	free(shots->lots);
	free(shots->sheets);
	*shots = (struct shots){0};
}

static void
make_room(struct shots *shots)
{
	if (shots->count < shots->room)
		return;
	shots->room += 256;
	shots->list = realloc(shots->list, shots->room * sizeof shots->list[0]);
	shots->lots = realloc(shots->lots, shots->room * sizeof shots->lots[0]);
	shots->sheets = realloc(shots->sheets, shots->room * sizeof shots->sheets[0]);
	assert(shots->list != NULL && shots->lots != NULL && shots->sheets != NULL);
}

static void
take(void *arg, const struct shot *shot, const struct plant_line_sheet *sheet)
{
	struct shots *shots = arg;
	struct findings_shot *taken;

	make_room(shots);
	taken = &shots->list[shots->count];
	*taken = (struct findings_shot){.shot_no = shot->shot_no,
	    .at = shot_time(shot),
	    .usual = shot->outcome == SHOT_COMPLETE};
	for (int feature = 0; feature < FEATURE_COUNT; feature++)
		taken->value[feature] = feature_from_si(feature, shot->value[feature]);
	text_copy(shots->lots[shots->count], sizeof shots->lots[0],
	    sheet == NULL ? "" : sheet->lot);
	shots->sheets[shots->count++] = sheet == NULL ? 0 : sheet->number;
}

/* Complete shots of the trial's plant on a day of their own. */
static struct shots
play(const struct trial *trial, unsigned day, const char *script, int count)
{
	struct shots shots = {0};
	/* days begin at all hours */
	int64_t start_s = REFERENCE_UNIX_S + day * DAY_S + day % 24 * 7 * 3600;

	player_play(&(struct player_setup){.settings = trial->settings,
			.line = {.seed = (uint64_t)trial->seed * 1000003 + day,
			    .plant_seed = trial->seed,
			    .start_unix_s = start_s,
			    .script = script},
			.take = take,
			.arg = &shots},
	    count);
	for (size_t i = 0; i < shots.count; i++)
		shots.list[i].lot = shots.lots[i];
	return shots;
}

struct trial *
trial_new(const struct settings *settings, unsigned seed)
{
	struct trial *trial = calloc(1, sizeof *trial);
	struct error error;
	struct shots shots;

	assert(trial != NULL);
	trial->settings = settings;
	trial->seed = seed;
	shots = play(trial, 0, NULL, TRIAL_REFERENCE);
	trial->profile =
	    profile_new(&settings->lines[0], shots.list, shots.count, &error);
	if (trial->profile == NULL) {
		fprintf(stderr, "%s\n", error.text);
		exit(2);
	}
	shots_free(&shots);
	return trial;
}

void
trial_free(struct trial *trial)
{
	if (trial == NULL)
		return;
	profile_free(trial->profile);
	free(trial);
}

/* "a;b" as lines "sheet N a", "sheet N b". */
static void
write_script(const char *events, char script[static SCRIPT_ROOM])
{
	size_t length = 0;

	while (*events != '\0') {
		int width = (int)strcspn(events, ";");

		length += (size_t)snprintf(script + length, SCRIPT_ROOM - length,
		    "sheet %d %.*s\n", FAULT_SHEET, width, events);
		events += width;
		events += *events == ';';
	}
}

static bool
is_right(const struct finding *finding, const struct fault *fault)
{
	return finding->cause == fault->cause &&
	       (fault->position == 0 || finding->position == fault->position) &&
	       (fault->side < 0 || finding->side == fault->side) &&
	       (fault->up < 0 || finding->up == (fault->up == 1));
}

/* Exits when there is no memory: a trial that could not be judged is none passed. */
static size_t
find(const struct trial *trial, const struct shots *shots, size_t count,
    struct finding findings[static FINDINGS_ROOM])
{
	const struct findings_run run = {shots->list, count, 0, count};
	size_t found = findings_judge(trial->profile, &run, findings, FINDINGS_ROOM);

	if (found == FINDINGS_NO_MEMORY) {
		fprintf(stderr, "no memory to judge a trial\n");
		exit(2);
	}
	return found < FINDINGS_ROOM ? found : FINDINGS_ROOM;
}

/* What is found in the first `count` shots. */
static struct trial_result
judge(const struct trial *trial, const struct fault *fault, const struct shots *shots,
    size_t count, int64_t first_shot)
{
	struct trial_result result = {.outcome = TRIAL_MISSED};
	struct finding findings[FINDINGS_ROOM];
	bool disagrees = false, named = false;
	size_t found = find(trial, shots, count, findings);

	for (size_t i = found; i-- > 0;) {
		const struct finding *finding = &findings[i];

		if (is_right(finding, fault)) {
			named = true;
			result.first_error = finding->first_shot - first_shot;
		} else if (finding->cause == FINDING_DISAGREES)
			disagrees = true;
		else {
			result.others++;
			result.wrong = finding->cause;
		}
	}
	result.outcome = named               ? TRIAL_NAMED
	                 : result.others > 0 ? TRIAL_WRONG
	                 : disagrees         ? TRIAL_DISAGREES
	                                     : TRIAL_MISSED;
	return result;
}

/* The shots of a trial; `first`: the place of the first with the fault. */
static struct shots
play_fault(
    const struct trial *trial, const struct fault *fault, int strength, size_t *first)
{
	unsigned day =
	    1 + (unsigned)(fault - faults) * FAULT_STRENGTHS + (unsigned)strength;
	char script[SCRIPT_ROOM] = "";
	struct shots shots;

	write_script(fault->events[strength], script);
	shots = play(trial, day, script, TRIAL_BEFORE + TRIAL_AFTER);
	*first = 0;
	/* It comes as FAULT_SHEET goes into the oven: the sheet before is being formed. */
	while (*first < shots.count &&
	       shots.sheets[*first] < (fault->cause >= FINDING_BLOCKED_CIRCUIT
					      ? FAULT_SHEET - 1
					      : FAULT_SHEET))
		++*first;
	assert(*first < shots.count);
	return shots;
}

struct trial_result
trial_fault(const struct trial *trial, const struct fault *fault, int strength)
{
	struct trial_result result = {0};
	size_t first;
	struct shots shots = play_fault(trial, fault, strength, &first);
	int until = 0;

	for (size_t count = first + 1; count <= shots.count; count++) {
		result = judge(trial, fault, &shots, count, shots.list[first].shot_no);
		if (until == 0 && result.outcome == TRIAL_NAMED)
			until = (int)(count - first);
	}
	result.shots_until = until;
	shots_free(&shots);
	return result;
}

void
trial_tell(const struct trial *trial, const struct fault *fault, int strength)
{
	struct finding findings[FINDINGS_ROOM];
	size_t first, found;
	struct shots shots = play_fault(trial, fault, strength, &first);

	printf("%s, %s, from shot %lld to %lld:\n", fault->name,
	    fault->strength[strength], (long long)shots.list[first].shot_no,
	    (long long)shots.list[shots.count - 1].shot_no);
	found = find(trial, &shots, shots.count, findings);
	for (size_t i = 0; i < found; i++) {
		char what[FINDING_TEXT], look[FINDING_TEXT];

		finding_tell(&findings[i], what, look);
		printf("    %s, from shot %lld: %s\n",
		    finding_sure_text(findings[i].sure),
		    (long long)findings[i].first_shot, what);
		for (int e = 0; e < findings[i].evidence_count; e++) {
			const struct finding_evidence *it = &findings[i].evidence[e];

			printf("        %s %.4g, expected %.4g (%+.1f)%s\n",
			    feature_get(it->feature)->name, it->found, it->expected,
			    it->deviations, it->moved ? "" : " not moved");
		}
	}
	shots_free(&shots);
}

void
trial_healthy(const struct trial *trial, int runs, int count,
    int alarms[static FINDING_CAUSE_COUNT])
{
	for (int run = 0; run < runs; run++) {
		const char *script = run % 2 == 0 ? NULL : "sheet 60 lot name=A-0413\n";
		struct finding findings[FINDINGS_ROOM];
		struct shots shots = play(trial, 1000 + (unsigned)run, script, count);
		size_t found = find(trial, &shots, shots.count, findings);

		for (size_t i = 0; i < found; i++)
			alarms[findings[i].cause]++;
		shots_free(&shots);
	}
}
