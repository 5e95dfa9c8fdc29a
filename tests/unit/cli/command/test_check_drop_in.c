/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the logger's unit may reach, made of a set-up. */
#include "tests/unit/cli/command/plant.h"

#define HEAD \
	"[site]\nname = mill\ntimezone = Europe/Berlin\n[ledger]\npath = ledger.db\n"
#define LINE                                                                          \
	"[line line-1]\nmachine = rotary\nstations = load, oven, form\nheat_timer_s " \
	"= 230\n"
#define CHANNELS                                                                      \
	"[channel plc.rotating]\nrole = rotating\ntable = coil\naddress = 0\ntype = " \
	"bit\n"                                                                       \
	"[channel plc.platens]\nrole = form_closed\ntable = coil\naddress = 1\ntype " \
	"= bit\n"

/* Runs `check` with `options` on that set-up; the folder of the plant has it. */
static void
check(struct plant *plant, const char *set_up, const char *first, const char *second)
{
	char path[320];

	plant_open(plant);
	snprintf(path, sizeof path, "%s/evensoak.ini", plant->folder);
	FILE *file = fopen(path, "w");
	assert_non_null(file);
	fputs(set_up, file);
	assert_int_equal(fclose(file), 0);
	plant_call(
	    plant, (const char *[]){"check", "--config", path, first, second, NULL});
	unlink(path);
}

static bool
has_line(const struct plant *plant, const char *line)
{
	char among[400];

	snprintf(among, sizeof among, "\n%s\n", line);
	return strstr(plant->out, among) != NULL;
}

static void
addresses_of_devices_and_stores_are_allowed_and_no_other(void **state)
{
	struct plant plant;

	(void)state;
	check(&plant,
	    HEAD LINE
	    "[device plc]\nline = line-1\naddress = 192.0.2.11:1502\n" CHANNELS
	    "[store near]\nkind = influxdb1\nurl = http://[2001:db8::7]:8086/in\n"
	    "database = shots\n"
	    "[store beside]\nkind = influxdb1\nurl = http://192.0.2.11:8086\ndatabase "
	    "= shots\n"
	    "[store far]\nkind = victoriametrics\nurl = http://198.51.100.7:8480/a\n"
	    "query_url = http://198.51.100.8:8481/b\n",
	    "--drop-in", NULL);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_true(has_line(&plant, "[Service]"));
	assert_true(has_line(&plant, "IPAddressDeny=any"));
	assert_true(has_line(&plant, "IPAddressAllow=localhost"));
	assert_true(has_line(&plant, "IPAddressAllow=192.0.2.11"));
	assert_null(strstr(strstr(plant.out, "192.0.2.11") + 1, "192.0.2.11"));
	assert_true(has_line(&plant, "IPAddressAllow=2001:db8::7"));
	assert_true(has_line(&plant, "IPAddressAllow=198.51.100.7"));
	assert_true(has_line(&plant, "IPAddressAllow=198.51.100.8"));
	assert_null(strstr(plant.out, "Device"));
	plant_close(&plant);
}

static void
a_name_leaves_every_address_allowed_and_is_told(void **state)
{
	struct plant plant;

	(void)state;
	check(&plant,
	    HEAD LINE
	    "[device plc]\nline = line-1\naddress = oven.mill.example:502\n" CHANNELS,
	    "--drop-in", NULL);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_null(strstr(plant.out, "IPAddress"));
	assert_non_null(strstr(plant.out, "# 'oven.mill.example' is a name"));
	plant_close(&plant);
}

static void
a_name_of_this_computer_hinders_nothing(void **state)
{
	struct plant plant;

	(void)state;
	check(&plant,
	    HEAD LINE "[device plc]\nline = line-1\naddress = localhost:502\n" CHANNELS,
	    "--drop-in", NULL);
	assert_true(has_line(&plant, "IPAddressDeny=any"));
	plant_close(&plant);
}

/* /dev/null stands for a port: its numbers are 1 and 3 on every Linux. */
static void
a_serial_port_is_allowed_by_its_number_alone(void **state)
{
	struct plant plant;

	(void)state;
	check(&plant,
	    HEAD LINE
	    "[bus ovens]\nport = /dev/null\nbaud = 19200\n"
	    "[bus water]\nport = /dev/ttyNotThere\nbaud = 19200\n"
	    "[device plc]\nline = line-1\nbus = ovens\nunit_id = 3\n" CHANNELS
	    "[device other]\nline = line-1\nbus = water\nunit_id = 4\n"
	    "[channel other.supply]\nrole = water_supply\ntable = input\naddress = 0\n"
	    "type = int16\nunit = C\n",
	    "--drop-in", NULL);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_true(has_line(&plant, "PrivateDevices=no"));
	assert_true(has_line(&plant, "DevicePolicy=closed"));
	assert_true(has_line(&plant, "DeviceAllow=/dev/char/1:3 rw"));
	assert_true(has_line(&plant, "SupplementaryGroups=dialout"));
	assert_non_null(strstr(plant.out, "# /dev/ttyNotThere is not there now"));
	assert_true(has_line(&plant, "IPAddressDeny=any"));
	plant_close(&plant);
}

static void
of_a_wrong_set_up_nothing_is_made(void **state)
{
	struct plant plant;

	(void)state;
	check(&plant, "[site]\n", "--drop-in", NULL);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_int_equal(plant.out_length, 0);
	plant_close(&plant);
}

static void
it_goes_with_no_other_form(void **state)
{
	struct plant plant;

	(void)state;
	check(&plant, "", "--drop-in", "--live");
	assert_int_equal(plant.code, COMMAND_USAGE);
	plant_close(&plant);
	check(&plant, "", "--drop-in", "--format=json");
	assert_int_equal(plant.code, COMMAND_USAGE);
	plant_close(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(addresses_of_devices_and_stores_are_allowed_and_no_other),
	    cmocka_unit_test(a_name_leaves_every_address_allowed_and_is_told),
	    cmocka_unit_test(a_name_of_this_computer_hinders_nothing),
	    cmocka_unit_test(a_serial_port_is_allowed_by_its_number_alone),
	    cmocka_unit_test(of_a_wrong_set_up_nothing_is_made),
	    cmocka_unit_test(it_goes_with_no_other_form),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
