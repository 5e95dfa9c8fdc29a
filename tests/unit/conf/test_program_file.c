/* SPDX-License-Identifier: GPL-3.0-or-later */
/* [notify]: what is refused as it is written, and what of the program on the disk. */
#include "conf/program_file.h"

#include <stdio.h>
#include <sys/stat.h>
#include <unistd.h>

#include "conf/words.h"
#include "daemon/base/error.h"
#include "tests/unit/conf/parsed.h"
#include "tests/unit/conf/refusal.h"

/* --- as it is written ----------------------------------------------------------------- */

#define SITE "[site]\n"
#define NOTIFY(rest) "[notify]\n" rest SITE

static uint32_t
bit(const char *kind)
{
	int place = words_find(&words_event, kind);

	assert_true(place >= 0);
	return UINT32_C(1) << place;
}

static void
a_section_gives_a_program_and_what_it_is_for(void **state)
{
	struct settings *settings;

	(void)state;
	settings = parsed_with(SITE, NOTIFY("program = /etc/evensoak/notify\non = "
					    "finding , stop\ntimeout_s = 5\n"));
	assert_string_equal(settings->notify.program, "/etc/evensoak/notify");
	assert_int_equal(settings->notify.on, bit("finding") | bit("stop"));
	assert_true(settings->notify.timeout_s == 5);
	settings_free(settings);

	settings = parsed_with(SITE, NOTIFY("program = /etc/evensoak/notify\n"));
	assert_true((settings->notify.on & bit("device_silent")) != 0);
	assert_true((settings->notify.on & bit("device_answers")) != 0);
	assert_true((settings->notify.on & bit("finding")) != 0);
	assert_true((settings->notify.on & bit("ledger_failing")) != 0);
	assert_false((settings->notify.on & bit("stop")) != 0);
	assert_true(settings->notify.timeout_s == 30);
	settings_free(settings);

	settings = parsed(plant);
	assert_string_equal(settings->notify.program, "");
	settings_free(settings);
}

static void
mistakes_are_named(void **state)
{
	CHECK({SITE, NOTIFY("program = notify\n"),
		  "x.ini:2: 'program' is 'notify': write an absolute path without "
		  "arguments, such as /etc/evensoak/notify\n"},
	    {SITE, NOTIFY("on = finding\n"),
		"x.ini:1: 'program' is missing in [notify]: write 'program = ...' "
		"(absolute path; run without a shell and without arguments)\n"},
	    {SITE, NOTIFY("program = /x\non = device_silence\n"),
		"x.ini:3: 'on' is 'device_silence': did you mean 'device_silent'?\n"},
	    {SITE, NOTIFY("program = /x\non = finding, finding\n"),
		"x.ini:3: 'on' is 'finding, finding': finding stands twice in it\n"},
	    {SITE, NOTIFY("program = /x\ntimeout_s = 301\n"),
		"x.ini:3: 'timeout_s' is '301': write a number from 1 to 300\n"});
}

static void
every_kind_has_a_bit(void **state)
{
	(void)state;
	assert_true(words_event.count <= 32);
	for (size_t i = 0; i < words_event.count; i++)
		assert_int_equal(words_find(&words_event, words_event.list[i]), (int)i);
}

/* --- on the disk ------------------------------------------------------------------------ */

static char folder[32], program[64];
static struct error error;

static int
set_up(void **state)
{
	(void)state;
	strcpy(folder, "/tmp/evensoak-program-XXXXXX");
	assert_non_null(mkdtemp(folder));
	snprintf(program, sizeof program, "%s/program", folder);
	FILE *file = fopen(program, "w");
	assert_non_null(file);
	fputs("#!/bin/sh\n", file);
	fclose(file);
	assert_int_equal(chmod(program, 0755), 0);
	return 0;
}

static int
tear_down(void **state)
{
	(void)state;
	chmod(folder, 0700);
	unlink(program);
	return rmdir(folder);
}

static void
assert_judged(enum program_verdict verdict, bool own, const char *part)
{
	strcpy(error.text, "nothing");
	assert_int_equal(program_file_judge(program, own, &error), verdict);
	if (strstr(error.text, part) == NULL)
		fail_msg("'%s' is not in '%s'", part, error.text);
}

static void
a_program_of_the_services_own_user_is_good(void **state)
{
	(void)state;
	assert_judged(PROGRAM_GOOD, true, "nothing");
	assert_int_equal(chmod(program, 0700), 0);
	assert_judged(PROGRAM_GOOD, true, "nothing");
}

static void
what_is_not_there_is_wrong_for_anybody(void **state)
{
	(void)state;
	assert_int_equal(unlink(program), 0);
	assert_judged(PROGRAM_WRONG, true, "program' is not there: put the program");
	assert_judged(PROGRAM_WRONG, false, "is not there");
	assert_int_equal(mkdir(program, 0755), 0);
	assert_judged(PROGRAM_WRONG, true, "is no file");
	assert_int_equal(rmdir(program), 0);
}

static void
what_may_not_be_run_is_wrong(void **state)
{
	(void)state;
	assert_int_equal(chmod(program, 0644), 0);
	assert_judged(PROGRAM_WRONG, true, "may not be run by the user of the service");
	assert_judged(PROGRAM_WRONG, false, "may not be run: chmod 755 it");
}

static void
what_others_may_write_is_wrong(void **state)
{
	(void)state;
	assert_int_equal(chmod(program, 0757), 0);
	assert_judged(PROGRAM_WRONG, true, "everybody may write");
	assert_judged(PROGRAM_WRONG, false, "everybody may write");
	assert_int_equal(chmod(program, 0755), 0);
	assert_int_equal(chmod(folder, 0777), 0);
	assert_judged(
	    PROGRAM_WRONG, true, "everybody may write '/tmp/evensoak-program-");
}

static void
what_a_group_may_write_is_wrong_but_roots(void **state)
{
	(void)state;
	if (chown(program, (uid_t)-1, 50) != 0)
		skip(); /* this account has one group alone */
	assert_int_equal(chmod(program, 0775), 0);
	assert_judged(PROGRAM_WRONG, true, "its group may write");
	assert_int_equal(chmod(program, 0755), 0);
	assert_judged(PROGRAM_GOOD, true, "nothing");
	assert_int_equal(chown(program, (uid_t)-1, 0), 0);
	assert_int_equal(chmod(program, 0775), 0);
	assert_judged(PROGRAM_GOOD, true, "nothing");
}

static void
what_is_somebody_elses_is_wrong_or_doubted(void **state)
{
	(void)state;
	if (chown(program, 65534, (gid_t)-1) != 0)
		skip(); /* this account is not root's */
	assert_judged(PROGRAM_WRONG, true, "belongs to user number 65534");
	assert_judged(PROGRAM_DOUBTED, false, "belongs to user number 65534");
}

static void
a_link_is_judged_with_where_it_leads(void **state)
{
	char link[96];

	(void)state;
	snprintf(link, sizeof link, "%s/link", folder);
	assert_int_equal(symlink(program, link), 0);
	assert_int_equal(program_file_judge(link, true, &error), PROGRAM_GOOD);
	assert_int_equal(chmod(program, 0757), 0);
	assert_int_equal(program_file_judge(link, true, &error), PROGRAM_WRONG);
	assert_int_equal(unlink(link), 0);
}

/* The account of the service may be another. */
static void
what_only_some_may_run_is_doubted_by_others(void **state)
{
	(void)state;
	assert_int_equal(chmod(program, 0750), 0);
	assert_judged(
	    PROGRAM_DOUBTED, false, "cannot tell whether that of the service");
}

int
main(void)
{
#define ON_DISK(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_section_gives_a_program_and_what_it_is_for),
	    cmocka_unit_test(mistakes_are_named),
	    cmocka_unit_test(every_kind_has_a_bit),
	    ON_DISK(a_program_of_the_services_own_user_is_good),
	    ON_DISK(what_is_not_there_is_wrong_for_anybody),
	    ON_DISK(what_may_not_be_run_is_wrong),
	    ON_DISK(what_others_may_write_is_wrong),
	    ON_DISK(what_a_group_may_write_is_wrong_but_roots),
	    ON_DISK(what_is_somebody_elses_is_wrong_or_doubted),
	    ON_DISK(a_link_is_judged_with_where_it_leads),
	    ON_DISK(what_only_some_may_run_is_doubted_by_others),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
