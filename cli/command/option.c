/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/option.h"

#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

const struct option_traits option_table[OPTION_COUNT] = {
    [OPTION_CONFIG] = {"config", "FILE",
	"the set-up; else the newest in --ledger, else /etc/evensoak/evensoak.ini",
	.values = VALUES_FILES},
    [OPTION_LEDGER] = {"ledger", "FILE", "the ledger; without it the set-up's",
	.values = VALUES_FILES},
    [OPTION_FORMAT] = {"format", "FORMAT",
	"text, json or csv; text is as wide as the terminal, COLUMNS or 100",
	.values = VALUES_FORMATS},
    [OPTION_COLOR] = {"color", "WHEN",
	"auto, always or never; auto: on a terminal, unless NO_COLOR is set",
	.values = VALUES_COLOURS},
    [OPTION_HELP] = {"help", NULL, "what the command does and takes"},
    [OPTION_VERSION] = {"version", NULL, "the version of the program"},
    [OPTION_LINE] = {"line", "NAME", "this line alone", .values = VALUES_LINES},
    [OPTION_SHIFT] = {"shift", "NAME",
	"this shift, of --date or the latest that has begun by the newest shot",
	.values = VALUES_SHIFTS},
    [OPTION_DATE] = {"date", "DATE", "the day on which it starts: 2026-03-02"},
    [OPTION_FROM] = {"from", "TIME", "from then on: 2026-03-02T06:00, local time"},
    [OPTION_TO] = {"to", "TIME", "until then, that instant not included"},
    [OPTION_SINCE] = {"since", "SPAN", "the time from so long ago till now: 7d, 12h"},
    [OPTION_LAST] = {"last", "COUNT", "the newest so many; 20 when no time is given"},
    [OPTION_OUTCOME] = {"outcome", "WORD", "shots with this outcome alone",
	.values = VALUES_OUTCOMES},
    [OPTION_SHOT] = {"shot", "NUMBER", "this shot alone"},
    [OPTION_DRY_RUN] = {"dry-run", NULL, "only say what would change"},
    [OPTION_TRACE] = {"trace", NULL, "every reading that was kept (csv, json)"},
    [OPTION_SET_UP] = {"set-up", NULL,
	"the lines in which the set-ups it was made under differ"},
    [OPTION_THICKNESS] = {"thickness", "MEASURE",
	"of a lot's sheets as measured: 6.35 mm, 0.25 in", .measure = true},
    [OPTION_STACK] = {"stack", "MEASURE",
	"temperature of a lot's sheets before loading: 23 C, 73 F", .measure = true},
    [OPTION_DEVICE] = {"device", "NAME", "this device's channels alone",
	.values = VALUES_DEVICES},
    [OPTION_FOR] = {"for", "SPAN", "so long: 60s, 5m"},
    [OPTION_ONCE] = {"once", NULL, "as soon as every device was asked"},
    [OPTION_CLOCK_RATE] = {"clock-rate", "N", "the clock runs N times as fast"},
    [OPTION_CLOCK_START] = {"clock-start", "TIME", "what it shows at its origin"},
    [OPTION_CLOCK_ORIGIN] = {"clock-origin", "NS",
	"the origin on the system's monotonic clock"},
    [OPTION_THICKNESS_MM] = {"thickness-mm", "MM", "thickness of the cold sheet"},
    [OPTION_MATERIAL] = {"material", "NAME", "a material of the set-up",
	.values = VALUES_MATERIALS},
    [OPTION_DIFFUSIVITY] = {"diffusivity", "M2_PER_S",
	"in place of a material: of a sheet that does not melt, such as 8.4e-8"},
    [OPTION_START_C] = {"start-c", "C",
	"temperature of the sheet as it goes in; else the first reading"},
    [OPTION_TRANSFER_S] = {"transfer-s", "S", "on its way to the form for so long ..."},
    [OPTION_AIR_C] = {"air-c", "C", "... through air of this temperature"},
    [OPTION_AT] = {"at", "WHEN", "this moment: seconds of the file"},
    [OPTION_DEPTH] = {"depth", "RATIO",
	"of the thermocouple, from the top face: 0.5 is the middle"},
    [OPTION_LONGER] = {"longer-s", "S",
	"what if it heated on for so long, the surfaces held where they are"},
    [OPTION_AS_FOUND] = {"as-found", "MEASURE",
	"shown minus true before anything was set right: 1.5 F, -0.4 K",
	.measure = true},
    [OPTION_AS_LEFT] = {"as-left", "MEASURE", "the same afterwards: is corrected for",
	.measure = true},
    [OPTION_TRUE] = {"true", "MEASURE",
	"what a reference thermometer says all the while: 65.0 C", .measure = true},
    [OPTION_DUE] = {"due", "DATE", "when the next calibration is due"},
    [OPTION_BY] = {"by", "NAME", "who did it"},
    [OPTION_REFERENCE] = {"reference", "TEXT",
	"the reference run to hold shots against; else the newest",
	.values = VALUES_REFERENCES},
    [OPTION_FINDINGS] = {"findings", NULL,
	"csv has what was found in place of its table"},
    [OPTION_RECIPE] = {"recipe", "NUMBER", "this recipe alone",
	.values = VALUES_RECIPES},
    [OPTION_TOOL] = {"tool", "NAME", "this tool alone", .values = VALUES_TOOLS},
    [OPTION_SIDE] = {"side", "NAME", "this side of the machine alone"},
    [OPTION_NOTE] = {"note", "TEXT", "a remark that stays with it"},
    [OPTION_ADDRESS] = {"address", "HOST:PORT",
	"a device in the network; the port is 502 when left out"},
    [OPTION_PORT] = {"port", "FILE", "a device on a serial line: /dev/ttyUSB0",
	.values = VALUES_FILES},
    [OPTION_BAUD] = {"baud", "N", "of the serial line, as set in the device"},
    [OPTION_PARITY] = {"parity", "WORD", "none, even or odd; even when left out",
	.values = VALUES_PARITIES},
    [OPTION_STOP_BITS] = {"stop-bits", "N", "1 when left out, without parity 2"},
    [OPTION_UNIT] = {"unit", "N", "the Modbus unit id; 1 when left out"},
    [OPTION_TABLE] = {"table", "WORD",
	"holding, input, coil or discrete; holding when left out",
	.values = VALUES_TABLES},
    [OPTION_FIRST] = {"first", "N", "the first address as on the wire, from 0"},
    [OPTION_HOW_MANY] = {"count", "N", "so many; 20 when left out"},
    [OPTION_DOCUMENT] = {"document", "NUMBER",
	"in place of table and first, as in a document: 40101, 30001"},
    [OPTION_MAX_REGISTERS] = {"max-registers", "N",
	"asked for at once; 125 when left out"},
    [OPTION_TIMEOUT_MS] = {"timeout-ms", "N",
	"an answer may take so long; 1000 when left out"},
    [OPTION_GAP_MS] = {"gap-ms", "N",
	"pause between an answer and the next request; 20 when left out"},
    [OPTION_EXPECT] = {"expect", "LOW..HIGH",
	"what the display may show: marks what lies in it"},
    [OPTION_AGAIN] = {"again", "N",
	"reads N times, a second apart, and tells what moved"},
    [OPTION_LIVE] = {"live", NULL, "also reads every channel once"},
    [OPTION_DROP_IN] = {"drop-in", NULL,
	"writes what the logger's unit may reach, for systemd"},
    [OPTION_STORE] = {"store", "NAME",
	"from this store of the set-up, not from the ledger; also: --from NAME",
	.values = VALUES_STORES},
    [OPTION_REFUSED] = {"refused", NULL, "what a store did not take, and its words"},
    [OPTION_VERIFY] = {"verify", NULL,
	"reads the stores back and names what is missing there"},
    [OPTION_FORCE] = {"force", NULL, "over a file that is there already"},
    [OPTION_SALVAGE] = {"salvage", NULL,
	"what can still be read of a damaged ledger, in a new one"},
    [OPTION_COLUMN] = {"column", "NAME", "of the header; left out where there is one"},
    [OPTION_LOWER] = {"lower", "L", "lower specification limit"},
    [OPTION_UPPER] = {"upper", "U", "upper specification limit"},
    [OPTION_TARGET] = {"target", "T", "the value aimed at, for Cpm"},
    [OPTION_ZERO_BOUNDED] = {"zero-bounded", NULL,
	"cannot fall below zero, and has an upper limit alone"},
    [OPTION_REQUIRED] = {"required", "INDEX",
	"the capability that has to be shown; 1.33 when left out"},
    [OPTION_SUBGROUP] = {"subgroup", "N", "so many values in a row are one subgroup"},
    [OPTION_METHOD] = {"method", "WORD", "individuals, mean-range or mean-sd",
	.values = VALUES_METHODS},
    [OPTION_CENTRE] = {"centre", "C", "known mean, for rules, EWMA and CUSUM ..."},
    [OPTION_SIGMA] = {"sigma", "S", "... and known deviation"},
    [OPTION_RULES] = {"rules", "LIST",
	"patterns to look for: names with commas, all or none", .values = VALUES_RULES},
    [OPTION_EWMA] = {"ewma", "LAMBDA,L",
	"exponentially weighted moving average: weight, limit in its deviations"},
    [OPTION_CUSUM] = {"cusum", "K,H", "cumulative sum: slack, limit in deviations"},
    [OPTION_DECIMAL_COMMA] = {"decimal-comma", NULL, "numbers are written 1,5"},
    [OPTION_GAUGE] = {"gauge", "PART,OPERATOR,VALUE",
	"a crossed gauge study of these three columns"},
    [OPTION_PICTURE] = {"picture", "NAME", "this picture alone, as svg or png"},
    [OPTION_CHARACTERISTIC] = {"characteristic", "NAME", "this characteristic alone",
	.values = VALUES_FEATURES},
    [OPTION_MARGIN] = {"margin", "MEASURE",
	"a difference that does not matter: 2 F, 1.5 s", .measure = true},
    [OPTION_LOT] = {"lot", "NAME", "this lot alone", .values = VALUES_LOTS},
    [OPTION_UNSTABLE] = {"unstable", NULL,
	"what moved within its limits is to be held too"},
};

static int
find(const char *name, size_t length, option_set allowed)
{
	for (int id = 0; id < OPTION_COUNT; id++)
		if ((allowed & OPTION_BIT(id)) &&
		    strncmp(option_table[id].name, name, length) == 0 &&
		    option_table[id].name[length] == '\0')
			return id;
	return -1;
}

static int
refuse(const char *argument, size_t length, option_set allowed, struct error *error)
{
	const char *names[OPTION_COUNT];
	char wrong[64];
	size_t count = 0;

	for (int id = 0; id < OPTION_COUNT; id++)
		if (allowed & OPTION_BIT(id))
			names[count++] = option_table[id].name;
	snprintf(wrong, sizeof wrong, "%.*s", (int)length, argument);
	const char *near = text_nearest(wrong + strspn(wrong, "-"), names, count);
	return error_set(error, ERROR_INVALID, "unknown option '%s'%s%s%s", wrong,
	    near ? "; did you mean '--" : "", near ? near : "", near ? "'?" : "");
}

static bool
is_option(const char *argument, option_set allowed)
{
	return strncmp(argument, "--", 2) == 0 &&
	       find(argument + 2, strcspn(argument + 2, "="), allowed) >= 0;
}

/* "6.35" with "mm" as the next word: a measure that nobody has quoted. */
static bool
has_unit_word(const struct option_traits *option, const char *text, const char *next)
{
	double number;

	return option->measure && text_number(text, &number) && next && *next != '-';
}

/* `--from plant` and `--from 2026-03-02`: where shots are read from, and from when. */
static int
meant(int id, const char *text, option_set allowed)
{
	bool name = *text && !(*text >= '0' && *text <= '9');

	return id == OPTION_FROM && name && (allowed & OPTION_BIT(OPTION_STORE))
	           ? OPTION_STORE
	           : id;
}

int
option_read(int argc, char *const argv[], int *at, option_set allowed,
    struct option_value *value, struct error *error)
{
	const char *argument = argv[*at];
	const char *equals = strchr(argument, '=');
	size_t length = equals ? (size_t)(equals - argument) : strlen(argument);
	int id = -1;

	if (strcmp(argument, "-h") == 0)
		id = OPTION_HELP;
	else if (strncmp(argument, "--", 2) == 0)
		id = find(argument + 2, length - 2, allowed);
	if (id < 0)
		return refuse(argument, length, allowed, error);

	const struct option_traits *option = &option_table[id];
	if (!option->value) {
		if (equals)
			return error_set(error, ERROR_INVALID, "'--%s' takes no value",
			    option->name);
		*value = (struct option_value){.text = ""};
		++*at;
		return id;
	}
	if (!equals && *at + 1 >= argc)
		return error_set(error, ERROR_INVALID, "'--%s' needs a value: --%s %s",
		    option->name, option->name, option->value);
	const char *follows = equals ? NULL : argv[*at + 1];
	if (follows && is_option(follows, allowed))
		return error_set(error, ERROR_INVALID,
		    "'--%s' has no value: '%.*s' follows it", option->name,
		    (int)strcspn(follows, "="), follows);
	*value = (struct option_value){.text = equals ? equals + 1 : follows};
	*at += equals ? 1 : 2;
	if (*at < argc && has_unit_word(option, value->text, argv[*at]))
		value->unit = argv[(*at)++];
	return meant(id, value->text, allowed);
}
