/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `backup` makes, tells and refuses. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>
#include <fcntl.h>

#include "tests/unit/cli/command/plant.h"

static struct plant plant;
static char copy[400];

static int
open_plant(void **state)
{
	(void)state;
	plant_open(&plant);
	plant_run(&plant, 1, 40);
	snprintf(copy, sizeof copy, "%s/copy.db", plant.folder);
	return 0;
}

static int
close_plant(void **state)
{
	(void)state;
	unlink(copy);
	plant_close(&plant);
	return 0;
}

static void
a_copy_is_made_told_and_read_like_a_ledger(void **state)
{
	(void)state;
	plant_run_command(
	    &plant, "backup", copy, "--ledger", plant.ledger_path, "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_non_null(strstr(plant.out, "\"shots\": 40"));
	assert_non_null(strstr(plant.out, "\"bytes\": "));
	assert_non_null(strstr(plant.out, copy));
	plant_run_command(
	    &plant, "shots", "--ledger", copy, "--last", "1", "--format", "csv");
	assert_int_equal(plant.code, COMMAND_DONE);
}

static void
what_is_there_stays_unless_it_is_forced(void **state)
{
	(void)state;
	for (int i = 0; i < 2; i++)
		plant_run_command(
		    &plant, "backup", copy, "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_non_null(strstr(plant.err, "--force"));
	plant_run_command(
	    &plant, "backup", copy, "--ledger", plant.ledger_path, "--force");
	assert_int_equal(plant.code, COMMAND_DONE);
	plant_run_command(&plant, "backup", plant.ledger_path, "--ledger",
	    plant.ledger_path, "--force");
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_non_null(strstr(plant.err, "the ledger itself"));
}

static void
wrong_use_is_told(void **state)
{
	(void)state;
	plant_run_command(&plant, "backup", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_USAGE);
	plant_run_command(
	    &plant, "backup", copy, "--ledger", plant.ledger_path, "--dry-run");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_non_null(strstr(plant.err, "--salvage"));
	assert_int_not_equal(access(copy, F_OK), 0);
}

/* With one shot. */
static struct ledger *
open_without_set_up(const char *path)
{
	struct ledger *ledger = ledger_open(path, NULL, NULL);
	struct shot *shot = plant_shot(&plant, 1);
	char first = plant.settings->text[0];
	int64_t setup;

	assert_non_null(ledger);
	plant.settings->text[0] = ']';
	assert_int_equal(ledger_put_setup(ledger, plant.settings,
			     (struct wall){PLANT_SHIFT_NS}, &setup, NULL),
	    0);
	plant.settings->text[0] = first;
	assert_int_equal(ledger_put_shot(ledger, plant.settings, shot, NULL), 0);
	shot_free(shot);
	return ledger;
}

static void
times_are_the_site_s_or_marked_as_utc(void **state)
{
	char plain[420];
	(void)state;

	snprintf(plain, sizeof plain, "%s/plain.db", plant.folder);

	setenv("TZ", "UTC", 1);
	plant_run_command(&plant, "backup", copy, "--ledger", plant.ledger_path);
	assert_tells(plant.out, "2026-03-02 06:03:00\n"); /* in Berlin */
	/* of one whose set-up cannot be read there are only marked ones */
	struct ledger *ledger = open_without_set_up(plain);
	unlink(copy);
	plant_run_command(&plant, "backup", copy, "--ledger", plain);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "2026-03-02 05:03:00 UTC\n");
	ledger_close(ledger);
	unlink(plain);
	strcat(plain, ".lock");
	unlink(plain);
}

static void
a_salvage_tells_what_is_read_and_what_is_not(void **state)
{
	(void)state;
	plant_run_command(&plant, "backup", copy, "--ledger", plant.ledger_path,
	    "--salvage", "--dry-run", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_non_null(strstr(plant.out, "\"lost_shots\": 0"));
	assert_int_not_equal(access(copy, F_OK), 0);
	plant_run_command(
	    &plant, "backup", copy, "--ledger", plant.ledger_path, "--salvage");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_non_null(strstr(plant.out, "everything could be read"));
	assert_int_equal(access(copy, F_OK), 0);
}

/* All pages but those of the list of tables. */
static void
damage_from(const char *path, long page)
{
	static const unsigned char zeros[2048];
	int fd = open(path, O_WRONLY);

	assert_true(fd >= 0);
	for (long i = 0; i < 3; i++)
		assert_int_equal(pwrite(fd, zeros, sizeof zeros,
				     (page - 1 + i) * (long)sizeof zeros),
		    sizeof zeros);
	close(fd);
}

static void
a_damaged_ledger_has_no_copy_and_is_salvaged_in_part(void **state)
{
	char salvaged[420];
	(void)state;

	/* A copy stands for the ledger: nobody has it open. */
	plant_run_command(&plant, "backup", copy, "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	FILE *file = fopen(copy, "rb");
	assert_non_null(file);
	fseek(file, 0, SEEK_END);
	damage_from(copy, ftell(file) / 2048 - 3); /* the newest pages: of shots */
	fclose(file);
	snprintf(salvaged, sizeof salvaged, "%s/salvaged.db", plant.folder);
	plant_run_command(&plant, "backup", salvaged, "--ledger", copy);
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_non_null(strstr(plant.err, "--salvage"));
	assert_int_not_equal(access(salvaged, F_OK), 0);
	plant_run_command(&plant, "backup", salvaged, "--ledger", copy, "--salvage");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_non_null(strstr(plant.out, "could not be read"));
	assert_int_equal(access(salvaged, F_OK), 0);
	unlink(salvaged);
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, open_plant, close_plant)
	const struct CMUnitTest tests[] = {
	    TEST(a_copy_is_made_told_and_read_like_a_ledger),
	    TEST(what_is_there_stays_unless_it_is_forced),
	    TEST(wrong_use_is_told),
	    TEST(times_are_the_site_s_or_marked_as_utc),
	    TEST(a_salvage_tells_what_is_read_and_what_is_not),
	    TEST(a_damaged_ledger_has_no_copy_and_is_salvaged_in_part),
	};

	return cmocka_run_group_tests_name("backup", tests, NULL, NULL);
}
