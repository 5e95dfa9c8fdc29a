/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `check` says comes next. */
#include "tests/unit/cli/command/plant.h"

#include <sys/stat.h>
#include <sys/wait.h>

/* Runs `check` on the plant's set-up, which stands under `path`. */
static void
check(struct plant *plant, const char *path)
{
	plant_call(plant, (const char *[]){"check", "--config", path, NULL});
}

static void
without_a_file_it_says_where_the_examples_are(void **state)
{
	struct plant plant;

	(void)state;
	plant_open(&plant);
	check(&plant, "/nowhere/evensoak.ini");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_non_null(strstr(plant.err,
	    "sudo cp -n " EVENSOAK_EXAMPLES "/demo.ini /nowhere/evensoak.ini"));
	assert_non_null(strstr(
	    plant.err, "sudo cp -n " EVENSOAK_EXAMPLES "/materials.ini /nowhere/"));
	plant_close(&plant);
}

/* What is there but may not be read must not be copied over. */
static void
who_may_not_read_it_is_told_to_join_the_group(void **state)
{
	struct plant plant;
	char path[320];
	bool root = geteuid() == 0;

	(void)state;
	plant_open(&plant);
	snprintf(path, sizeof path, "%s/etc", plant.folder);
	assert_int_equal(mkdir(path, root ? 0700 : 0), 0);
	strcat(path, "/evensoak.ini");
	assert_int_equal(root ? seteuid(65534) : 0, 0);
	check(&plant, path);
	assert_int_equal(root ? seteuid(0) : 0, 0);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_non_null(strstr(plant.err, "adduser YOURSELF evensoak"));
	assert_null(strstr(plant.err, "sudo cp"));
	*strrchr(path, '/') = '\0';
	rmdir(path);
	plant_close(&plant);
}

static void
a_file_with_mistakes_is_not_told_to_be_missing(void **state)
{
	struct plant plant;
	char path[320];

	(void)state;
	plant_open(&plant);
	snprintf(path, sizeof path, "%s/odd.ini", plant.folder);
	FILE *file = fopen(path, "w");
	assert_non_null(file);
	fputs("[site]\n", file);
	fclose(file);
	check(&plant, path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_null(strstr(plant.err, "next:"));
	unlink(path);
	plant_close(&plant);
}

/* A whole set-up on the plant's ledger. */
static const char set_up[] =
    "[site]\nname = mill\ntimezone = Europe/Berlin\n[ledger]\npath = ledger.db\n"
    "[line line-1]\nmachine = rotary\nstations = load, oven, form\n"
    "heat_timer_s = 230\n[device plc]\nline = line-1\naddress = 127.0.0.1:1502\n"
    "[channel plc.rotating]\nrole = rotating\ntable = coil\naddress = 0\n"
    "type = bit\n[channel plc.platens]\nrole = form_closed\ntable = coil\n"
    "address = 1\ntype = bit\n";

static void
write_set_up(const struct plant *plant, char path[static 320])
{
	snprintf(path, 320, "%s/evensoak.ini", plant->folder);
	FILE *file = fopen(path, "w");
	assert_non_null(file);
	fputs(set_up, file);
	assert_int_equal(fclose(file), 0);
}

static void
without_a_line_no_logger_is_to_be_started(void **state)
{
	struct plant plant;

	(void)state;
	plant_open(&plant);
	check(&plant, "conf/office.ini");
	assert_non_null(strstr(plant.out, "set-up"));
	assert_null(strstr(plant.out, "next:"));
	assert_null(strstr(plant.out, "start the logger"));
	plant_close(&plant);
}

static void
while_no_logger_runs_the_channels_and_the_start_are_next(void **state)
{
	struct plant plant;
	char path[320];

	(void)state;
	plant_open(&plant);
	write_set_up(&plant, path);
	check(&plant, path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_non_null(strstr(plant.out, "evensoak check --live --config"));
	assert_non_null(strstr(plant.out, "start the logger"));
	unlink(path);
	plant_close(&plant);
}

/* Somebody else's lock on the plant's ledger, as a daemon has it, until the end. */
struct logger {
	pid_t pid;
	int hold; /* closed: it ends */
};

static struct logger
logger_start(const struct plant *plant)
{
	int up[2], hold[2];
	char byte;

	assert_int_equal(pipe(up), 0);
	assert_int_equal(pipe(hold), 0);
	struct logger logger = {fork(), hold[1]};
	assert_true(logger.pid >= 0);
	if (logger.pid == 0) {
		close(hold[1]);
		if (ledger_lock(plant->ledger_path, NULL) == 0)
			(void)!write(up[1], "", 1);
		(void)!read(hold[0], &byte, 1);
		_exit(0);
	}
	close(up[1]);
	close(hold[0]);
	assert_int_equal(read(up[0], &byte, 1), 1);
	close(up[0]);
	return logger;
}

static void
logger_stop(const struct logger *logger)
{
	close(logger->hold);
	assert_int_equal(waitpid(logger->pid, NULL, 0), logger->pid);
}

static void
while_one_runs_a_changed_set_up_is_to_be_taken_over(void **state)
{
	static struct problems problems;
	struct plant plant;
	char path[320];
	int64_t id;

	(void)state;
	plant_open(&plant);
	write_set_up(&plant, path);
	struct logger logger = logger_start(&plant);
	check(&plant, path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_non_null(strstr(plant.out, "runs with an earlier set-up"));

	struct settings *settings = settings_load(path, &problems);
	assert_non_null(settings);
	assert_int_equal(ledger_put_setup(plant.ledger, settings,
			     (struct wall){PLANT_SHIFT_NS + 1}, &id, NULL),
	    0);
	settings_free(settings);
	check(&plant, path);
	assert_non_null(strstr(plant.out, "the logger runs with this set-up"));
	logger_stop(&logger);
	unlink(path);
	plant_close(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(without_a_file_it_says_where_the_examples_are),
	    cmocka_unit_test(who_may_not_read_it_is_told_to_join_the_group),
	    cmocka_unit_test(a_file_with_mistakes_is_not_told_to_be_missing),
	    cmocka_unit_test(without_a_line_no_logger_is_to_be_started),
	    cmocka_unit_test(while_no_logger_runs_the_channels_and_the_start_are_next),
	    cmocka_unit_test(while_one_runs_a_changed_set_up_is_to_be_taken_over),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
