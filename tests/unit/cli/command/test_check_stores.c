/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `check` on the stores of a set-up, their files, and with --live on whoever answers. */
#include <sys/stat.h>

#include "tests/unit/cli/command/plant.h"
#include "tests/unit/daemon/publish/answering_server.h"

static struct plant plant;
static char folder[] = "/tmp/evensoak-check-XXXXXX", config[64], url[64];

static void
path_of(const char *name, char path[static 64])
{
	snprintf(path, 64, "%s/%s", folder, name);
}

static void
write_file(const char *name, const char *text, mode_t mode)
{
	char path[64];

	path_of(name, path);
	unlink(path);
	FILE *file = fopen(path, "w");
	plant_need(file != NULL, "a file");
	fputs(text, file);
	fclose(file);
	plant_need(chmod(path, mode) == 0, "chmod");
}

/* A PC in the office with that store. */
static void
write_set_up(const char *store)
{
	char text[2048];

	snprintf(text, sizeof text,
	    "[site]\nname = works\ntimezone = Europe/Berlin\n\n[store plant]\n%s",
	    store);
	write_file("x.ini", text, 0600);
}

static void
check(const char *store)
{
	write_set_up(store);
	plant_run_command(&plant, "check", "--config", config);
}

static void
expect(enum command_exit code, const char *sentence)
{
	assert_says(plant.out, sentence);
	assert_int_equal(plant.code, code);
}

static void
expect_ok(void)
{
	assert_tells(plant.out, "ok\n");
	assert_int_equal(plant.code, COMMAND_DONE);
}

/* --- where lines go ------------------------------------------------------------------- */

#define PLAIN "kind = influxdb1\nurl = http://127.0.0.1:1\ndatabase = shots\n"

static void
where_lines_go_is_told(void **state)
{
	(void)state;
	check("kind = influxdb2\nurl = https://plant.example:8086\norganization = o\n"
	      "database = shots\nsettle_s = 2.5\nreadings_s = 10\n");
	expect_ok();
	assert_tells(plant.out,
	    "  store  kind       data base  settle_s  readings_s\n"
	    "  plant  influxdb2  shots           2.5          10\n");
	assert_tells(plant.out, "  store  login  organization\n"
				"  plant  none   o\n");
	assert_tells(plant.out, "  plant  https://plant.example:8086/api/v2/write\n");
	assert_tells(plant.out, "  plant  https://plant.example:8086/query\n");
	plant_run_command(&plant, "check", "--config", config, "--format", "json");
	assert_tells(plant.out, "\"settle_s\": 2.5");
	assert_tells(plant.out, "\"write_url\": \"https://plant.example:8086/api/v2/"
				"write?org=o&bucket=shots&precision=ns\"");
	assert_tells(plant.out, "\"wrong\": []");
}

static void
questions_may_go_elsewhere(void **state)
{
	(void)state;
	check("kind = victoriametrics\nurl = http://127.0.0.1:1/insert/0/influx\n"
	      "query_url = http://127.0.0.1:2/select/0/prometheus\n");
	assert_tells(plant.out, "  plant  http://127.0.0.1:1/insert/0/influx/write\n");
	assert_tells(plant.out, "  plant  http://127.0.0.1:2/select/0/prometheus\n");
}

static void
the_examples_fit_into_eighty_columns(void **state)
{
	size_t long_ones = 0;
	char text[16384];

	(void)state;
	FILE *file = fopen("conf/stores.ini", "r");
	plant_need(file != NULL, "the examples");
	size_t length = (size_t)snprintf(
	    text, sizeof text, "[site]\nname = works\ntimezone = Europe/Berlin\n\n");
	length += fread(text + length, 1, sizeof text - length - 1, file);
	text[length] = '\0';
	fclose(file);
	write_file("x.ini", text, 0600);
	setenv("COLUMNS", "80", 1);
	plant_run_command(&plant, "check", "--config", config);
	unsetenv("COLUMNS");
	assert_tells(plant.out, "  plant-three  https://plant-three.example:8181/api/"
				"v3/write_lp\n");
	for (const char *line = plant.out; *line; line += strcspn(line, "\n") + 1)
		long_ones += strcspn(line, "\n") > 80;
	assert_int_equal(long_ones, 0);
}

/* --- their files ------------------------------------------------------------------------ */

#define TOKEN                                                                     \
	"kind = influxdb3\nurl = http://127.0.0.1:1\ndatabase = d\ntoken_file = " \
	"token\n"
#define WONT "wrong: store plant will not be reached: "

static void
a_secret_that_cannot_work_is_wrong(void **state)
{
	(void)state;
	char path[64], sentence[256];

	path_of("token", path);
	unlink(path);
	check(TOKEN);
	snprintf(sentence, sizeof sentence,
	    WONT "open secret file '%s': No such file or directory", path);
	expect(COMMAND_NO, sentence);
	assert_tells(plant.out, "a store will not be reached\n");
	assert_tells_not(plant.out, "ok\n");
	write_file("token", "", 0600);
	check(TOKEN);
	snprintf(sentence, sizeof sentence, WONT "secret file '%s' is empty", path);
	expect(COMMAND_NO, sentence);
	write_file("token", "sesame\n", 0644);
	check(TOKEN);
	snprintf(sentence, sizeof sentence,
	    WONT "secret file '%s' is open to everybody (mode 644)", path);
	expect(COMMAND_NO, sentence);
	plant_run_command(&plant, "check", "--config", config, "--format", "json");
	assert_tells(plant.out, "\"ok\": false");
	assert_tells(plant.out, "\"text\": \"store plant will not be reached: secret");
	assert_tells_not(plant.out, "sesame");
	write_file("token", "sesame\n", 0640);
	check(TOKEN);
	expect_ok();
	assert_tells_not(plant.out, "sesame");
}

static void
what_this_account_may_not_read_is_a_doubt(void **state)
{
	(void)state;
	write_file("token", "sesame\n", 0);
	check(TOKEN);
	if (geteuid() == 0)
		expect(COMMAND_DONE,
		    "', and evensoakd does not run as root: chgrp it to the service's "
		    "group and chmod it to 640");
	else
		expect(COMMAND_DONE, "note: store plant: this account may not read '");
}

#define TRUSTED \
	"kind = influxdb3\nurl = https://127.0.0.1:1\ndatabase = d\nca_file = ca\n"

static void
a_certificate_that_cannot_work_is_wrong(void **state)
{
	(void)state;
	char path[64], sentence[256];

	path_of("ca", path);
	unlink(path);
	check(TRUSTED);
	snprintf(sentence, sizeof sentence,
	    WONT "open 'ca_file' '%s': No such file or directory", path);
	expect(COMMAND_NO, sentence);
	write_file("ca", "", 0644);
	check(TRUSTED);
	snprintf(sentence, sizeof sentence,
	    WONT "'ca_file' '%s' has no certificate in it", path);
	expect(COMMAND_NO, sentence);
	write_file("ca", "who it is\n-----BEGIN CERTIFICATE-----\n", 0644);
	check(TRUSTED);
	expect_ok();
}

static void
a_credential_is_looked_at_where_systemd_put_it(void **state)
{
	static const char store[] = "kind = influxdb3\nurl = http://127.0.0.1:1\n"
				    "database = d\ncredential = token\n";

	(void)state;
	unsetenv("CREDENTIALS_DIRECTORY");
	check(store);
	expect(COMMAND_DONE,
	    "note: store plant: systemd hands its credential 'token' to evensoakd, "
	    "once the drop-in store-credential.conf names it");
	setenv("CREDENTIALS_DIRECTORY", folder, 1);
	write_file("token", "", 0600);
	check(store);
	expect(COMMAND_NO, WONT);
	unsetenv("CREDENTIALS_DIRECTORY");
}

/* --- whoever answers ---------------------------------------------------------------------- */

static const char *answer;

static bool
answer_it(int fd)
{
	return send_text(fd, answer) && false;
}

#define ANSWER(status, body) "HTTP/1.1 " status "\r\nConnection: close\r\n\r\n" body
#define EMPTY ANSWER("200 OK", "{\"results\":[{\"statement_id\":0}]}\n")

static void
ask_live(const char *is_answered)
{
	char store[256];

	answer = is_answered;
	server.answer = answer_it;
	snprintf(
	    store, sizeof store, "kind = influxdb1\nurl = %s\ndatabase = shots\n", url);
	write_set_up(store);
	plant_run_command(&plant, "check", "--live", "--config", config);
}

static void
a_store_that_answers_is_told(void **state)
{
	(void)state;
	ask_live(EMPTY);
	expect(COMMAND_DONE, "plant  influxdb1  answers");
	assert_says(plant.out, "nothing was written");
	assert_tells_not(plant.out, "wrong:");
	assert_tells_not(plant.out, "channels have a value");
	assert_non_null(strstr(server.request, "POST /query?db=shots"));
	assert_non_null(strstr(server.request, "SHOW"));
}

static void
a_store_that_refuses_is_told_with_what_to_do(void **state)
{
	static const struct {
		const char *answer, *state, *advice;
	} rows[] = {
	    {ANSWER("401 Unauthorized", "who"), "refuses: login",
		"store plant: it wants to know who we are: set 'token_file'"},
	    {ANSWER("403 Forbidden", "no"), "refuses: rights",
		"store plant: it knows us and does not let us read 'shots'"},
	    {ANSWER("200 OK", "{\"results\":[{\"statement_id\":0,\"error\":"
			      "\"database not found: shots\"}]}\n"),
		"refuses: no such data base",
		"store plant: the server has no data base 'shots': make it"},
	    {ANSWER("400 Bad Request", "what"), "answers something else",
		"are 'url' and 'kind' right?"},
	    {ANSWER("200 OK", "<html>"), "answers something else",
		"are 'url' and 'kind' right?"},
	    {ANSWER("503 Service Unavailable", ""), "asks for time",
		"store plant: it asks to be left alone"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		ask_live(rows[i].answer);
		expect(COMMAND_NO, rows[i].state);
		assert_says(plant.out, "wrong: store 'plant'");
		assert_says(plant.out, rows[i].advice);
	}
}

static void
a_store_that_is_not_there_is_told(void **state)
{
	(void)state;
	write_set_up(PLAIN);
	plant_run_command(&plant, "check", "--live", "--config", config);
	expect(COMMAND_NO, "plant  influxdb1  not there");
	assert_says(plant.out, "store plant: is its computer on and in the network");
	plant_run_command(
	    &plant, "check", "--live", "--config", config, "--format", "json");
	assert_tells(plant.out, "\"state\": \"unreachable\"");
	assert_tells(plant.out, "\"advice\": \"is its computer on");
}

static void
a_store_whose_secret_is_missing_is_not_asked(void **state)
{
	(void)state;
	int before = server.connections;
	char path[64], store[256];

	path_of("token", path);
	unlink(path);
	snprintf(store, sizeof store,
	    "kind = influxdb3\nurl = %s\ndatabase = d\ntoken_file = token\n", url);
	write_set_up(store);
	plant_run_command(&plant, "check", "--live", "--config", config);
	expect(COMMAND_NO, "plant  influxdb3  not asked: secret");
	assert_int_equal(server.connections, before);
}

static void
a_store_that_says_nothing_costs_its_time_out(void **state)
{
	char store[256];

	(void)state;
	answer = "";
	server.answer = wait_for; /* for the end of the other side */
	snprintf(store, sizeof store,
	    "kind = influxdb1\nurl = %s\ndatabase = d\ntimeout_s = 1\n", url);
	write_set_up(store);
	time_t from = time(NULL);
	plant_run_command(&plant, "check", "--live", "--config", config);
	expect(COMMAND_NO, "plant  influxdb1  no answer in time");
	assert_true(time(NULL) - from < 20);
	server.answer = answer_it;
}

static void
a_secret_is_sent_and_not_shown(void **state)
{
	char store[256];

	(void)state;
	write_file("token", "sesame\n", 0600);
	answer = ANSWER("401 Unauthorized", "who is that");
	snprintf(store, sizeof store,
	    "kind = influxdb3\nurl = %s\ndatabase = d\ntoken_file = token\n", url);
	write_set_up(store);
	plant_run_command(&plant, "check", "--live", "--config", config);
	expect(COMMAND_NO, "it does not know us: put the right token into '");
	assert_non_null(strstr(server.request, "sesame"));
	assert_tells_not(plant.out, "sesame");
	assert_string_equal(plant.err, "");
}

/* A name that is spelt otherwise there has no shots there. */
static void
the_site_that_was_asked_for_is_named(void **state)
{
	(void)state;
	ask_live(EMPTY);
	plant_run_command(&plant, "report", "--config", config, "--from", "plant");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.err, "there are no shots of site 'works' in store plant");
}

static int
prepare(void **state)
{
	unsetenv("COLUMNS");
	if (!mkdtemp(folder) || start_server(state) != 0)
		return -1;
	path_of("x.ini", config);
	snprintf(url, sizeof url, "http://127.0.0.1:%d", server.port);
	return 0;
}

static int
clean(void **state)
{
	static const char *const names[] = {"x.ini", "token", "ca"};
	char path[64];

	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		path_of(names[i], path);
		(void)unlink(path);
	}
	free(plant.out);
	free(plant.err);
	return stop_server(state) != 0 ? -1 : rmdir(folder);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(where_lines_go_is_told),
	    cmocka_unit_test(questions_may_go_elsewhere),
	    cmocka_unit_test(the_examples_fit_into_eighty_columns),
	    cmocka_unit_test(a_secret_that_cannot_work_is_wrong),
	    cmocka_unit_test(what_this_account_may_not_read_is_a_doubt),
	    cmocka_unit_test(a_certificate_that_cannot_work_is_wrong),
	    cmocka_unit_test(a_credential_is_looked_at_where_systemd_put_it),
	    cmocka_unit_test(a_store_that_answers_is_told),
	    cmocka_unit_test(a_store_that_refuses_is_told_with_what_to_do),
	    cmocka_unit_test(a_store_that_is_not_there_is_told),
	    cmocka_unit_test(a_store_whose_secret_is_missing_is_not_asked),
	    cmocka_unit_test(a_store_that_says_nothing_costs_its_time_out),
	    cmocka_unit_test(a_secret_is_sent_and_not_shown),
	    cmocka_unit_test(the_site_that_was_asked_for_is_named),
	};

	return cmocka_run_group_tests(tests, prepare, clean);
}
