/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What runs for a configuration, with a notifier that cannot be had at first. */
#include "daemon/run/plant.h"

#include "tests/unit/conf/parsed.h"

#include <stdbool.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/notify/notifier.h"

/* --- in place of daemon/notify ------------------------------------------------------------ */

struct notifier {
	int unused;
};
static struct notifier there;
static bool may_start;
static int tries, opened, stopped;

struct notifier *
notifier_start(const struct settings *settings, const struct notifier_pace *pace,
    struct error *error)
{
	assert_string_equal(settings->notify.program, "/bin/true");
	assert_null(pace);
	tries++;
	if (may_start)
		return &there;
	error_set(error, ERROR_MEMORY, "out of memory");
	return NULL;
}

void
notifier_stop(struct notifier *notifier)
{
	stopped += notifier != NULL;
}

void
notifier_open(struct notifier *notifier)
{
	assert_ptr_equal(notifier, &there);
	opened++;
}

void
notifier_adopt(struct notifier *notifier, const struct settings *settings)
{
	assert_ptr_equal(notifier, &there);
	assert_non_null(settings);
}

void
notifier_tell(struct notifier *notifier, const struct ledger_event *event)
{
	assert_ptr_equal(notifier, &there);
	assert_non_null(event);
}

void
notifier_status(struct notifier *notifier, struct notifier_status *status)
{
	assert_ptr_equal(notifier, &there);
	*status = (struct notifier_status){.works = -1};
}

/* --- the plant ----------------------------------------------------------------------------- */

static char folder[32];
static struct plant *running;

static struct settings *
settings_of(const char *rest)
{
	char line[128], *text, *whole;

	snprintf(line, sizeof line, "path = %s/ledger.db\n%s", folder, rest);
	text = text_with(plant, "path = ledger.db\n", line);
	whole = text_with(text, "127.0.0.1:1502", "127.0.0.1:1"); /* nobody is there */
	struct settings *settings = parsed(whole);
	free(text);
	free(whole);
	return settings;
}

#define NOTIFY "[notify]\nprogram = /bin/true\n"

static int
set_up(void **state)
{
	struct error error;

	(void)state;
	log_set_level(LOG_LEVEL_ERROR - 1);
	may_start = false;
	tries = opened = stopped = 0;
	strcpy(folder, "/tmp/evensoak-plant-XXXXXX");
	assert_non_null(mkdtemp(folder));
	running = plant_start(settings_of(NOTIFY), NULL, &error);
	return running != NULL ? 0 : -1;
}

static int
tear_down(void **state)
{
	char command[64];

	(void)state;
	plant_stop(running, NULL);
	snprintf(command, sizeof command, "rm -rf '%s'", folder);
	return system(command); /* NOLINT(cert-env33-c,concurrency-mt-unsafe) */
}

static void
tick(int times)
{
	for (int i = 0; i < times; i++)
		(void)plant_tick(running);
}

static void
a_notifier_that_cannot_be_had_is_tried_again_once_a_minute(void **state)
{
	(void)state;
	assert_int_equal(tries, 1);
	tick(600);
	assert_in_range(tries, 1 + 9, 1 + 11);
	may_start = true;
	int before = tries;
	tick(60);
	assert_int_equal(tries, before + 1);
	/* and told as soon as the ledger is open */
	for (int i = 0; i < 1000 && opened == 0; i++) {
		tick(1);
		nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
	}
	assert_true(opened > 0);
	tick(600);
	assert_int_equal(tries, before + 1);
}

static void
one_that_is_asked_for_no_more_is_not_tried(void **state)
{
	struct error error;

	(void)state;
	assert_int_equal(plant_reload(running, settings_of(""), &error), 0);
	may_start = true;
	int before = tries;
	tick(600);
	assert_int_equal(tries, before);
	assert_int_equal(plant_reload(running, settings_of(NOTIFY), &error), 0);
	assert_int_equal(tries, before + 1);
	assert_int_equal(plant_reload(running, settings_of(""), &error), 0);
	assert_int_equal(stopped, 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(
		a_notifier_that_cannot_be_had_is_tried_again_once_a_minute, set_up,
		tear_down),
	    cmocka_unit_test_setup_teardown(
		one_that_is_asked_for_no_more_is_not_tried, set_up, tear_down),
	};

	return cmocka_run_group_tests_name("plant", tests, NULL, NULL);
}
