/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `check` says of the coming days' shifts. */
#include "tests/unit/cli/command/plant.h"

#include "cli/command/check_shifts.h"
#include "daemon/base/calendar.h"

/* Without a ledger or a line it is no set-up. */
#define REST                                                                \
	"[ledger]\npath = ledger.db\n[line line-1]\nmachine = rotary\n"     \
	"stations = load, oven, form\nheat_timer_s = 230\n[device plc]\n"   \
	"line = line-1\naddress = 127.0.0.1:1502\n[channel plc.rotating]\n" \
	"role = rotating\ntable = coil\naddress = 0\ntype = bit\n"          \
	"[channel plc.platens]\nrole = form_closed\ntable = coil\n"         \
	"address = 1\ntype = bit\n"

static const char set_up[] = "[site]\n"
			     "name = mill\n"
			     "timezone = Europe/Berlin\n"
			     "temperature_unit = C\n"
			     "holidays = 2026-05-01\n"
			     "[shift early]\n"
			     "start = 06:00\nend = 14:00\ndays = mon-fri\n"
			     "[shift early 2]\n"
			     "start = 07:00\nend = 12:00\ndates = 2026-04-29\n"
			     "[shift night]\n"
			     "start = 22:00\nend = 06:00\ndays = sun-thu\n" REST;

static char *
put(enum page_format format, const char *text, struct calendar_date first)
{
	static struct problems problems;
	char path[64] = "/tmp/evensoak-shifts-XXXXXX", *bytes = NULL;
	size_t length;
	struct error error;
	int file = mkstemp(path);
	FILE *out;

	assert_true(file >= 0);
	assert_int_equal(write(file, text, strlen(text)), (ssize_t)strlen(text));
	close(file);
	struct settings *settings = settings_load(path, &problems);
	unlink(path);
	assert_non_null(settings);
	assert_int_equal(calendar_set_zone(settings->zone, &error), 0);
	out = open_memstream(&bytes, &length);
	struct page *page = page_new(out, format, false, "shifts");
	check_shifts_put(page, settings, first);
	page_open(page, GROUP_LIST, "notes", NULL);
	check_shifts_put_notes(page, settings);
	page_close(page);
	assert_int_equal(page_end(page), 0);
	fclose(out);
	settings_free(settings);
	return bytes;
}

static void
a_week_is_told_day_by_day(void **state)
{
	char *text = put(PAGE_TEXT, set_up, (struct calendar_date){2026, 4, 27});

	(void)state;
	assert_tells(text,
	    "  2026-04-27  Monday     early 06:00 to 14:00, night 22:00 to "
	    "06:00\n");
	assert_tells(text, "  2026-05-01  Friday     none: a holiday\n");
	assert_tells(text, "  2026-05-02  Saturday   none\n");
	assert_tells(text, "  2026-05-03  Sunday     night 22:00 to 06:00\n");
	assert_tells_not(text, "note:");
	free(text);
}

static void
machines_get_instants_and_hours(void **state)
{
	/* the clocks go forward in the night to the 29th of March */
	char *json = put(PAGE_JSON,
	    "[site]\nname = mill\ntimezone = Europe/Berlin\n"
	    "temperature_unit = C\n[shift night]\nstart = "
	    "22:00\nend = 06:00\ndays = sat\n" REST,
	    (struct calendar_date){2026, 3, 28});

	(void)state;
	assert_tells(json,
	    "{\"date\": \"2026-03-28\", \"shift\": \"night\", \"from\": "
	    "\"2026-03-28T21:00:00.000Z\", \"to\": "
	    "\"2026-03-29T04:00:00.000Z\", \"hours\": 7, \"holiday\": false}");
	free(json);
}

static void
a_shift_of_a_whole_day_is_noted(void **state)
{
	char *text = put(PAGE_TEXT,
	    "[site]\nname = mill\ntimezone = Europe/Berlin\n"
	    "temperature_unit = C\n[shift day]\nstart = "
	    "06:00\nend = 06:00\n" REST,
	    (struct calendar_date){2026, 3, 2});

	(void)state;
	assert_tells(
	    text, "note: shift 'day' starts and ends at 06:00: it lasts 24 hours");
	free(text);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_week_is_told_day_by_day),
	    cmocka_unit_test(machines_get_instants_and_hours),
	    cmocka_unit_test(a_shift_of_a_whole_day_is_noted),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
