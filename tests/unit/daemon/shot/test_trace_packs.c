/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A trace of several packs. */
#include "tests/unit/daemon/shot/player.h"

#include "daemon/base/error.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/pack.h"
#include "daemon/shot/trace.h"
#include "tests/unit/daemon/shot/way.h"

static const struct circumstances untold = {
    .recipe = -1, .thickness_m = NAN, .stack_c = NAN};

/* Behind the trace a pack of one scan: of the group with that channel, all registers 1. */
static void
add_pack(unsigned char **trace, size_t *length, const struct settings *made,
    const char *name)
{
	const struct device_settings *io = &made->devices[1];
	const struct group_settings *group = io->groups;
	struct freeze freeze;
	struct scan *scan;
	size_t packed;
	uint64_t wide;

	while (strcmp(made->channels[io->first_channel + group->first].name, name) != 0)
		group++;
	scan = calloc(1, scan_bytes(group->count));
	scan->device = 1;
	scan->first = group->first;
	scan->count = group->count;
	for (uint32_t i = 0; i < group->count; i++)
		scan->readings[i] = raw_reading(
		    &made->channels[io->first_channel + group->first + i], 1);
	unsigned char *bytes =
	    pack_scans((const struct scan *const *)&scan, 1, &packed);
	*trace = realloc(*trace, *length + sizeof(wide) + packed);
	assert_true(bytes != NULL && *trace != NULL);
	freeze = freeze_into(*trace + *length, sizeof(wide));
	wide = packed;
	freeze_u64(&freeze, &wide);
	memcpy(*trace + *length + freeze.length, bytes, packed);
	*length += freeze.length + packed;
	free(bytes);
	free(scan);
}

static int
see_tool(void *arg, const struct scan *scan)
{
	enum quality *seen = arg;

	if (scan->first == 0)
		*seen = scan->readings[IO_TOOL_1].quality;
	return 0;
}

/* The bit stood in the pack before the tool's. */
static void
a_fault_bit_is_held_over_the_packs_of_a_trace(void **state)
{
	static const char bit[] = "[channel io.broken]\nrole = other\ntable = input\n"
				  "address = 40\ntype = bit\nbit = 0\n";
	char then[2 * sizeof(player_ini)], now[2 * sizeof(player_ini)];
	const char *tool = strstr(player_ini, "[channel io.tool]\n") + 18;
	enum quality seen = QUALITY_GOOD;
	struct sheet sheet = way_usual();
	struct roles roles;
	struct error error;
	size_t length;

	(void)state;
	snprintf(then, sizeof(then), "%s%speriod_ms = 5000\n", player_ini, bit);
	snprintf(now, sizeof(now), "%.*sfault_bit = broken\n%s%s",
	    (int)(tool - player_ini), player_ini, tool, bit);
	struct settings *made = player_parse(then), *wanted = player_parse(now);
	struct history *history = history_new(made, 0);
	assert_int_equal(roles_init(&roles, made, 0, 0), 0);
	unsigned char *bytes = trace_make(&(struct feature_source){.settings = made,
					      .line = &made->lines[0],
					      .roles = &roles,
					      .history = history,
					      .sheet = &sheet,
					      .circumstances = &untold},
	    &length);
	add_pack(&bytes, &length, made, "broken");
	add_pack(&bytes, &length, made, "top_1");
	assert_int_equal(
	    trace_scans(bytes, length,
		&(struct pack_reader){made, wanted, see_tool, &seen}, &error),
	    0);
	assert_int_equal(seen, QUALITY_SENSOR_FAULT);
	free(bytes);
	roles_release(&roles);
	history_free(history);
	settings_free(made);
	settings_free(wanted);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_fault_bit_is_held_over_the_packs_of_a_trace),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
