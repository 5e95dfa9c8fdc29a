/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the reader makes of texts and files, whatever is in them. */
#include "conf/settings.h"

#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

#include "daemon/base/text.h"
#include "tests/unit/conf/machines.h"
#include "tests/unit/conf/parsed.h"
#include "tests/unit/conf/serial.h"
#include "tests/unit/seed.h"

/* --- what is kept ----------------------------------------------------------------- */

struct folder {
	char path[64], file[80];
};

static struct folder
make_folder(void)
{
	const char *base = getenv("TMPDIR");
	struct folder folder;

	snprintf(
	    folder.path, sizeof folder.path, "%.40s/conf-XXXXXX", base ? base : "/tmp");
	assert_non_null(mkdtemp(folder.path));
	snprintf(folder.file, sizeof folder.file, "%s/x.ini", folder.path);
	return folder;
}

static void
remove_folder(const struct folder *folder)
{
	unlink(folder->file);
	assert_int_equal(rmdir(folder->path), 0);
}

static void
write_file(const char *path, const char *bytes, size_t length)
{
	FILE *file = fopen(path, "w");

	assert_non_null(file);
	assert_int_equal(fwrite(bytes, 1, length, file), length);
	assert_int_equal(fclose(file), 0);
}

static void
a_text_kept_is_read_as_the_file_was(void **state)
{
	struct folder folder = make_folder();
	struct settings *loaded, *read;

	(void)state;
	write_file(folder.file, plant, strlen(plant));
	loaded = settings_load(folder.file, &problems);
	assert_non_null(loaded);
	assert_string_equal(loaded->text, plant);
	read = settings_parse(loaded->text, folder.file, &problems);
	assert_non_null(read);
	assert_string_equal(read->text, plant);
	assert_string_equal(read->hash, loaded->hash);
	assert_string_equal(read->ledger, loaded->ledger);
	assert_true(settings_same_machine(loaded, read));
	assert_int_equal(read->limit_count, loaded->limit_count);
	assert_memory_equal(
	    read->limits, loaded->limits, read->limit_count * sizeof read->limits[0]);
	settings_free(loaded);
	settings_free(read);
	remove_folder(&folder);
}

static void
the_hash_tells_texts_apart_and_stays(void **state)
{
	struct settings *a = parsed(plant), *b = parsed_with("works", "plant");
	struct settings *again = parsed(plant);

	(void)state;
	assert_int_equal(strlen(a->hash), 16);
	assert_string_equal(a->hash, again->hash);
	assert_string_not_equal(a->hash, b->hash);
	settings_free(a);
	settings_free(b);
	settings_free(again);
}

static void
windows_line_ends_and_a_byte_order_mark_are_taken(void **state)
{
	char *text = calloc(1, 2 * sizeof plant + 4), *to = text;
	struct settings *settings;

	(void)state;
	to = stpcpy(to, "\xef\xbb\xbf");
	for (const char *from = plant; *from; from++) {
		if (*from == '\n')
			*to++ = '\r';
		*to++ = *from;
	}
	settings = parsed(text);
	assert_string_equal(settings->text, text);
	assert_string_equal(settings->site, "works");
	settings_free(settings);
	free(text);
}

static void
a_long_line_is_whole_and_keeps_the_line_numbers(void **state)
{
	char path[300], change[400], expected[64];
	struct settings *settings;
	char *text;

	(void)state;
	memset(path, 'p', sizeof path - 1);
	path[sizeof path - 1] = '\0';
	snprintf(change, sizeof change, "path = %s", path);
	settings = parsed_with("path = ledger.db", change);
	assert_string_equal(settings->ledger, path);
	settings_free(settings);

	snprintf(change, sizeof change, "path = %s\nmode = 1", path);
	text = plant_with("path = ledger.db", change);
	assert_null(settings_parse(text, "x.ini", &problems));
	snprintf(expected, sizeof expected, "x.ini:7: unknown setting 'mode'");
	assert_int_equal(strncmp(problems.list[0].text, expected, strlen(expected)), 0);
	free(text);
}

static void
a_line_that_is_too_long_is_refused(void **state)
{
	char change[1100];
	char *text;

	(void)state;
	memset(change, '\0', sizeof change);
	memset(change, '#', 1001);
	strncat(change, "\n[material abs]", 20);
	text = plant_with("[material abs]", change);
	assert_null(settings_parse(text, "x.ini", &problems));
	assert_int_equal(problems.count, 1);
	assert_string_equal(
	    problems.list[0].text, "x.ini:36: line of 1001 bytes: write at most 1000");
	free(text);
}

static void
comments_and_blanks_mean_nothing(void **state)
{
	struct settings *settings = parsed_with("name = works",
	    "  # a remark\n\t; another\n\n  name\t=  works \t ; a third = [x]");

	(void)state;
	assert_string_equal(settings->site, "works");
	settings_free(settings);
}

static void
names_may_have_letters_of_any_language(void **state)
{
	struct settings *settings = parsed_with("[shift early]", "[shift Fr\xc3\xbch]");

	(void)state;
	assert_string_equal(settings->shifts[0].name, "Fr\xc3\xbch");
	settings_free(settings);
}

/* --- files that cannot be used ---------------------------------------------------- */

static void
refused_file(const char *path, const char *said)
{
	char expected[256];

	assert_null(settings_load(path, &problems));
	assert_int_equal(problems.count, 1);
	snprintf(expected, sizeof expected, "%s%s", path, said);
	assert_string_equal(problems.list[0].text, expected);
}

static void
files_that_cannot_be_used_are_refused(void **state)
{
	struct folder folder = make_folder();
	char *big = malloc((4 << 20) + 1);

	(void)state;
	assert_non_null(big);
	memset(big, '\n', (4 << 20) + 1);
	refused_file(folder.file, ": cannot be read: No such file or directory");
	refused_file(folder.path, ": is a directory: name a file in it");
	assert_int_equal(mkfifo(folder.file, 0600), 0);
	alarm(10); /* rather than wait for ever for one who writes */
	refused_file(folder.file, ": is no file: a pipe or a device is not read");
	alarm(0);
	assert_int_equal(unlink(folder.file), 0);
	write_file(folder.file, "[site]\nname = a\0b\n", 18);
	refused_file(folder.file,
	    ":2: a byte 0 is no text: save the file as plain text in UTF-8");
	write_file(folder.file, big, (4 << 20) + 1);
	refused_file(folder.file,
	    ": is longer than 4194304 bytes: write a configuration, not data");
	free(big);
	remove_folder(&folder);
}

static void
an_empty_file_lacks_its_sections(void **state)
{
	(void)state;
	assert_null(settings_parse("", "x.ini", &problems));
	assert_int_equal(problems.count, 3);
	assert_string_equal(problems.list[2].text,
	    "x.ini:1: there is no [line NAME], a machine with its loader: write that "
	    "section");
}

/* --- many mistakes ---------------------------------------------------------------- */

static void
sixty_mistakes_are_counted_and_the_first_fifty_told(void **state)
{
	char change[2048] = "", expected[64];
	char *text;

	(void)state;
	for (int i = 0; i < 60; i++)
		strncat(change, "[nothing]\n", sizeof change - strlen(change) - 1);
	strncat(change, "[material abs]", sizeof change - strlen(change) - 1);
	text = plant_with("[material abs]", change);
	assert_null(settings_parse(text, "x.ini", &problems));
	assert_int_equal(problems.count, 60);
	for (int i = 0; i < SETTINGS_PROBLEMS; i++) {
		snprintf(
		    expected, sizeof expected, "x.ini:%d: unknown section", 36 + i);
		assert_int_equal(
		    strncmp(problems.list[i].text, expected, strlen(expected)), 0);
		assert_int_equal(problems.list[i].line, 36 + i);
	}
	free(text);
}

static void
a_section_that_never_ends_is_refused(void **state)
{
	char *text = calloc(1, 8192), *to;

	(void)state;
	assert_non_null(text);
	to = stpcpy(text, "[site]\n");
	for (int i = 0; i < 400; i++)
		to += snprintf(to, 16, "k%d = 1\n", i);
	assert_null(settings_parse(text, "x.ini", &problems));
	/* 256 unknown settings, one line for the rest, what is missing */
	assert_int_equal(problems.count, 256 + 1 + 4);
	free(text);
}

static void
mistakes_found_late_stand_in_the_order_of_lines(void **state)
{
	char *text = plant_with("name = works", "nam = works");

	(void)state;
	/* line 1 lacks its name, noted after line 2; the feature is looked at last */
	memcpy(strstr(text, "exit_top_c"), "exit_xxx_c", 10);
	memcpy(strstr(text, "holding\naddress = 20"), "holdong", 7);
	assert_null(settings_parse(text, "x.ini", &problems));
	assert_int_equal(problems.count, 4);
	assert_int_equal(problems.list[0].line, 1);
	assert_int_equal(problems.list[1].line, 2);
	assert_int_equal(problems.list[2].line, 29);
	assert_int_equal(problems.list[3].line, 47);
	free(text);
}

/* --- whatever the bytes are ------------------------------------------------------- */

/* Every channel is of a line with such an oven and side, and has both levels or none. */
static void
check_places(const struct settings *settings)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = settings->channels + i;
		const struct line_settings *line =
		    settings->lines + settings->devices[channel->device].line;

		assert_true(line->station_count >= 3 && line->oven_count >= 1);
		assert_in_range(channel->oven, 0, line->oven_count - 1);
		assert_true(channel->side >= -1);
		assert_true(
		    channel->side < (line->side_count > 1 ? line->side_count : 0));
		assert_int_equal(isnan(channel->on_si), isnan(channel->off_si));
	}
}

/* Settings, or at least one problem with text; never both, never neither. */
static void
check_any(const char *text)
{
	struct settings *settings = settings_parse(text, "x.ini", &problems);

	assert_true((settings != NULL) == (problems.count == 0));
	for (size_t i = 0; i < problems.count && i < SETTINGS_PROBLEMS; i++) {
		assert_int_equal(strncmp(problems.list[i].text, "x.ini:", 6), 0);
		if (i > 0)
			assert_true(problems.list[i - 1].line <= problems.list[i].line);
	}
	if (settings)
		check_places(settings);
	settings_free(settings);
}

/* Mostly what means something to the reader, and now and then any byte but 0. */
static char
random_byte(unsigned *seed)
{
	static const char likely[] = "[]=:;#,.-\n\r\t \"abcxyz0123456789\xc3\xa9";

	if (rand_r(seed) % 8 == 0)
		return (char)(1 + rand_r(seed) % 255);
	return likely[(size_t)rand_r(seed) % (sizeof likely - 1)];
}

static void
garbage_is_refused_and_nothing_breaks(void **state)
{
	unsigned seed = seed_take((unsigned)getpid());
	char text[400];

	(void)state;
	for (int round = 0; round < 2000; round++) {
		size_t length = (size_t)rand_r(&seed) % sizeof text;

		for (size_t i = 0; i < length; i++)
			text[i] = random_byte(&seed);
		text[length] = '\0';
		check_any(text);
	}
}

/* One byte of a sound text changed, a piece of it put elsewhere, or its end cut off. */
static void
damage(char *text, const char *sound, unsigned *seed)
{
	size_t bytes = strlen(sound);
	size_t at = (size_t)rand_r(seed) % bytes, from = (size_t)rand_r(seed) % bytes;
	size_t most = bytes - (at > from ? at : from);
	size_t length = (size_t)rand_r(seed) % 40;
	int kind = rand_r(seed) % 16;

	if (kind == 0)
		text[at] = '\0';
	else if (kind < 8)
		text[at] = random_byte(seed);
	else
		memcpy(text + at, sound + from, length < most ? length : most);
}

static void
damaged_configurations_are_refused_or_sound(void **state)
{
	char *paced = text_with(serial, "unit = %\n",
	    "unit = %\nfault_bit = broken\nfrozen_after_s = 60\nat_heat = no\n"
	    "period_ms = 1000\n");
	const char *const sounds[] = {plant, ring, shuttle, single, paced};
	unsigned seed = seed_take((unsigned)getpid());
	char text[2 * sizeof serial];

	(void)state;
	for (int round = 0; round < 5000; round++) {
		const char *sound = sounds[round % 5];

		text_copy(text, sizeof text, sound);
		for (int count = 1 + rand_r(&seed) % 4; count > 0; count--)
			damage(text, sound, &seed);
		check_any(text);
	}
	free(paced);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_text_kept_is_read_as_the_file_was),
	    cmocka_unit_test(the_hash_tells_texts_apart_and_stays),
	    cmocka_unit_test(windows_line_ends_and_a_byte_order_mark_are_taken),
	    cmocka_unit_test(a_long_line_is_whole_and_keeps_the_line_numbers),
	    cmocka_unit_test(a_line_that_is_too_long_is_refused),
	    cmocka_unit_test(comments_and_blanks_mean_nothing),
	    cmocka_unit_test(names_may_have_letters_of_any_language),
	    cmocka_unit_test(files_that_cannot_be_used_are_refused),
	    cmocka_unit_test(an_empty_file_lacks_its_sections),
	    cmocka_unit_test(sixty_mistakes_are_counted_and_the_first_fifty_told),
	    cmocka_unit_test(a_section_that_never_ends_is_refused),
	    cmocka_unit_test(mistakes_found_late_stand_in_the_order_of_lines),
	    cmocka_unit_test(garbage_is_refused_and_nothing_breaks),
	    cmocka_unit_test(damaged_configurations_are_refused_or_sound),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
