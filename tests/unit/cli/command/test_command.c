/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "cli/command/span.h"
#include "tests/unit/cli/command/plant.h"
#include "tests/unit/near.h"

static struct plant plant;

static int
open_plant(void **state)
{
	(void)state;
	unsetenv("COLUMNS"); /* of whoever runs the test */
	plant_open(&plant);
	plant_run(&plant, 1, 40);
	return 0;
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

static void
help_goes_to_the_output_and_is_no_mistake(void **state)
{
	static const char *const names[] = {"check", "status", "shots", "shot",
	    "registers", "context", "report", "watch", "recompute", "soak", "calibrate",
	    "reference", "resend", "export", "trend", "hold", "compare", "capability",
	    "backup"};

	(void)state;
	plant_run_command(&plant, "--help");
	assert_int_equal(plant.code, COMMAND_DONE);
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
		assert_tells(plant.out, names[i]);
	plant_run_command(&plant, "help");
	assert_int_equal(plant.code, COMMAND_DONE);
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		plant_run_command(&plant, names[i], "--help");
		assert_int_equal(plant.code, COMMAND_DONE);
		assert_tells(plant.out, "--format");
		assert_string_equal(plant.err, "");
		char *first = strdup(plant.out);
		plant_run_command(&plant, "help", names[i]);
		assert_string_equal(plant.out, first);
		free(first);
	}
	plant_run_command(&plant, "--version");
	assert_string_equal(plant.out, "evensoak " EVENSOAK_VERSION "\n");
}

static void
what_stands_before_the_command_may_be_given_anew(void **state)
{
	(void)state;
	plant_run_command(
	    &plant, "--format", "csv", "soak", "--format", "json", "--help");
	assert_int_equal(plant.code, COMMAND_DONE);
	plant_run_command(&plant, "shots", "--format", "csv", "--format", "json");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "'--format' is given twice");
}

static void
wrong_usage_is_one_sentence_and_where_the_help_is(void **state)
{
	static const struct {
		const char *words[5];
		const char *told;
	} rows[] = {
	    {{NULL}, "evensoak: which command?\nsee 'evensoak --help'\n"},
	    {{"reprt"}, "evensoak: unknown command 'reprt'; did you mean 'report'?\n"
			"see 'evensoak --help'\n"},
	    {{"report", "--formt", "json"},
		"evensoak: unknown option '--formt'; did you mean '--format'?\n"
		"see 'evensoak report --help'\n"},
	    {{"shots", "--format", "xml"},
		"evensoak: '--format' is 'xml', must be text, json or csv\n"
		"see 'evensoak shots --help'\n"},
	    {{"report", "--format", "xml"},
		"evensoak: '--format' is 'xml', must be text, json, csv, html, pdf, "
		"svg or png\n"
		"see 'evensoak report --help'\n"},
	    {{"report", "--color=blue"},
		"evensoak: '--color' is 'blue', must be auto, always or never\n"
		"see 'evensoak report --help'\n"},
	    {{"shots", "--last"}, "evensoak: '--last' needs a value: --last COUNT\n"
				  "see 'evensoak shots --help'\n"},
	    {{"shot"}, "evensoak: 'shot' needs NUMBER\nsee 'evensoak shot --help'\n"},
	    {{"shot", "1", "2"}, "evensoak: '2' is one argument too many\n"
				 "see 'evensoak shot --help'\n"},
	    {{"--last", "3", "check"}, "evensoak: 'check' has no option '--last'\n"
				       "see 'evensoak check --help'\n"},
	    {{"context", "lot", "\x1b]0;x\a"},
		"evensoak: argument 3 has a control character in it, or is not UTF-8 "
		"(byte 0x1b)\nsee 'evensoak --help'\n"},
	    {{"context", "lot", "\xe2\x80\xaex"},
		"evensoak: argument 3 has a control character in it, or is not UTF-8 "
		"(byte 0xe2)\nsee 'evensoak --help'\n"},
	    {{"r\xe9port"},
		"evensoak: argument 1 has a control character in it, or is not UTF-8 "
		"(byte 0xe9)\nsee 'evensoak --help'\n"},
	    {{"check", "--help=1"},
		"evensoak: '--help' takes no value\nsee 'evensoak check --help'\n"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		plant_call(&plant, rows[i].words);
		assert_int_equal(plant.code, COMMAND_USAGE);
		assert_string_equal(plant.err, rows[i].told);
		assert_string_equal(plant.out, "");
	}
}

static void
values_of_options_are_checked(void **state)
{
	static const struct {
		const char *words[4];
		const char *told;
	} rows[] = {
	    {{"report", "--line", "line-4"}, "did you mean 'line-3'?"},
	    {{"report", "--shift", "eraly"}, "'eraly'"},
	    {{"report", "--date", "2026-02-30"}, "'--date'"},
	    {{"report", "--since", "7w"}, "must be like 7d, 12h or 90m"},
	    {{"report", "--from", "soon"}, "'--from'"},
	    {{"shots", "--last", "0"}, "must be 1 to 1000000"},
	    {{"shots", "--outcome", "complet"}, "did you mean 'complete'?"},
	    {{"shot", "x"}, "'x' is no shot number"},
	    {{"context", "lot"}, "'lot' needs a value"},
	    {{"context", "tol", "T-117"}, "did you mean 'tool'?"},
	    {{"context", "recipe", "abc"}, "'abc'"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const char *words[8] = {"--ledger", plant.ledger_path};
		memcpy(words + 2, rows[i].words, sizeof rows[i].words);
		plant_call(&plant, words);
		assert_int_equal(plant.code, COMMAND_USAGE);
		assert_tells(plant.err, rows[i].told);
		assert_string_equal(plant.out, "");
	}
	plant_run_command(&plant, "--ledger", plant.ledger_path, "report", "--since",
	    "1d", "--date", "2026-03-02");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "say the time one way");
	plant_run_command(&plant, "--ledger", plant.ledger_path, "report", "--from",
	    "2026-03-02T08:00", "--to", "2026-03-02T08:00");
	assert_int_equal(plant.code, COMMAND_USAGE);
}

static void
without_a_ledger_a_command_cannot(void **state)
{
	(void)state;
	plant_run_command(&plant, "report", "--ledger", "/nowhere/ledger.db");
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_tells(plant.err, "/nowhere/ledger.db");
	plant_run_command(&plant, "report", "--ledger", "conf/demo.ini");
	assert_int_equal(plant.code, COMMAND_CANNOT);
	plant_run_command(
	    &plant, "context", "--ledger", "/nowhere/ledger.db", "lot", "A");
	assert_int_equal(plant.code, COMMAND_CANNOT);
	plant_run_command(&plant, "report", "--config", "/nowhere/x.ini");
	assert_int_equal(plant.code, COMMAND_CANNOT);
}

static void
check_says_ok_and_the_read_plan(void **state)
{
	(void)state;
	plant_run_command(&plant, "check", "--config", "conf/demo.ini");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_memory_equal(plant.out, "ok\n", 3);
	assert_tells(plant.out, "\nnote: there is no [store]: ");
	plant_run_command(
	    &plant, "check", "--config", "conf/demo.ini", "--format", "json");
	assert_tells(plant.out, "\"text\": \"there is no [store]: ");
	plant_run_command(
	    &plant, "check", "--config", "conf/demo.ini", "--format", "csv");
	assert_tells(
	    plant.out, "device,table,function,first,last,count,channels,group\r\n");
	/* the demo's ovens: 24 zones from 0, 24 from 100, in one request of 124 */
	assert_tells(plant.out, "ovens,holding,3,0,123,124,48,1\r\n");
}

static void
check_tells_every_mistake_and_exits_one(void **state)
{
	char path[400];

	(void)state;
	snprintf(path, sizeof path, "%s/wrong.ini", plant.folder);
	FILE *file = fopen(path, "w");
	assert_non_null(file);
	fputs("[site]\nname = x\ntimezone = Nowhere/None\n[lin a]\n", file);
	fclose(file);
	plant_run_command(&plant, "check", "--config", path);
	unlink(path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "wrong.ini:3: ");
	assert_tells(plant.err, "wrong.ini:4: ");
	assert_string_equal(plant.out, "");
}

static void
status_names_what_is_wrong(void **state)
{
	const struct ledger_health rows[] = {
	    {"daemon", "ok", "", plant_time(0), clock_wall(), 1, 0},
	    {"device ovens", "silent", "timed out after 1000 ms", plant_time(0),
		clock_wall(), 5, 9},
	    {"store plant", "starting", "", plant_time(0), clock_wall(), 0, 0},
	};

	(void)state;
	assert_int_equal(ledger_put_health(plant.ledger, rows, 3, NULL, 0, NULL), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: daemon: evensoakd is not running");
	assert_tells(plant.out, "sudo systemctl start evensoakd");
	assert_tells(plant.out, "journalctl -u evensoakd");

	/* the next run, before it has told anything; then it has */
	assert_int_equal(ledger_lock(plant.ledger_path, NULL), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: daemon: starting, nothing known yet\n");
	assert_int_equal(ledger_put_health(plant.ledger, rows, 3, NULL, 0, NULL), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: device ovens: timed out after 1000 ms; silent "
				"since 2026-03-02 06:00:00\n");
	assert_null(strstr(plant.out, "wrong: store"));
	assert_null(strstr(plant.out, "wrong: daemon"));
	assert_int_equal(ledger_put_health(plant.ledger, rows, 1, NULL, 0, NULL), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "all is well");

	const struct ledger_health in_part[] = {
	    rows[0],
	    {"device ovens", "in_part", "read holding 40012: exception 2",
		plant_time(0), clock_wall(), 5, 9},
	};
	assert_int_equal(ledger_put_health(plant.ledger, in_part, 2, NULL, 0, NULL), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "  device ovens  answers in part  ");
	assert_tells(plant.out, "wrong: device ovens: read holding 40012: exception 2; "
				"answers in part since 2026-03-02 06:00:00\n");

	const struct ledger_health refused[] = {
	    rows[0],
	    {"configuration", "refused", "'x.ini' is refused: x.ini:3: no",
		clock_wall(), clock_wall(), 0, 0},
	};
	assert_int_equal(ledger_put_health(plant.ledger, refused, 2, NULL, 0, NULL), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(
	    plant.out, "wrong: configuration: 'x.ini' is refused: x.ini:3: no;");
	/* of today: without the date */
	assert_int_equal(
	    strspn(strstr(plant.out, "refused since ") + 14, "0123456789:"), 8);
	assert_int_equal(ledger_put_health(plant.ledger, rows, 1, NULL, 0, NULL), 0);
}

static void
status_answers_despite_a_wrong_set_up(void **state)
{
	char path[400];

	(void)state;
	snprintf(path, sizeof path, "%s/wrong.ini", plant.folder);
	FILE *file = fopen(path, "w");
	assert_non_null(file);
	fputs("[site]\nname = x\ntimezone = Nowhere/None\n", file);
	fclose(file);
	plant_run_command(
	    &plant, "status", "--config", path, "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: configuration: ");
	assert_tells(plant.out, "wrong.ini:1: ");
	assert_tells(plant.out, "Last shot");
	assert_string_equal(plant.err, "");
	plant_run_command(&plant, "status", "--config", path);
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_tells(plant.err, "wrong.ini:1: ");
	assert_tells(plant.err,
	    "; evensoakd goes on with the set-up that it has, if it "
	    "runs; the path of the ledger stands in that file: say "
	    "--ledger FILE\n");
	assert_ptr_equal(strchr(plant.err, '\n') + 1, plant.err + plant.err_length);
	plant_run_command(
	    &plant, "shots", "--config", path, "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_CANNOT);
	unlink(path);
	plant_run_command(
	    &plant, "status", "--config", path, "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: configuration: ");
}

/* It stands in the same file, which somebody is at work on. */
static void
status_finds_the_ledger_despite_a_wrong_set_up(void **state)
{
	char path[400];

	(void)state;
	snprintf(path, sizeof path, "%s/wrong.ini", plant.folder);
	FILE *file = fopen(path, "w");
	assert_non_null(file);
	fprintf(file,
	    "[site]\nname = x\ntimezone = Nowhere/None\n[ledger]\npath = %s\n"
	    "[line ",
	    plant.ledger_path);
	fclose(file);
	plant_run_command(&plant, "status", "--config", path);
	unlink(path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "wrong.ini:");
	assert_tells(plant.err, "; the set-up in force is used\n");
	assert_tells(plant.out, "wrong: configuration: ");
	assert_tells(plant.out, "Last shot");
}

static void
a_shot_that_is_not_there_is_no(void **state)
{
	(void)state;
	plant_run_command(&plant, "shot", "40", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "sag_s");
	assert_tells(plant.out, "2026-03-02 08:00:00, platens closed\n");
	assert_tells_not(plant.out, "filed");
	plant_run_command(&plant, "shot", "41", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_string_equal(plant.out, "");
}

static void
columns_says_how_wide_a_page_is_without_a_terminal(void **state)
{
	static const struct {
		const char *columns;
		size_t width;
	} rows[] = {{"140", 140}, {"90", 90}, {"12", PAGE_WIDTH}, {"x", PAGE_WIDTH}};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		size_t widest = 0;
		setenv("COLUMNS", rows[i].columns, 1);
		plant_run_command(&plant, "shot", "40", "--ledger", plant.ledger_path);
		for (const char *line = plant.out; *line;
		     line = strchr(line, '\n') + 1) {
			size_t length = strcspn(line, "\n");
			widest = length > widest ? length : widest;
		}
		assert_in_range(widest, rows[i].width - 15, rows[i].width);
	}
	unsetenv("COLUMNS");
}

static void
times_that_may_be_a_slip_are_told(void **state)
{
	(void)state;
	plant_run_command(&plant, "context", "note", "far", "--from", "2199-01-01",
	    "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.err, "note: '--from' is more than a day ahead");
	/* Berlin, the last Sunday of October 2026: 03:00 CEST becomes 02:00 CET */
	plant_run_command(&plant, "shots", "--from", "2026-10-25T02:30", "--ledger",
	    plant.ledger_path);
	assert_tells(plant.err, "note: '--from': the clocks are put back over "
				"'2026-10-25T02:30': the first one is taken, "
				"2026-10-25T00:30:00Z\n");
	static const char *const plain[] = {
	    "2026-10-25T01:59", "2026-10-25T03:00", "2026-10-25T01:30:00Z"};
	for (size_t i = 0; i < 3; i++) {
		plant_run_command(
		    &plant, "shots", "--to", plain[i], "--ledger", plant.ledger_path);
		assert_string_equal(plant.err, "");
	}
}

static void
watch_needs_no_ledger_but_a_sound_command_line(void **state)
{
	(void)state;
	plant_run_command(
	    &plant, "watch", "--config", "conf/demo.ini", "--for", "soon");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "must be like 60s, 5m or 2h");
	plant_run_command(
	    &plant, "watch", "--config", "conf/demo.ini", "--line", "line-4");
	assert_int_equal(plant.code, COMMAND_USAGE);
	plant_run_command(
	    &plant, "watch", "--config", "conf/demo.ini", "--clock-rate", "fast");
	assert_int_equal(plant.code, COMMAND_USAGE);
	plant_run_command(
	    &plant, "watch", "--config", "conf/demo.ini", "--device", "oven");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "there is no device 'oven'; did you mean 'ovens'?");
	plant_run_command(&plant, "watch", "--config", "/nowhere/x.ini");
	assert_int_equal(plant.code, COMMAND_CANNOT);
}

static void
spans_of_time_are_read_strictly(void **state)
{
	double seconds = 0;

	(void)state;
	assert_true(span_parse_seconds("7d", &seconds));
	assert_near(seconds, 604800, 0);
	assert_true(span_parse_seconds("1.5h", &seconds));
	assert_near(seconds, 5400, 0);
	assert_true(span_parse_seconds("90m", &seconds));
	assert_near(seconds, 5400, 0);
	assert_true(span_parse_seconds("60s", &seconds));
	assert_near(seconds, 60, 0);
	static const char *const wrong[] = {"", "d", "7", "-1d", "0h", "7 w", "1e9d",
	    "nand", "123456789012345678901234567d"};
	for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
		assert_false(span_parse_seconds(wrong[i], &seconds));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(help_goes_to_the_output_and_is_no_mistake),
	    cmocka_unit_test(what_stands_before_the_command_may_be_given_anew),
	    cmocka_unit_test(wrong_usage_is_one_sentence_and_where_the_help_is),
	    cmocka_unit_test(values_of_options_are_checked),
	    cmocka_unit_test(without_a_ledger_a_command_cannot),
	    cmocka_unit_test(check_says_ok_and_the_read_plan),
	    cmocka_unit_test(check_tells_every_mistake_and_exits_one),
	    cmocka_unit_test(status_names_what_is_wrong),
	    cmocka_unit_test(status_answers_despite_a_wrong_set_up),
	    cmocka_unit_test(status_finds_the_ledger_despite_a_wrong_set_up),
	    cmocka_unit_test(a_shot_that_is_not_there_is_no),
	    cmocka_unit_test(columns_says_how_wide_a_page_is_without_a_terminal),
	    cmocka_unit_test(times_that_may_be_a_slip_are_told),
	    cmocka_unit_test(watch_needs_no_ledger_but_a_sound_command_line),
	    cmocka_unit_test(spans_of_time_are_read_strictly),
	};
	return cmocka_run_group_tests(tests, open_plant, close_plant);
}
