/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A port that cannot be opened, that goes away and comes back; through the link. */
#include "daemon/fieldbus/port.h"

#include <grp.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <sys/select.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include "tests/unit/daemon/fieldbus/serial_line.h"

static const double timeout_s = 0.15;

static const struct read_block holding = {
    .table = TABLE_HOLDING, .first = 100, .count = 10};

static struct slaves slaves;
static struct serial_line line;

/* What opening comes to, of a bus that is not open. */
static void
expect_refusal(const char *path, int result, const char *text)
{
	serial_line_init(&line, path, timeout_s);
	assert_int_equal(link_open(line.link, timeout_s, &line.error), result);
	assert_string_equal(line.error.text, text);
	assert_false(link_is_ready(line.link));
	assert_int_equal(link_counts(line.link).opened, 0);
	link_free(line.link);
}

static void
a_port_that_is_not_there_is_told(void **state)
{
	(void)state;
	expect_refusal("/no/such/port", ERROR_NOT_FOUND,
	    "open '/no/such/port': there is no such port: is the adapter plugged in, "
	    "or does the service not let it in: 'evensoak check --drop-in'?");
}

static void
what_is_no_serial_port_is_told(void **state)
{
	(void)state;
	expect_refusal(
	    "/dev/null", ERROR_INVALID, "open '/dev/null': it is no serial port");
	expect_refusal("/", ERROR_INVALID, "open '/': it is no serial port");
}

/* In a child that has no right to it; exit status 0: it says so. */
static int
be_refused(const char *path, mode_t mode, const char *part)
{
	pid_t child = fork();
	int status;

	assert_true(child >= 0);
	if (child == 0) {
		chmod(path, mode);
		if (setgroups(0, NULL) || setgid(65534) || setuid(65534))
			_exit(77);
		serial_line_init(&line, path, timeout_s);
		_exit(link_open(line.link, timeout_s, &line.error) != ERROR_IO ||
		      !strstr(line.error.text, part));
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status));
	return WEXITSTATUS(status);
}

static void
a_port_without_permission_names_the_group_that_has_it(void **state)
{
	struct group *group;
	struct stat status;
	char part[200];
	int result;

	(void)state;
	slaves_start(&slaves);
	assert_int_equal(stat(slaves.path, &status), 0);
	group = getgrgid(status.st_gid);
	assert_non_null(group);
	snprintf(part, sizeof part,
	    "open '%s': no permission: it is for members of group '%s', so add this "
	    "program's user to it",
	    slaves.path, group->gr_name);
	result = be_refused(slaves.path, 0660, part);
	if (result != 77) {
		assert_int_equal(result, 0);
		result = be_refused(slaves.path, 0600,
		    "no permission, and no group has it either: check its owner and "
		    "mode");
		assert_int_equal(result, 0);
	}
	slaves_stop(&slaves);
	if (result == 77)
		skip(); /* only root can become somebody else */
}

/* A pseudo-terminal has no transceiver. */
static void
a_driver_without_rs485_is_told(void **state)
{
	char text[300];

	(void)state;
	slaves_start(&slaves);
	serial_line_init(&line, slaves.path, timeout_s);
	line.bus.rs485 = true;
	assert_int_equal(link_open(line.link, timeout_s, &line.error), ERROR_INVALID);
	snprintf(text, sizeof text,
	    "open '%s': its driver cannot switch an RS-485 transceiver: take an "
	    "adapter that does so by itself, and say rs485 = no",
	    slaves.path);
	assert_string_equal(line.error.text, text);
	assert_false(link_is_ready(line.link));
	link_free(line.link);
	slaves_stop(&slaves);
}

/* A pseudo-terminal has no parity, and says so or not, as what else is changed. */
static void
a_setting_that_is_not_taken_is_told(void **state)
{
	char text[200];

	(void)state;
	slaves_start(&slaves);
	serial_line_init(&line, slaves.path, timeout_s);
	snprintf(text, sizeof text, "open '%s': the port does not take parity even",
	    slaves.path);
	line.bus.parity = PARITY_EVEN;
	for (int i = 0; i < 2; i++) {
		assert_int_equal(link_open(line.link, 0, &line.error), ERROR_INVALID);
		assert_string_equal(line.error.text, text);
	}
	line.bus.parity = PARITY_ODD;
	line.bus.baud = 9600;
	assert_int_equal(link_open(line.link, 0, &line.error), ERROR_INVALID);
	assert_non_null(strstr(line.error.text, "does not take parity odd"));
	line.bus.parity = PARITY_NONE;
	assert_int_equal(link_open(line.link, 0, &line.error), 0);
	link_free(line.link);
	slaves_stop(&slaves);
}

/* An exchange of another program may be under way. */
static void
a_port_that_is_taken_is_not_set_up(void **state)
{
	struct termios now;
	char text[200];
	int fd;

	(void)state;
	slaves_start(&slaves);
	serial_line_open(&line, slaves.path, timeout_s);
	link_free(line.link);
	fd = open(slaves.path, O_RDWR | O_NOCTTY);
	assert_int_equal(flock(fd, LOCK_EX), 0);
	line.bus.baud = 9600;
	line.link = link_new(&line.bus);
	assert_int_equal(link_open(line.link, 0.05, &line.error), ERROR_BUSY);
	snprintf(text, sizeof text,
	    "another program has held the port for 150 ms: 'fuser %s' tells which",
	    slaves.path);
	assert_string_equal(line.error.text, text);
	assert_int_equal(tcgetattr(slaves.slave, &now), 0);
	assert_true(cfgetospeed(&now) == B115200);
	assert_int_equal(flock(fd, LOCK_UN), 0);
	assert_int_equal(link_open(line.link, 0.05, &line.error), 0);
	assert_int_equal(tcgetattr(slaves.slave, &now), 0);
	assert_true(cfgetospeed(&now) == B9600);
	close(fd);
	link_free(line.link);
	slaves_stop(&slaves);
}

/* libmodbus would take 9600 in its place. */
static void
a_baud_rate_that_is_none_is_told(void **state)
{
	(void)state;
	slaves_start(&slaves);
	serial_line_init(&line, slaves.path, timeout_s);
	link_free(line.link);
	line.bus.baud = 12345;
	line.link = link_new(&line.bus);
	assert_int_equal(link_open(line.link, timeout_s, &line.error), ERROR_INVALID);
	assert_non_null(
	    strstr(line.error.text, "a serial port cannot be set to 12345 baud"));
	link_free(line.link);
	slaves_stop(&slaves);
}

static void
each_baud_rate_in_use_can_be_set(void **state)
{
	static const struct {
		int baud;
		speed_t speed;
	} rows[] = {{1200, B1200}, {2400, B2400}, {4800, B4800}, {9600, B9600},
	    {19200, B19200}, {38400, B38400}, {57600, B57600}, {115200, B115200},
	    {230400, B230400}};

	(void)state;
	slaves_start(&slaves);
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct termios now;

		serial_line_init(&line, slaves.path, timeout_s);
		link_free(line.link);
		line.bus.baud = rows[i].baud;
		line.bus.stop_bits = 1 + (int)(i % 2);
		line.link = link_new(&line.bus);
		assert_int_equal(link_open(line.link, timeout_s, &line.error), 0);
		assert_int_equal(tcgetattr(slaves.slave, &now), 0);
		assert_true(cfgetospeed(&now) == rows[i].speed);
		assert_int_equal((now.c_cflag & CSTOPB) != 0, i % 2);
		serial_line_expect(&line, 3, &holding);
		link_free(line.link);
	}
	slaves_stop(&slaves);
}

/* libmodbus would end the process there. */
static void
a_descriptor_past_what_select_holds_is_an_error(void **state)
{
	struct rlimit limit, before;
	int first, last;

	(void)state;
	slaves_start(&slaves);
	getrlimit(RLIMIT_NOFILE, &before);
	limit = before;
	limit.rlim_cur = FD_SETSIZE + 16;
	if (limit.rlim_cur > limit.rlim_max || setrlimit(RLIMIT_NOFILE, &limit)) {
		slaves_stop(&slaves);
		skip();
	}
	serial_line_init(&line, slaves.path, timeout_s);
	first = last = open("/dev/null", O_RDONLY);
	while (last < FD_SETSIZE - 1)
		last = dup(first);
	assert_int_equal(link_open(line.link, timeout_s, &line.error), ERROR_IO);
	assert_non_null(strstr(line.error.text, "Too many open files"));
	for (int fd = first; fd <= last; fd++)
		close(fd);
	setrlimit(RLIMIT_NOFILE, &before);
	assert_int_equal(link_open(line.link, timeout_s, &line.error), 0);
	serial_line_expect(&line, 3, &holding);
	link_free(line.link);
	slaves_stop(&slaves);
}

/* --- gone and back ----------------------------------------------------------------- */

/* A name that stays while what it stands for comes and goes. */
static const char *
plug_in(const char *as)
{
	slaves_start(&slaves);
	unlink(as);
	assert_int_equal(symlink(slaves.path, as), 0);
	return as;
}

static void
an_adapter_that_is_pulled_out_and_comes_back_is_read_again(void **state)
{
	char path[] = "/tmp/evensoak-port-XXXXXX";

	(void)state;
	close(mkstemp(path));
	serial_line_open(&line, plug_in(path), timeout_s);
	for (int i = 1; i <= 3; i++) {
		serial_line_expect(&line, 3, &holding);
		slaves_stop(&slaves);
		if (i % 2) /* noticed by the next look, or by the next request */
			assert_false(link_is_ready(line.link));
		else
			assert_int_equal(
			    serial_line_read(&line, 3, &holding), ANSWER_LOST);
		assert_false(link_is_ready(line.link));
		assert_int_equal(
		    link_open(line.link, timeout_s, &line.error), ERROR_NOT_FOUND);
		assert_non_null(strstr(line.error.text, "is the adapter plugged in"));
		plug_in(path);
		assert_int_equal(link_open(line.link, timeout_s, &line.error), 0);
		if (serial_line_read(&line, 3, &holding) != ANSWER_GOOD)
			fail_msg("%s", line.error.text);
		assert_int_equal(link_counts(line.link).opened, 1 + i);
		assert_int_equal(link_counts(line.link).lost, i);
	}
	link_free(line.link);
	slaves_stop(&slaves);
	unlink(path);
}

static void *
pull_out(void *arg)
{
	(void)arg;
	usleep(30000);
	slaves_stop(&slaves);
	return NULL;
}

static void
an_adapter_that_is_pulled_out_while_it_is_asked_costs_no_time_out(void **state)
{
	pthread_t thread;
	struct mono start;

	(void)state;
	slaves_start(&slaves);
	serial_line_open(&line, slaves.path, 5);
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	start = clock_mono();
	assert_int_equal(pthread_create(&thread, NULL, pull_out, NULL), 0);
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_LOST);
	assert_non_null(strstr(line.error.text, "the port is gone"));
	assert_true(seconds_since(start) < 2);
	pthread_join(thread, NULL);
	link_free(line.link);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_port_that_is_not_there_is_told),
	    cmocka_unit_test(what_is_no_serial_port_is_told),
	    cmocka_unit_test(a_port_without_permission_names_the_group_that_has_it),
	    cmocka_unit_test(a_driver_without_rs485_is_told),
	    cmocka_unit_test(a_setting_that_is_not_taken_is_told),
	    cmocka_unit_test(a_port_that_is_taken_is_not_set_up),
	    cmocka_unit_test(a_baud_rate_that_is_none_is_told),
	    cmocka_unit_test(each_baud_rate_in_use_can_be_set),
	    cmocka_unit_test(a_descriptor_past_what_select_holds_is_an_error),
	    cmocka_unit_test(
		an_adapter_that_is_pulled_out_and_comes_back_is_read_again),
	    cmocka_unit_test(
		an_adapter_that_is_pulled_out_while_it_is_asked_costs_no_time_out),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
