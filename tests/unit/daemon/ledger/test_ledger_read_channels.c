/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Channels of shots, whose names a reader keeps. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

struct names {
	int count;
	char first[LEDGER_NAME], first_role[LEDGER_NAME];
};

static int
take_name(void *arg, const struct ledger_channel *channel)
{
	struct names *names = arg;

	if (names->count++ == 0) {
		text_copy(names->first, LEDGER_NAME, channel->channel);
		text_copy(names->first_role, LEDGER_NAME, channel->role);
	}
	return 0;
}

static struct names
names_of_shot(size_t which)
{
	struct names names = {0};
	int64_t id = read_shots((struct ledger_filter){0})->list[which].id;

	assert_int_equal(
	    ledger_read_channels(reader, id, take_name, &names, &error), 0);
	return names;
}

static void
file_setup(char *text)
{
	int64_t id;

	fixture_text(&fixture, text);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(1), &id, &error), 0);
}

/* More than are kept at first, and each shot has those of its time. */
static void
channels_configured_since_have_their_names(void **state)
{
	static char text[64];
	char expected[64];
	(void)state;

	for (int i = 0; i < 20; i++) {
		for (int j = 0; j < FIXTURE_CHANNELS; j++)
			snprintf(fixture.channels[j].name, SETTINGS_NAME, "zone_%d_%d",
			    i, j);
		snprintf(text, sizeof text, "[site]\nname = %d\n", i);
		file_setup(text);
		write_shots(0, i + 1, i + 1);
		struct names names = names_of_shot((size_t)i);
		snprintf(expected, sizeof expected, "zone_%d_0", i);
		assert_int_equal(names.count, FIXTURE_SHOT_CHANNELS);
		assert_string_equal(names.first, expected);
		assert_string_equal(names.first_role, "zone_top");
		assert_string_equal(names_of_shot(0).first, "zone_0_0");
	}
}

/* A ledger that has lost the name of a channel: the others are told. */
static void
a_channel_without_a_name_is_passed_over(void **state)
{
	(void)state;

	write_shots(0, 1, 1);
	assert_int_equal(
	    sql_integer("DELETE FROM channel WHERE id = 1 RETURNING id"), 1);
	struct names names = names_of_shot(0);
	assert_int_equal(names.count, FIXTURE_SHOT_CHANNELS - 1);
	assert_string_equal(names.first, fixture.channels[1].name);
}

/* One channel is asked about while those of another shot are told. */
static int
ask_again(void *arg, const struct ledger_channel *channel)
{
	int *count = arg;
	(void)channel;

	(*count)++;
	assert_int_equal(names_of_shot(1).count, FIXTURE_SHOT_CHANNELS);
	return 0;
}

static void
whoever_is_told_of_a_channel_may_ask_for_others(void **state)
{
	int count = 0;
	(void)state;

	write_shots(0, 1, 2);
	int64_t id = read_shots((struct ledger_filter){0})->list[0].id;
	assert_int_equal(
	    ledger_read_channels(reader, id, ask_again, &count, &error), 0);
	assert_int_equal(count, FIXTURE_SHOT_CHANNELS);
}

static int
take_flow(void *arg, const struct ledger_channel *channel)
{
	if (strcmp(channel->role, "water_flow") != 0)
		return 0;
	*(struct ledger_channel *)arg = *channel;
	return 1;
}

/* 8 litres a minute; filed and read, and what is made of the same shot again. */
static void
a_flow_comes_back_with_ten_digits(void **state)
{
	static char text[] = "[site]\nname = flows\n";
	struct ledger_channel read = {0};
	bool changed = true;
	(void)state;

	fixture.channels[0].role = ROLE_WATER_FLOW;
	fixture.channels[0].dimension = DIMENSION_FLOW;
	file_setup(text);
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	shot->channels[0].mean = 0.000133319123456;
	shot->channels[0].sd = 0.0000000123456789;
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	assert_int_equal(ledger_read_channels(reader, 1, take_flow, &read, &error), 0);
	assert_true(read.mean == 0.0001333191235);
	assert_true(read.sd == 0.000000012345679);
	assert_int_equal(
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error),
	    0);
	assert_false(changed);
	shot->channels[0].mean += 1e-12; /* which nine decimals would not show */
	assert_int_equal(
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error),
	    0);
	assert_true(changed);
	shot_free(shot);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(channels_configured_since_have_their_names),
	    TEST(a_channel_without_a_name_is_passed_over),
	    TEST(whoever_is_told_of_a_channel_may_ask_for_others),
	    TEST(a_flow_comes_back_with_ten_digits),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
