/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/load.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/fieldbus/plan.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

/*
 * By hand, with the silence of 3.5 characters before each frame, 1.75 ms above 19200
 * baud (Modbus over Serial Line V1.02, 2.5.1.1), frames of 8 and 5 + data bytes (the same,
 * 2.5.1, and Modbus Application Protocol V1.1b3, 6.1 and 6.3) and 20 ms of turn-round
 * (common practice, no source):
 *
 *   baud   bits  character ms        bytes     frames ms   2 silences ms   in all ms
 *   9600   11    11/9.6 = 1.1458333   8 + 7     17.1875     8.0208333       45.2083333
 *   9600   11    1.1458333            8 + 25    37.8125     8.0208333       65.8333333
 *   9600   11    1.1458333            8 + 255  301.3541667  8.0208333      329.375
 *   19200  11    0.5729167            8 + 7      8.59375    4.0104167       32.6041667
 *   19200  10    0.5208333            8 + 7      7.8125     3.6458333       31.4583333
 *   19200  11    0.5729167            8 + 8      9.1666667  4.0104167       33.1770833
 *   38400  11    0.2864583            8 + 125   38.0989583  3.5             61.5989583
 *   115200 11    0.0954861            8 + 255   25.1128472  3.5             48.6128472
 */
static const struct timed {
	int baud;
	enum parity parity;
	int stop_bits;
	enum register_table table;
	int count;
	double ms;
} table[] = {
    {9600, PARITY_EVEN, 1, TABLE_HOLDING, 1, 45.2083333},
    {9600, PARITY_ODD, 1, TABLE_HOLDING, 10, 65.8333333},
    {9600, PARITY_NONE, 2, TABLE_INPUT, 125, 329.375},
    {19200, PARITY_NONE, 2, TABLE_HOLDING, 1, 32.6041667},
    {19200, PARITY_NONE, 1, TABLE_HOLDING, 1, 31.4583333},
    {19200, PARITY_EVEN, 1, TABLE_COIL, 17, 33.1770833},
    {38400, PARITY_EVEN, 1, TABLE_HOLDING, 60, 61.5989583},
    {115200, PARITY_EVEN, 1, TABLE_HOLDING, 125, 48.6128472},
};

static void
a_request_takes_what_its_characters_take(void **state)
{
	struct published_table asked = published_begin(SOURCE_PRACTICE_TURN_ROUND,
	    "time of a request and its answer with it, by hand, ms");

	(void)state;
	for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
		const struct timed *row = &table[i];
		struct bus_settings bus = {.kind = BUS_SERIAL,
		    .baud = row->baud,
		    .parity = row->parity,
		    .stop_bits = row->stop_bits};
		struct read_block block = {row->table, 0, (uint16_t)row->count};
		struct device_settings device = {0};

		published_add(&asked, 1000 * load_request_s(&bus, &device, &block),
		    row->ms, 1e-6);
		device.gap_s = 0.005;
		assert_near(
		    1000 * load_request_s(&bus, &device, &block), row->ms + 5, 1e-6);
	}
	published_end(&asked);
}

static void
over_tcp_a_round_trip_is_assumed(void **state)
{
	struct bus_settings bus = {.kind = BUS_TCP};
	struct device_settings device = {.gap_s = 0.03};
	struct read_block block = {TABLE_HOLDING, 0, 125};

	(void)state;
	assert_near(load_request_s(&bus, &device, &block), 0.04, 1e-12);
}

/* --- buses ------------------------------------------------------------------------- */

enum { DEVICES = 3, CHANNELS = 4 };

struct plant { /* devices of up to four single registers, far apart */
	struct settings settings;
	struct bus_settings buses[2];
	struct device_settings devices[DEVICES];
	struct channel_settings channels[DEVICES * CHANNELS];
	struct read_plan *plans[DEVICES];
};

static void
plant_init(struct plant *plant, enum bus_kind kind)
{
	memset(plant, 0, sizeof *plant);
	plant->settings.devices = plant->devices;
	plant->settings.channels = plant->channels;
	plant->settings.buses = plant->buses;
	plant->settings.bus_count = 2;
	for (int i = 0; i < 2; i++)
		plant->buses[i] = (struct bus_settings){
		    .kind = kind, .baud = 9600, .parity = PARITY_EVEN, .stop_bits = 1};
	strcpy(plant->buses[0].name, "ovens");
	strcpy(plant->buses[1].name, "tools");
}

/* Channels of one request each, with these periods in ms; 0 ends them. */
static void
add(struct plant *plant, const char *name, uint32_t bus, const int *periods_ms)
{
	size_t index = plant->settings.device_count++;
	struct device_settings *device = &plant->devices[index];

	device->bus = bus;
	device->unit_id = 1 + (int)index;
	device->max_registers = 10;
	device->timeout_s = 0.35;
	device->first_channel = (uint32_t)index * CHANNELS;
	snprintf(device->name, sizeof device->name, "%s", name);
	for (int i = 0; periods_ms[i]; i++)
		plant->channels[device->first_channel + device->channel_count++] =
		    (struct channel_settings){.table = TABLE_HOLDING,
			.address = (uint16_t)(100 * i),
			.encoding = ENCODING_UINT16,
			.period_s = periods_ms[i] / 1000.0};
	groups_make(device, plant->channels);
	plant->plans[index] = plan_new(&plant->settings, (uint32_t)index);
}

static void
plant_release(struct plant *plant)
{
	for (int i = 0; i < DEVICES; i++)
		plan_free(plant->plans[i]);
}

struct told {
	int impossible, late, deaf;
	char text[512], deaf_text[512];
};

static void
keep(void *arg, enum load_trouble trouble, const char *sentence)
{
	struct told *told = arg;

	told->impossible += trouble == LOAD_IMPOSSIBLE;
	told->late += trouble == LOAD_LATE;
	told->deaf += trouble == LOAD_DEAF;
	snprintf(trouble == LOAD_DEAF ? told->deaf_text : told->text, sizeof told->text,
	    "%s", sentence);
}

static bool
judge(const struct plant *plant, uint32_t bus, struct told *told)
{
	*told = (struct told){0};
	return load_judge(&plant->settings, plant->plans, bus, keep, told);
}

static void
loads_of_a_bus_add_up(void **state)
{
	struct plant plant;
	struct bus_load load;
	struct told told;

	(void)state;
	plant_init(&plant, BUS_SERIAL);
	add(&plant, "a", 0, (int[]){500, 1000, 1000, 0});
	add(&plant, "b", 0, (int[]){2000, 0});
	add(&plant, "c", 1, (int[]){100, 0});
	load = load_bus(&plant.settings, plant.plans, 0);
	assert_int_equal(load.devices, 2);
	assert_near(load.requests, 2 + 2 + 0.5, 1e-9);
	assert_near(load.busy_s, 4.5 * 0.0452083333, 1e-9);
	assert_near(
	    load_group_s(&plant.settings, plant.plans[0], 1), 2 * 0.0452083333, 1e-9);
	assert_true(judge(&plant, 0, &told));
	assert_int_equal(told.impossible + told.late, 0);
	plant_release(&plant);
}

static void
a_group_longer_than_its_period_is_impossible(void **state)
{
	struct plant plant;
	struct told told;

	(void)state;
	plant_init(&plant, BUS_SERIAL);
	add(&plant, "controller", 0, (int[]){100, 100, 100, 5000, 0});
	assert_false(judge(&plant, 0, &told));
	assert_int_equal(told.impossible, 1);
	assert_string_equal(told.text,
	    "bus 'ovens' takes 136 ms to read the channels of device 'controller' that "
	    "are due every 100 ms: lengthen their period_ms to 136 at least");
	assert_true(judge(&plant, 1, &told));
	plant_release(&plant);
}

static void
a_serial_line_with_too_much_on_it_is_impossible(void **state)
{
	struct plant plant;
	struct told told;

	(void)state;
	plant_init(&plant, BUS_SERIAL);
	add(&plant, "a", 0, (int[]){100, 0});
	add(&plant, "b", 0, (int[]){80, 0});
	add(&plant, "c", 1, (int[]){50, 0});
	assert_false(judge(&plant, 0, &told));
	assert_int_equal(told.impossible, 1);
	assert_string_equal(told.text,
	    "bus 'ovens' needs 102 % of its time: lengthen period_ms, of device 'b' "
	    "first, which takes 57 %");
	assert_true(judge(&plant, 1, &told)); /* 90 % */
	plant_release(&plant);
}

/* The round trip is a guess: nothing is refused for it. */
static void
over_tcp_too_much_is_only_late(void **state)
{
	struct plant plant;
	struct told told;

	(void)state;
	plant_init(&plant, BUS_TCP);
	add(&plant, "a", 0, (int[]){20, 20, 20, 0});
	assert_true(judge(&plant, 0, &told));
	assert_int_equal(told.late, 1);
	assert_non_null(strstr(told.text, "'ovens' needs 150 % of its time"));
	plant_release(&plant);
}

static void
a_long_request_that_holds_up_a_fast_device_is_told(void **state)
{
	struct plant plant;
	struct told told;

	(void)state;
	plant_init(&plant, BUS_SERIAL);
	add(&plant, "bits", 0, (int[]){250, 0});
	add(&plant, "zones", 0, (int[]){5000, 0});
	assert_true(judge(&plant, 0, &told));
	assert_int_equal(told.late, 0);
	plan_free(plant.plans[1]);
	plant.devices[1].max_registers = 125;
	plant.channels[CHANNELS + 1] = plant.channels[CHANNELS];
	plant.channels[CHANNELS + 1].address = 124;
	plant.devices[1].channel_count = 2;
	groups_make(&plant.devices[1], plant.channels);
	plant.plans[1] = plan_new(&plant.settings, 1);
	assert_true(judge(&plant, 0, &told));
	assert_int_equal(told.late, 1);
	assert_non_null(strstr(told.text,
	    "a request to device 'zones' takes 329 ms, too long for what is read of "
	    "'bits' every 250 ms"));
	plant_release(&plant);
}

/* A register at either end of the device's longest request: `count` in one. */
static void
stretch(struct plant *plant, size_t index, int count, double period_s)
{
	struct device_settings *device = &plant->devices[index];
	struct channel_settings *channel = &plant->channels[device->first_channel];

	plan_free(plant->plans[index]);
	device->max_registers = 125;
	for (int i = 0; i < 2; i++)
		channel[device->channel_count++] =
		    (struct channel_settings){.table = TABLE_HOLDING,
			.address = (uint16_t)(1000 + i * (count - 1)),
			.encoding = ENCODING_UINT16,
			.period_s = period_s};
	groups_make(device, plant->channels);
	plant->plans[index] = plan_new(&plant->settings, (uint32_t)index);
}

static void
a_devices_own_long_request_holds_its_fast_channels_up(void **state)
{
	struct plant plant;
	struct told told;

	(void)state;
	plant_init(&plant, BUS_SERIAL);
	add(&plant, "controller", 0, (int[]){100, 0});
	stretch(&plant, 0, 125, 5);
	assert_true(judge(&plant, 0, &told));
	assert_int_equal(told.late, 1);
	assert_non_null(strstr(told.text,
	    "a request to device 'controller' takes 329 ms, too long for what is read "
	    "of 'controller' every 100 ms"));
	plant_release(&plant);
}

/* By hand: (8 + 255) x 11 / 1200 = 2.4108 s and 20 ms. */
static void
an_answer_longer_than_the_time_out_is_impossible(void **state)
{
	struct plant plant;
	struct told told;

	(void)state;
	plant_init(&plant, BUS_SERIAL);
	plant.buses[0].baud = 1200;
	add(&plant, "zones", 0, (int[]){10000, 0});
	stretch(&plant, 0, 125, 10);
	plant.devices[0].timeout_s = 2.4309;
	assert_true(judge(&plant, 0, &told));
	plant.devices[0].timeout_s = 2.4308;
	assert_false(judge(&plant, 0, &told));
	assert_int_equal(told.impossible, 1);
	plant.devices[0].timeout_s = 1;
	assert_false(judge(&plant, 0, &told));
	assert_string_equal(told.text,
	    "bus 'ovens' takes 2431 ms until device 'zones' has answered for holding "
	    "1000..1124, and its timeout_ms is 1000: lower max_registers or raise "
	    "timeout_ms");
	assert_true(judge(&plant, 1, &told));
	plant_release(&plant);
}

static void
over_tcp_no_time_out_is_too_short(void **state)
{
	struct plant plant;
	struct told told;

	(void)state;
	plant_init(&plant, BUS_TCP);
	add(&plant, "zones", 0, (int[]){10000, 0});
	plant.devices[0].timeout_s = 0.05;
	assert_true(judge(&plant, 0, &told));
	assert_int_equal(told.impossible + told.late + told.deaf, 0);
	plant_release(&plant);
}

static void
expect_deafness(const struct plant *plant, const char *text)
{
	struct told told;

	assert_true(judge(plant, 0, &told));
	assert_int_equal(told.deaf, text != NULL);
	if (text && !strstr(told.deaf_text, text))
		fail_msg("no '%s' in '%s'", text, told.deaf_text);
}

static void
a_time_out_that_deafens_others_is_told(void **state)
{
	struct plant plant;

	(void)state;
	plant_init(&plant, BUS_SERIAL);
	add(&plant, "pyrometers", 0, (int[]){1000, 0});
	add(&plant, "tool", 0, (int[]){1000, 2000, 0});
	add(&plant, "plc", 1, (int[]){100, 0});
	expect_deafness(&plant, NULL);
	plant.devices[1].timeout_s = 1;
	expect_deafness(&plant, NULL);
	plant.devices[1].timeout_s = 5;
	expect_deafness(&plant,
	    "bus 'ovens': while 'tool' does not answer, 'pyrometers' and others are "
	    "read up to 10.0 s late: lower timeout_ms of 'tool', now 5000");
	plant.buses[0].kind = BUS_TCP;
	expect_deafness(&plant, "up to 5.0 s late");
	/* Not long enough for a pause after the first failure: three in a row. */
	plant.devices[1].timeout_s = 1.5;
	expect_deafness(&plant, "up to 4.5 s late");
	plant.devices[1].unit_id = plant.devices[0].unit_id;
	expect_deafness(&plant, NULL);
	plant_release(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_request_takes_what_its_characters_take),
	    cmocka_unit_test(over_tcp_a_round_trip_is_assumed),
	    cmocka_unit_test(loads_of_a_bus_add_up),
	    cmocka_unit_test(a_group_longer_than_its_period_is_impossible),
	    cmocka_unit_test(a_serial_line_with_too_much_on_it_is_impossible),
	    cmocka_unit_test(over_tcp_too_much_is_only_late),
	    cmocka_unit_test(a_long_request_that_holds_up_a_fast_device_is_told),
	    cmocka_unit_test(a_devices_own_long_request_holds_its_fast_channels_up),
	    cmocka_unit_test(an_answer_longer_than_the_time_out_is_impossible),
	    cmocka_unit_test(over_tcp_no_time_out_is_too_short),
	    cmocka_unit_test(a_time_out_that_deafens_others_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
