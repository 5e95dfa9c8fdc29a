/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/man/ledger_words.h"

#include <stddef.h>
#include <string.h>

static const struct {
	const char *table, *column; /* table "": in any; column "": the table itself */
	const char *words;
} list[] = {
    {"line", "", "the lines that ever had a shot"},
    {"channel", "", "what a device holds; one row for each meaning that it ever had"},
    {"event", "", "what happened to a line or to the logger"},
    {"shot_channel", "",
	"a channel over the shot's heat or form: surfaces and zones over the heat, the "
	"others over the form"},
    {"delivery", "", "how far each store has everything"},
    {"health", "", "how things are now; replaced whole every few seconds"},
    {"device", "", "what the bus counts of each device; replaced with health"},
    {"absent", "",
	"why a feature of a shot is NULL; where there is no row for it, it is not "
	"configured"},
    {"context", "",
	"what people entered; never changed: of two entries of one key the later "
	"entered holds"},
    {"lot", "",
	"what was measured of a delivery of sheets; the newest row of a lot holds"},
    {"setup", "", "every configuration that was ever in force"},
    {"recipe", "", "what a set-up says of a number of a recipe"},
    {"feature", "",
	"every definition of a figure that was ever used; each has a column of its own "
	"in shot"},
    {"calibration", "",
	"how far a sensor was off, as found and as left; rows are never changed"},
    {"shift_closing", "", "how far shifts were made up"},
    {"shift_total", "", "a shift that has ended, with what ran in it; each revision"},
    {"shift_summary", "",
	"how one characteristic did in a shift, of each recipe and tool"},
    {"refusal", "", "lines that a store would not take, and its words"},
    {"copied", "", "has a row in a copy that no evensoakd has run with yet"},
    {"superseded", "", "the labels that a shot had before each revision"},
    {"earlier", "", "the figures that a shot had before it was made again"},
    {"trace", "", "the readings that a shot was made from, kept for some days; packed"},
    {"reading", "",
	"live readings on their way to a store: all channels of a line over an "
	"interval; packed"},
    {"reference_run", "", "runs that later shots are held against"},
    {"in_flight", "",
	"the sheets that stand in each line now, for a logger that starts again; "
	"packed"},
    {"ring", "", "of live readings: one for each store that wants them"},
    {"shot", "id", "number of the row"},
    {"shot", "setup", "the configuration that it was made under"},
    {"shot", "shot_no", "number of the shot in its line, from 1 on; never given twice"},
    {"shot", "filed_at",
	"the shot's time: as the platens closed, else as the heat ended, else as the "
	"record was closed"},
    {"shot", "loaded_at", "the sheet was clamped, or came to the load station"},
    {"shot", "heat_start_at", "it was in the oven"},
    {"shot", "heat_end_at", "it began to leave the last oven"},
    {"shot", "form_start_at", "the platens closed on it"},
    {"shot", "form_end_at", "the platens opened for the last time"},
    {"shot", "closed_at", "the record was finished"},
    {"shot", "outcome",
	"what became of the sheet\n"
	"partial the logger did not see all of it\n"
	"empty the frame went round without a sheet\n"
	"scrapped heated, but gone before it was formed\n"
	"aborted left the oven or the form station without being formed\n"
	"interrupted a fault or a stop held it in the oven\n"
	"reheated went through the oven again before it was formed\n"
	"timer_release left the oven by the timer, not by its sag\n"
	"startup among the first after a stop\n"
	"complete all else: sheets that count"},
    {"shot", "flags",
	"what was odd about it; the sum of\n"
	"1 gap: polls are missing within its windows\n"
	"2 sag_stuck: the sag eye was on too soon, or bounced\n"
	"4 timer: let go by the timer\n"
	"8 short_heat: less than heat_min_s in the oven\n"
	"16 double_index: the line moved on twice\n"
	"32 fault: the machine reported one meanwhile\n"
	"64 manual: the machine was in manual meanwhile\n"
	"128 startup: among the first after a stop\n"
	"256 count_jump: the cycle counter did not go up by one\n"
	"512 clock_step: the computer's clock was set meanwhile\n"
	"1024 late_form: the platens closed later than form_limit_s\n"
	"2048 logger_start: it was in the machine as the logger started\n"
	"4096 reheat: more than one heat\n"
	"8192 sequence: signals in an order that no machine has\n"
	"16384 short_form: platens closed for less than form_min_s"},
    {"shot", "set_points",
	"a mark of the set points as they were read when the heat began: another mark, "
	"other set points; NULL: none were read"},
    {"shot", "reason", "why the outcome is not complete"},
    {"shot", "recipe_read", "the number of the recipe, as the machine told it"},
    {"shot", "recipe", "recipe_read, else what a person entered"},
    {"shot", "change",
	"goes up with every writing of any row: what is new since a number is what has "
	"a higher one"},
    {"shot", "side", "of the machine; NULL: it has but one"},
    {"shot", "tool", "the tool that was entered for its time"},
    {"shot", "lot", "the lot that was entered for its time"},
    {"shot", "material", "the lot's material where one was entered, else the recipe's"},
    {"shot", "cycle_count", "the machine's counter as the platens closed"},
    {"shot", "uncertainty_s", "how well each of its durations is known"},
    {"shot", "properties",
	"name, version and mark of the material's figures that the inside was computed "
	"with; NULL: it was not computed.  What it was before stands in earlier under "
	"this name"},
    {"absent", "feature", "name of the feature"},
    {"absent", "reason", "one of the words that evensoak-figures(7) explains"},
    {"channel", "position",
	"from 1 on among those of its role, oven and side; 0: none"},
    {"channel", "name", "the channel's name, without its device"},
    {"channel", "role", "what it is to the line, see evensoak.ini(5)"},
    {"line", "name", "name of the line"},
    {"recipe", "number", "as the machine tells it"},
    {"recipe", "name", "what people call it"},
    {"recipe", "material", "the material of its sheets"},
    {"setup", "filed_at", "when it came into force"},
    {"setup", "site", "name of the plant"},
    {"setup", "path", "of the file"},
    {"setup", "hash", "of the text"},
    {"setup", "text", "the whole file"},
    {"feature", "name", "name of the feature, and of its column in shot"},
    {"feature", "version", "of the definition: one more where the meaning changed"},
    {"feature", "meaning", "how it is computed, in words"},
    {"shot_channel", "id",
	"the shot's id times 1048576, plus the channel's: look for those of a shot by "
	"a range of id"},
    {"shot_channel", "min", "lowest reading"},
    {"shot_channel", "mean", "mean over time"},
    {"shot_channel", "max", "highest reading"},
    {"shot_channel", "sd", "deviation of the readings"},
    {"shot_channel", "last",
	"as the heat ended for surfaces, for others the last good reading"},
    {"shot_channel", "shot", "the shot, worked out from id"},
    {"shot_channel", "channel", "the channel, worked out from id"},
    {"context", "holds_from", "it holds from then on, until the next entry of its key"},
    {"lot", "name", "name of the lot"},
    {"lot", "thickness_m", "thickness as measured, in metres"},
    {"calibration", "channel", "the channel's name, without its device"},
    {"calibration", "done_by", "who did it"},
    {"event", "kind", "a word: device_silent, finding ..."},
    {"event", "text", "what happened, as a sentence"},
    {"event", "at", "when"},
    {"superseded", "revision", "the revision that was replaced"},
    {"superseded", "recipe",
	"the label that its points in the stores have; so tool, material, outcome"},
    {"superseded", "tool", "likewise"},
    {"superseded", "material", "likewise"},
    {"superseded", "outcome", "likewise"},
    {"earlier", "value", "what it was"},
    {"earlier", "feature", "name of the feature; outcome and properties too"},
    {"trace", "bytes",
	"packed readings; evensoak shot NUMBER --trace --format csv unpacks them"},
    {"reference_run", "name", "name of the run"},
    {"reference_run", "side", "its shots are all of this side"},
    {"reference_run", "recipe", "of this recipe"},
    {"reference_run", "tool", "and of this tool"},
    {"reference_run", "first_at", "time of its first shot"},
    {"reference_run", "last_at", "time of its last shot"},
    {"reference_run", "frozen_at", "when it was frozen"},
    {"reference_run", "note", "a remark"},
    {"reference_shot", "shot_no", "number of the shot in its line"},
    {"reference_shot", "filed_at", "the shot's time"},
    {"reference_shot", "lot", "its lot"},
    {"reference_shot", "",
	"copies of the shots of a reference run, never changed; the features stand at "
	"the end, each in its unit of then"},
    {"logger", "id", "always 1"},
    {"logger", "host", "name of the computer"},
    {"logger", "version", "of evensoakd"},
    {"logger", "started", "when the daemon was started"},
    {"logger", "polls", "scans of all devices since the start"},
    {"logger", "failures", "scans since the start that were not answered in full"},
    {"logger", "late", "scans since the start that began a period or more too late"},
    {"logger", "queue_most", "the most of them since the start"},
    {"logger", "dropped", "scans since the start that nobody could take any more"},
    {"logger", "lost", "shots since the start that could not be kept"},
    {"logger", "filed", "shots filed since the start"},
    {"logger", "clock_steps", "steps of the computer's clock since the start"},
    {"logger", "memory_bytes", "what the daemon takes"},
    {"health", "position", "the order in which they are told"},
    {"health", "subject", "a device, a store, the ledger ..."},
    {"health", "state", "one word"},
    {"health", "text", "the same as a sentence"},
    {"health", "since", "it is so since"},
    {"health", "good", "times that went well"},
    {"health", "bad", "times that did not"},
    {"health", "run", "of the daemon that wrote it; NULL: another program did"},
    {"device", "position", "the order in which they are told"},
    {"device", "device", "name of the device"},
    {"device", "line", "name of its line"},
    {"device", "bus", "address, or name of its bus"},
    {"device", "scans", "times that its channels were asked for"},
    {"device", "state", "answering, silent ..., as in health"},
    {"device", "good", "requests that were answered well"},
    {"device", "illegal", "requests that it refused: exceptions 1, 2, 3"},
    {"device", "busy", "requests that it was too busy for: exceptions 5, 6"},
    {"device", "fault", "requests with any other exception"},
    {"device", "gateway",
	"requests that a gateway could not pass on: exceptions 10, 11"},
    {"device", "none", "requests without an answer in time"},
    {"device", "wrong", "answers to something else, or damaged ones"},
    {"device", "lost", "requests whose connection or port was gone"},
    {"device", "late_p99_s", "99 of 100 scans began at most so late"},
    {"device", "late_worst_s", "the latest began so late"},
    {"device", "state_since", "it is in this state since"},
    {"device", "recent_since", "the counts that follow are from here on"},
    {"delivery", "destination", "name of the store"},
    {"delivery", "stream", "shot, event, reading or shift"},
    {"delivery", "change", "everything up to this change was taken"},
    {"refusal", "destination", "name of the store"},
    {"refusal", "answer", "what the store said"},
    {"reading", "id", "the ring's id times 1099511627776, plus a number that goes up"},
    {"ring", "destination", "name of the store"},
    {"reading", "ring", "worked out from id"},
    {"reading", "number", "worked out from id"},
    {"shift_total", "from_at", "it began"},
    {"shift_total", "to_at", "it ended; the shots between by filed_at are its own"},
    {"shift_total", "closed_at", "when it was made up"},
    {"shift_total", "shots", "all of them, of any outcome"},
    {"shift_total", "gap_s", "seconds in which nobody logged"},
    {"shift_total", "length_s", "of the shift"},
    {"shift_total", "capable", "characteristics that are shown to be capable"},
    {"shift_total", "not_capable", "that are shown not to be"},
    {"shift_total", "not_established", "of which neither is shown"},
    {"shift_total", "oven_kwh",
	"energy of the complete ones alone, metered where the line has a meter, else "
	"estimated; NULL: not known of all of them"},
    {"shift_total", "heat_removed_kwh",
	"heat that the water took away from the complete ones alone; NULL: not known "
	"of "
	"all of them"},
    {"shift_summary", "recipe", "of these shots"},
    {"shift_summary", "tool", "of these shots"},
    {"shift_summary", "n",
	"values, of all its lots; mean, sd and outside are over these"},
    {"shift_summary", "mean", "of the values"},
    {"shift_summary", "sd", "their deviation"},
    {"shift_summary", "cp",
	"this and the next indices are of one lot, the one with the lowest Ppk; NULL: "
	"that of a lot is not to be quoted"},
    {"shift_summary", "cpk", "see evensoak-figures(7)"},
    {"shift_summary", "cpk_low", "lower bound of its 95 % interval"},
    {"shift_summary", "cpk_high", "upper bound"},
    {"shift_summary", "pp", "see evensoak-figures(7)"},
    {"shift_summary", "ppk", "see evensoak-figures(7)"},
    {"shift_summary", "ppk_low", "lower bound of its 95 % interval"},
    {"shift_summary", "ppk_high", "upper bound"},
    {"shift_summary", "lower", "lower limit, as it was then"},
    {"shift_summary", "upper", "upper limit"},
    {"shift_summary", "target", "value aimed at"},
    {"device", "recent_good", "as good"},
    {"device", "recent_illegal", "as illegal"},
    {"device", "recent_busy", "as busy"},
    {"device", "recent_fault", "as fault"},
    {"device", "recent_gateway", "as gateway"},
    {"device", "recent_none", "as none"},
    {"device", "recent_wrong", "as wrong"},
    {"device", "recent_lost", "as lost"},
    {"", "id", "number of the row"},
    {"", "at", "when it was written"},
    {"", "entered_at", "when it was entered"},
    {"", "device", "name of the device"},
    {"", "bytes", "packed"},
    {"shift_total", "partial", "shots of this outcome"},
    {"shift_total", "empty", "shots of this outcome"},
    {"shift_total", "scrapped", "shots of this outcome"},
    {"shift_total", "aborted", "shots of this outcome"},
    {"shift_total", "interrupted", "shots of this outcome"},
    {"shift_total", "reheated", "shots of this outcome"},
    {"shift_total", "timer_release", "shots of this outcome"},
    {"shift_total", "startup", "shots of this outcome"},
    {"shift_total", "complete", "shots of this outcome"},
};

const char *
ledger_words(const char *table, const char *column)
{
	for (size_t i = 0; i < sizeof list / sizeof list[0]; i++)
		if (strcmp(list[i].table, table) == 0 &&
		    strcmp(list[i].column, column) == 0)
			return list[i].words;
	return NULL;
}

static const char *const order[] = {
    "shot",
    "absent",
    "shot_channel",
    "channel",
    "feature",
    "line",
    "recipe",
    "setup",
    "context",
    "lot",
    "calibration",
    "shift_total",
    "shift_summary",
    "event",
    "superseded",
    "earlier",
    "trace",
    "reference_run",
    "reference_shot",
    "logger",
    "health",
    "device",
    "delivery",
    "refusal",
};

int
ledger_words_place(const char *table)
{
	const int count = sizeof order / sizeof order[0];

	for (int i = 0; i < count; i++)
		if (strcmp(order[i], table) == 0)
			return i;
	return count;
}
