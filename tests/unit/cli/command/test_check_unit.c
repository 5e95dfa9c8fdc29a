/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `check` says of the service that is to run the set-up. */
#include "tests/unit/cli/command/plant.h"

#include <pwd.h>
#include <sys/stat.h>

#include "cli/command/check_unit.h"
#include "conf/settings.h"

#define PORT                                                       \
	"[bus line]\nport = /dev/ttyUSB0\nbaud = 19200\nparity = " \
	"even\n"
#define MATERIAL "[material abs-demo]\nform_from = 127 C\nform_to = 182 C\n"
#define OVER_TCP "address = 127.0.0.1:1502\n"
#define OVER_PORT "bus = line\nunit_id = 1\n"

static char folder[64], config[128], drop_in[128], said[4096];
static struct check_unit unit;

static void
take(void *arg, const char *sentence)
{
	size_t length = strlen(said);

	(void)arg;
	snprintf(said + length, sizeof said - length, "%s\n", sentence);
}

static void
write_file(const char *path, const char *text)
{
	FILE *file = fopen(path, "w");

	assert_non_null(file);
	fputs(text, file);
	assert_int_equal(fclose(file), 0);
}

static void
write_set_up(const char *site, const char *ledger, const char *bus, const char *more)
{
	char text[4096];

	snprintf(text, sizeof text,
	    "[site]\nname = %s\ntimezone = Europe/Berlin\ntemperature_unit = C\n"
	    "[ledger]\npath = %s\n%s[line line-1]\nmachine = rotary\n"
	    "stations = load, oven, form\nheat_timer_s = 230\n[device plc]\n"
	    "line = line-1\n%s[channel plc.rotating]\nrole = rotating\n"
	    "table = coil\naddress = 0\ntype = bit\n[channel plc.platens]\n"
	    "role = form_closed\ntable = coil\naddress = 1\ntype = bit\n%s",
	    site, ledger, bus, *bus ? OVER_PORT : OVER_TCP, more);
	write_file(config, text);
}

static void
ask(void)
{
	static struct problems problems;
	struct settings *settings = settings_load(config, &problems);

	if (!settings)
		print_error("%s\n", problems.list[0].text);
	assert_non_null(settings);
	*said = '\0';
	check_unit_tell(&unit, settings, take, NULL);
	settings_free(settings);
}

static int
set_up(void **state)
{
	(void)state;
	strcpy(folder, "/tmp/evensoak-unit-XXXXXX");
	assert_non_null(mkdtemp(folder));
	assert_int_equal(chmod(folder, 0755), 0);
	snprintf(config, sizeof config, "%s/evensoak.ini", folder);
	snprintf(drop_in, sizeof drop_in, "%s/reach.conf", folder);
	unit = (struct check_unit){config, folder, NULL};
	return 0;
}

static int
tear_down(void **state)
{
	(void)state;
	unlink(config);
	unlink(drop_in);
	return rmdir(folder);
}

static void
a_ledger_that_the_service_loses_or_may_not_write_is_told(void **state)
{
	(void)state;
	write_set_up("mill", "/var/lib/evensoak/ledger.db", "", "");
	ask();
	assert_string_equal(said, "");
	write_set_up("mill", "/tmp/ledger.db", "", "");
	ask();
	assert_non_null(strstr(said, "has a /tmp of its own that is emptied when it "
				     "stops: put the ledger into /var/lib/evensoak\n"));
	write_set_up("mill", "/var/tmp/ledger.db", "", "");
	ask();
	assert_non_null(strstr(said, "has a /var/tmp of its own"));
	write_set_up("mill", "/home/ann/ledger.db", "", "");
	ask();
	assert_non_null(strstr(said, "sees no home directory"));
	write_set_up("mill", "/var/lib/evensoakd/ledger.db", "", "");
	ask();
	assert_non_null(strstr(said, "can write only into /var/lib/evensoak: "));
	assert_non_null(strstr(said, "ReadWritePaths="));
	write_file(drop_in, "[Service]\n#ReadWritePaths=/var/lib/evensoakd\n");
	ask();
	assert_non_null(strstr(said, "ReadWritePaths="));
	write_file(drop_in, "[Service]\nReadWritePaths=/var/lib/evensoakd\n");
	ask();
	assert_string_equal(said, "");
}

static void
a_port_that_no_drop_in_lets_in_is_told(void **state)
{
	char other[160];

	(void)state;
	write_set_up("mill", "/var/lib/evensoak/ledger.db", PORT, "");
	ask();
	assert_non_null(strstr(said, "bus line: the service sees no serial port"));
	assert_non_null(strstr(said, "evensoak check --drop-in"));
	assert_non_null(strstr(said, folder));
	/* Not read by systemd. */
	snprintf(other, sizeof other, "%s/reach.conf.old", folder);
	write_file(other, "[Service]\nDeviceAllow=/dev/ttyUSB0 rw\n");
	ask();
	unlink(other);
	assert_string_not_equal(said, "");
	write_file(drop_in, "[Service]\nDeviceAllow=/dev/ttyUSB0 rw\n");
	ask();
	assert_string_equal(said, "");
	unit.drop_ins = "/nowhere";
	ask();
	assert_string_not_equal(said, "");
}

static void
what_is_left_of_the_example_is_told(void **state)
{
	(void)state;
	write_set_up("pond-works", "/var/lib/evensoak/ledger.db", "", "");
	ask();
	assert_non_null(strstr(said, "example's site 'pond-works'"));
	assert_non_null(strstr(said, "judged by made-up limits"));
	write_set_up("mill", "/var/lib/evensoak/ledger.db", "", MATERIAL);
	ask();
	assert_non_null(strstr(said, "example's material 'abs-demo'"));
}

static void
of_another_set_up_than_the_services_nothing_is_told(void **state)
{
	(void)state;
	write_set_up("pond-works", "/tmp/ledger.db", PORT, "");
	assert_int_equal(chmod(config, 0600), 0);
	unit.config = "/etc/evensoak/evensoak.ini";
	unit.user = "nobody";
	ask();
	assert_string_equal(said, "");
}

static void
a_file_that_the_services_user_may_not_read_is_told(void **state)
{
	/* One thread. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	const struct passwd *user = getpwnam("nobody");

	(void)state;
	if (geteuid() != 0 || !user) {
		skip();
		return;
	}
	unit.user = "nobody";
	write_set_up("mill", "/var/lib/evensoak/ledger.db", "", "");
	assert_int_equal(chmod(config, 0600), 0);
	ask();
	assert_non_null(strstr(said, "the user nobody may not read '/tmp/"));
	assert_non_null(strstr(said, "the logger will not start"));
	assert_int_equal(chown(config, 0, user->pw_gid), 0);
	ask();
	assert_string_not_equal(said, "");
	assert_int_equal(chmod(config, 0640), 0);
	ask();
	assert_string_equal(said, "");
	/* As an owner it has an owner's rights, whatever its group has. */
	assert_int_equal(chown(config, user->pw_uid, user->pw_gid), 0);
	assert_int_equal(chmod(config, 0044), 0);
	ask();
	assert_string_not_equal(said, "");
	assert_int_equal(chown(config, 0, 0), 0);
	assert_int_equal(chmod(config, 0644), 0);
	assert_int_equal(chmod(folder, 0700), 0);
	ask();
	assert_non_null(strstr(said, "may not enter the folder '/tmp/"));
	unit.user = "no-such-user-here";
	ask();
	assert_string_equal(said, "");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_ledger_that_the_service_loses_or_may_not_write_is_told),
	    TEST(a_port_that_no_drop_in_lets_in_is_told),
	    TEST(what_is_left_of_the_example_is_told),
	    TEST(of_another_set_up_than_the_services_nothing_is_told),
	    TEST(a_file_that_the_services_user_may_not_read_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
