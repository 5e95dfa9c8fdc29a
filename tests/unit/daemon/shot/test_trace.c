/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots made again from their traces: the same under the same settings, and what a daemon
 * with the right settings would have made under corrected ones. */
#include "tests/unit/daemon/shot/odd_line.h"

#include "daemon/base/error.h"
#include "daemon/shot/pack.h"
#include "daemon/shot/trace.h"
#include "tests/unit/daemon/shot/way.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { ROOM = PLC_CHANNELS + IO_ROOM };

static const struct circumstances untold = {
    .recipe = -1, .thickness_m = NAN, .stack_c = NAN};

static struct shot *
again(
    const struct shot *shot, const struct settings *made, const struct settings *wanted)
{
	struct shot *copy = shot_new(ROOM);
	struct error error;

	copy->line = shot->line;
	copy->side = shot->side;
	copy->shot_no = shot->shot_no;
	assert_non_null(shot->trace);
	if (trace_recompute(&(struct trace_kept){shot->trace, shot->trace_bytes, made},
		wanted, &untold, copy, &error))
		fail_msg("shot %lld: %s", (long long)shot->shot_no, error.text);
	return copy;
}

static void
under_the_same_settings_every_bit_is_the_same(void **state)
{
	struct player *player = *state;
	unsigned seed = seed_take(3);
	int outcomes[SHOT_OUTCOME_COUNT] = {0};

	play_odd_line(player, seed);
	assert_true(player->shot_count > 15);
	for (size_t i = 0; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];
		struct shot *same = again(shot, player->settings, player->settings);
		/* the same text read again: other pointers */
		struct shot *read = again(shot, player->settings, player->plant);

		assert_same_shot(shot, same);
		assert_same_shot(shot, read);
		outcomes[shot->outcome]++;
		shot_free(same);
		shot_free(read);
	}
	assert_true(outcomes[SHOT_COMPLETE] > 3 && outcomes[SHOT_PARTIAL] > 1);
}

/* The ini of the player with `right` in the place of `wrong`, everywhere. */
static const char *
with(const char *right, const char *wrong)
{
	static char text[2 * sizeof(player_ini)];
	const char *rest = player_ini, *at;
	size_t length = 0;

	assert_non_null(strstr(player_ini, right));
	while ((at = strstr(rest, right)) != NULL) {
		length += (size_t)snprintf(text + length, sizeof(text) - length,
		    "%.*s%s", (int)(at - rest), rest, wrong);
		rest = at + strlen(right);
	}
	snprintf(text + length, sizeof(text) - length, "%s", rest);
	return text;
}

/* --- channels that are read apart ------------------------------------------------------- */

/* The line with its tool and zones read by themselves, at these periods, and a bit that tells of
 * a broken tool sensor, at the tool's. */
static const char *
paced(const char *tool_ms, const char *zone_ms)
{
	static char text[2 * sizeof(player_ini)];
	const char *tool = strstr(player_ini, "[channel io.tool]\n") + 18;
	const char *zone = strstr(player_ini, "[channel io.zone]\n") + 18;

	snprintf(text, sizeof(text),
	    "%.*speriod_ms = %s\n%.*speriod_ms = %s\nfault_bit = broken\n%s"
	    "[channel io.broken]\nrole = other\ntable = input\naddress = 40\n"
	    "type = bit\nbit = 0\nperiod_ms = %s\n",
	    (int)(zone - player_ini), player_ini, zone_ms, (int)(tool - zone), zone,
	    tool_ms, tool, tool_ms);
	return text;
}

/* Now and then the tool's sensors are broken, and say so. */
static void
break_tool(void *arg, const struct scan *scan)
{
	struct player *player = arg;

	(void)scan;
	player->unknown = player->now_ms / 1000 % 500 < 30 ? 1.0 : 0.0;
}

static void
play_paced(struct player *player, const char *tool_ms, const char *zone_ms)
{
	player_init_under(player, paced(tool_ms, zone_ms));
	assert_int_equal(player->settings->devices[1].group_count, 3);
	player->also = break_tool;
	player->also_arg = player;
	play_odd_line(player, seed_take(6));
	assert_true(player->shot_count > 15);
}

static void
what_was_read_apart_gives_the_same_in_every_bit(void **state)
{
	struct player player;
	size_t with_tool = 0, broken = 0;

	(void)state;
	play_paced(&player, "2000", "4000");
	struct settings *read_again = player_parse(paced("2000", "4000"));
	for (size_t i = 0; i < player.shot_count; i++) {
		const struct shot *shot = player.shots[i];
		struct shot *same = again(shot, player.settings, player.settings);
		struct shot *read = again(shot, player.settings, read_again);

		assert_same_shot(shot, same);
		assert_same_shot(shot, read);
		with_tool += shot->absent[FEATURE_TOOL_MEAN_C] == ABSENT_NOT;
		broken += shot->absent[FEATURE_TOOL_MEAN_C] == ABSENT_SENSOR_FAULT;
		shot_free(same);
		shot_free(read);
	}
	assert_true(with_tool > 5 && broken > 0);
	settings_free(read_again);
	player_release(&player);
}

/* Polled more often since, or seldomer: what was read then is judged by how often it was. */
static void
other_polls_since_change_nothing(void **state)
{
	static const char *const since[][2] = {
	    {"500", "500"}, {"8000", "16000"}, {"1000", "1000"}, {"4000", "2000"}};
	struct player player;

	(void)state;
	play_paced(&player, "4000", "8000");
	for (size_t k = 0; k < sizeof(since) / sizeof(since[0]); k++) {
		struct settings *now = player_parse(paced(since[k][0], since[k][1]));

		for (size_t i = 0; i < player.shot_count; i++) {
			const struct shot *shot = player.shots[i];
			struct shot *one = again(shot, player.settings, now);

			for (int f = 0; f < FEATURE_COUNT; f++) {
				assert_int_equal(one->absent[f], shot->absent[f]);
				assert_same_number(one->value[f], shot->value[f]);
			}
			assert_int_equal(one->outcome, shot->outcome);
			shot_free(one);
		}
		settings_free(now);
	}
	player_release(&player);
}

/* Of a form that began long before the sheet was there: the tool's channels are kept from then
 * on, and with them the bit that tells of a fault of theirs. */
struct beside {
	uint32_t tool, broken; /* places in their group */
	size_t kept, early;
};

static int
look_beside(void *arg, const struct scan *scan)
{
	struct beside *beside = arg;

	if (scan->readings[beside->tool].quality == QUALITY_STALE)
		return 0;
	beside->kept++;
	beside->early += scan->at.ns < way_at(60.0).ns;
	assert_int_equal(scan->readings[beside->broken].quality, QUALITY_GOOD);
	return 0;
}

static void
a_fault_bit_is_kept_with_its_channels(void **state)
{
	struct settings *settings = player_parse(paced("2000", "4000"));
	const struct device_settings *io = &settings->devices[1];
	const struct group_settings *group = &io->groups[1];
	const struct channel_settings *own =
	    &settings->channels[io->first_channel + group->first];
	struct history *history = history_new(settings, 0);
	struct scan *scan = calloc(1, scan_bytes(group->count));
	struct sheet sheet = way_usual();
	struct beside beside = {0};
	struct roles roles;
	struct error error;
	size_t length;

	(void)state;
	for (uint32_t i = 0; i < group->count; i++) {
		if (strcmp(own[i].name, "tool_1") == 0)
			beside.tool = i;
		if (strcmp(own[i].name, "broken") == 0)
			beside.broken = i;
	}
	assert_true(beside.broken > beside.tool);
	scan->device = 1;
	scan->first = group->first;
	scan->count = group->count;
	for (int s = 0; s < 400; s += 2) {
		scan->sent = scan->at = way_at(s);
		for (uint32_t i = 0; i < group->count; i++)
			scan->readings[i] = raw_reading(&own[i], 0);
		history_take(history, scan);
	}
	sheet.last_form_start = way_edge(10.0);
	sheet.last_form_end = way_edge(20.0);
	assert_int_equal(roles_init(&roles, settings, 0, 0), 0);
	unsigned char *bytes = trace_make(&(struct feature_source){.settings = settings,
					      .line = &settings->lines[0],
					      .roles = &roles,
					      .history = history,
					      .sheet = &sheet,
					      .circumstances = &untold},
	    &length);
	assert_int_equal(
	    trace_scans(bytes, length,
		&(struct pack_reader){settings, settings, look_beside, &beside},
		&error),
	    0);
	assert_true(beside.kept > 150 && beside.early > 20);
	free(bytes);
	free(scan);
	roles_release(&roles);
	history_free(history);
	settings_free(settings);
}

/* --- corrected ------------------------------------------------------------------------- */

/* What a shot knows of the one before is of no use where its tool was read otherwise. */
static void
check_drift(const struct shot *right, const struct shot *corrected, bool same_tool)
{
	enum absent absent = right->absent[FEATURE_TOOL_DRIFT_DC];

	if (same_tool) {
		assert_int_equal(corrected->absent[FEATURE_TOOL_DRIFT_DC], absent);
		assert_same_number(corrected->value[FEATURE_TOOL_DRIFT_DC],
		    right->value[FEATURE_TOOL_DRIFT_DC]);
		return;
	}
	assert_int_equal(corrected->absent[FEATURE_TOOL_DRIFT_DC],
	    absent == ABSENT_NOT ? ABSENT_NOT_APPLICABLE : absent);
	assert_true(isnan(corrected->value[FEATURE_TOOL_DRIFT_DC]));
}

/* The same line logged under a wrong ini and under the right one. */
static void
check_corrected(const char *wrong, bool same_tool, size_t *differ)
{
	struct player logged, right;
	unsigned seed = seed_take(4);

	player_init_under(&logged, wrong);
	player_init(&right);
	play_odd_line(&logged, seed);
	play_odd_line(&right, seed);
	assert_int_equal(logged.shot_count, right.shot_count);
	*differ = 0;
	for (size_t i = 0; i < right.shot_count; i++) {
		struct shot *corrected =
		    again(logged.shots[i], logged.settings, right.settings);

		check_drift(right.shots[i], corrected, same_tool);
		corrected->value[FEATURE_TOOL_DRIFT_DC] =
		    right.shots[i]->value[FEATURE_TOOL_DRIFT_DC];
		corrected->absent[FEATURE_TOOL_DRIFT_DC] =
		    right.shots[i]->absent[FEATURE_TOOL_DRIFT_DC];
		assert_same_shot(right.shots[i], corrected);
		*differ += logged.shots[i]->outcome != right.shots[i]->outcome;
		for (int f = 0; f < FEATURE_COUNT; f++)
			*differ +=
			    logged.shots[i]->absent[f] != right.shots[i]->absent[f] ||
			    (!isnan(right.shots[i]->value[f]) &&
				right.shots[i]->value[f] != logged.shots[i]->value[f]);
		shot_free(corrected);
	}
	player_release(&logged);
	player_release(&right);
}

static void
a_corrected_set_up_gives_what_it_would_have_given(void **state)
{
	static const struct {
		const char *right, *wrong;
		bool same_tool;
	} corrections[] = {
	    {"type = int16\nscale = 0.1", "type = int16\nscale = 0.01", false},
	    {"rated_kw = 3", "rated_kw = 5", true},
	    {"sentinels = 0x8000\n", "sentinels = 650\n", false},
	    {"scale = 0.1\nunit = C", "scale = 0.1\nmaximum = 151\nunit = C", false},
	    {"scale = 0.1\nunit = C", "scale = 0.1\nunit = F", false},
	    {"role = tool\n", "role = tool\noffset = 5\n", false},
	    {"[channel io.tool]\nrole = tool\ncount = 3\ntable = input\naddress = 8\n",
		"[channel io.tool]\nrole = tool\ncount = 2\ntable = input\naddress = "
		"8\n"
		"type = int16\nscale = 0.1\nunit = C\nsentinels = 0x8000\n"
		"[channel io.third]\nrole = other\ntable = input\naddress = 10\n",
		false},
	    {"heat_timer_s = 230", "heat_timer_s = 100", true},
	};

	(void)state;
	for (size_t i = 0; i < sizeof(corrections) / sizeof(corrections[0]); i++) {
		size_t differ;

		check_corrected(with(corrections[i].right, corrections[i].wrong),
		    corrections[i].same_tool, &differ);
		if (differ == 0)
			fail_msg("'%s' changed nothing", corrections[i].wrong);
	}
}

/* What a later set-up's text has in the place of this one's. */
static struct settings *
changed(const char *text, const char *from, const char *to)
{
	char other[3 * sizeof(player_ini)];
	const char *at = strstr(text, from);

	assert_non_null(at);
	snprintf(other, sizeof(other), "%.*s%s%s", (int)(at - text), text, to,
	    at + strlen(from));
	return player_parse(other);
}

/* The mean of the shot before was made with other readings of the tool, or with the same. */
static void
a_tools_drift_is_kept_while_the_same_bit_speaks_of_it(void **state)
{
	static const struct {
		const char *from, *to;
		bool kept;
	} changes[] = {
	    {"name = seven", "name = six", true},
	    {"fault_bit = broken\n", "fault_bit = broken\nfrozen_after_s = 60\n", true},
	    {"fault_bit = broken\n", "", false},
	    {"address = 40\ntype = bit\nbit = 0", "address = 40\ntype = bit\nbit = 1",
		false},
	    {"address = 40\ntype = bit\nbit = 0", "address = 41\ntype = bit\nbit = 0",
		false},
	};
	const char *ini = paced("1000", "1000");
	struct player logged;
	const struct shot *shot;

	(void)state;
	player_init_under(&logged, ini);
	player_run(&logged, 20.0);
	player_cycles(&logged, 6);
	shot = logged.shots[logged.shot_count - 1];
	assert_int_equal(shot->absent[FEATURE_TOOL_DRIFT_DC], ABSENT_NOT);
	for (size_t i = 0; i < sizeof(changes) / sizeof(changes[0]); i++) {
		struct settings *wanted = changed(ini, changes[i].from, changes[i].to);
		struct shot *same = again(shot, logged.settings, wanted);

		assert_int_equal(same->absent[FEATURE_TOOL_DRIFT_DC],
		    changes[i].kept ? ABSENT_NOT : ABSENT_NOT_APPLICABLE);
		shot_free(same);
		settings_free(wanted);
	}
	player_release(&logged);
}

/* --- what is in it --------------------------------------------------------------------- */

struct seen {
	struct window heat, form; /* form: the tool's cycle */
	size_t good[4];           /* surface, tool, bit, other */
	struct mono first, last;
};

static int
see(void *arg, const struct scan *scan)
{
	struct seen *seen = arg;
	int64_t margin_ns = (int64_t)(TRACE_MARGIN_S * 1e9);

	assert_true(scan->at.ns >= seen->last.ns);
	if (seen->first.ns == 0)
		seen->first = scan->at;
	seen->last = scan->at;
	assert_true(scan->wall.ns == scan->at.ns + INT64_C(1700000000000000000));
	if (scan->device == 0) {
		assert_int_equal(scan->readings[PLC_FORM].quality, QUALITY_GOOD);
		return 0;
	}
	assert_int_equal(scan->readings[IO_TOP_1].quality,
	    scan->sent.ns >= seen->heat.from.ns - margin_ns &&
		    scan->at.ns <= seen->heat.to.ns + margin_ns
		? QUALITY_GOOD
		: QUALITY_STALE);
	assert_int_equal(scan->readings[IO_TOOL_1].quality,
	    scan->sent.ns >= seen->form.from.ns - margin_ns &&
		    scan->at.ns <= seen->form.to.ns + margin_ns
		? QUALITY_GOOD
		: QUALITY_STALE);
	return 0;
}

static void
readings_are_kept_over_their_windows(void **state)
{
	struct player *player = *state;
	struct seen seen = {0};
	const struct shot *shot;
	struct sheet sheet;
	struct error error;

	player_run(player, 20.0);
	player_cycles(player, 6);
	shot = shot_of(player, 2);
	assert_int_equal(
	    trace_sheet(shot->trace, shot->trace_bytes, &sheet, &error), 0);
	seen.heat = (struct window){
	    true, sheet_heat_start(&sheet)->before, sheet_heat_end(&sheet)->at};
	seen.form =
	    (struct window){true, sheet.last_form_end.before, sheet.form_end.at};
	assert_int_equal(
	    trace_scans(shot->trace, shot->trace_bytes,
		&(struct pack_reader){player->settings, player->settings, see, &seen},
		&error),
	    0);
	assert_true(seen.first.ns <= sheet.placed.ns);
	assert_true(seen.last.ns >= sheet.left.ns);
	assert_true(shot->trace_bytes < 8000);
}

static int
count(void *arg, const struct scan *scan)
{
	*(size_t *)arg += scan->count > 0;
	return 0;
}

static void
bytes_that_were_cut_or_flipped_are_refused(void **state)
{
	struct player *player = *state;
	struct shot *copy;
	struct error error;
	unsigned seed = seed_take(5);

	player_run(player, 20.0);
	player_cycles(player, 4);
	const struct shot *shot = shot_of(player, 1);
	copy = shot_new(ROOM);
	copy->side = -1;
	for (size_t length = 0; length < shot->trace_bytes; length += 7) {
		unsigned char *cut = malloc(length + 1);
		int rc;

		memcpy(cut, shot->trace, length);
		cut = realloc(cut, length > 0 ? length : 1);
		rc =
		    trace_recompute(&(struct trace_kept){cut, length, player->settings},
			player->settings, &untold, copy, &error);
		/* without any reading it is still the sheet's way */
		assert_true(rc == ERROR_INVALID || rc == 0);
		free(cut);
	}
	for (int i = 0; i < 2000; i++) {
		unsigned char *flipped = malloc(shot->trace_bytes);
		size_t at = (size_t)rand_r(&seed) % shot->trace_bytes, scans = 0;

		memcpy(flipped, shot->trace, shot->trace_bytes);
		flipped[at] ^= (unsigned char)(1 << rand_r(&seed) % 8);
		(void)trace_recompute(
		    &(struct trace_kept){flipped, shot->trace_bytes, player->settings},
		    player->settings, &untold, copy, &error);
		(void)trace_scans(flipped, shot->trace_bytes,
		    &(struct pack_reader){
			player->settings, player->settings, count, &scans},
		    &error);
		free(flipped);
	}
	shot_free(copy);
}

static void
a_trace_of_another_line_is_refused(void **state)
{
	static char text[2 * sizeof(player_ini)];
	struct player *player = *state;
	struct settings *other;
	struct shot *copy = shot_new(ROOM);
	struct error error;
	const char *plc = strstr(player_ini, "[device plc]");
	const char *line = strstr(player_ini, "[line r]");

	player_run(player, 20.0);
	player_cycles(player, 4);
	/* a line before it, with devices of its own names */
	snprintf(text, sizeof(text), "%.*s[line other]\n%.*s%s",
	    (int)(line - player_ini), player_ini, (int)(plc - line - 9), line + 9,
	    line);
	snprintf(text + strlen(text), sizeof(text) - strlen(text),
	    "[device o]\nline = other\naddress = 127.0.0.1:1504\nunit_id = 1\n"
	    "[channel o.rotating]\nrole = rotating\ntable = discrete\n"
	    "address = 0\ntype = bit\n[channel o.form]\nrole = form_closed\n"
	    "table = discrete\naddress = 1\ntype = bit\n");
	other = player_parse(text);
	copy->line = 0;
	assert_int_equal(
	    trace_recompute(&(struct trace_kept){shot_of(player, 1)->trace,
				shot_of(player, 1)->trace_bytes, player->settings},
		other, &untold, copy, &error),
	    ERROR_INVALID);
	assert_non_null(strstr(error.text, "another line"));
	copy->line = 1;
	assert_int_equal(
	    trace_recompute(&(struct trace_kept){shot_of(player, 1)->trace,
				shot_of(player, 1)->trace_bytes, player->settings},
		other, &untold, copy, &error),
	    0);
	assert_true(
	    copy->value[FEATURE_HEAT_S] == shot_of(player, 1)->value[FEATURE_HEAT_S]);
	shot_free(copy);
	settings_free(other);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    PLAYED(under_the_same_settings_every_bit_is_the_same),
	    cmocka_unit_test(what_was_read_apart_gives_the_same_in_every_bit),
	    cmocka_unit_test(other_polls_since_change_nothing),
	    cmocka_unit_test(a_fault_bit_is_kept_with_its_channels),
	    cmocka_unit_test(a_corrected_set_up_gives_what_it_would_have_given),
	    cmocka_unit_test(a_tools_drift_is_kept_while_the_same_bit_speaks_of_it),
	    PLAYED(readings_are_kept_over_their_windows),
	    PLAYED(bytes_that_were_cut_or_flipped_are_refused),
	    PLAYED(a_trace_of_another_line_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
