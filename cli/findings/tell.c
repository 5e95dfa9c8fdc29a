/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/findings.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>

#include "conf/feature.h"

#define OVEN_COLD                                                         \
	" That is work inside the oven: only with the oven cold and the " \
	"machine locked out."
#define ELECTRICIAN                                                             \
	" Cabinets, elements and wiring are for licensed electricians, by the " \
	"rules that hold on the site."
#define HOT_WATER                                                             \
	" The water is hot and under pressure: let it cool and the pressure " \
	"off before a hose or a valve is opened."

enum words { WORDS_NONE, WORDS_PYROMETER, WORDS_CIRCUIT, WORDS_SIDE };

/* What it is, when up and when not; "%s" stands for the pyrometer, circuit or side. */
struct sentences {
	const char *name;
	enum words subject;
	const char *up, *down;
	const char *look;
};

static const struct sentences sentences[FINDING_CAUSE_COUNT] = {
    [FINDING_DISAGREES] = {"disagrees", WORDS_NONE, NULL, NULL,
	"See the figures: they do not fit any one cause known here. Look at what was "
	"changed or worked on before the first shot named."},
    [FINDING_DEAD_ZONE] = {"dead_zone", WORDS_PYROMETER,
	"The sheet leaves the oven colder where %s looks, and not elsewhere: a heater "
	"zone that faces that place, or one beside it, gives nothing, or much less "
	"than it "
	"should.",
	NULL,
	"Have the elements, fuse, relay and output of the zones at that place "
	"measured, on "
	"both sides; hold the sheets since then." ELECTRICIAN OVEN_COLD},
    [FINDING_ELEMENTS] = {"elements", WORDS_NONE,
	"The oven draws less than its outputs ask for, more so than the mains explain, "
	"and no pyrometer sees a cold place: elements have failed where none looks.",
	NULL,
	"Have the current of each zone measured against its output, first those that "
	"no "
	"pyrometer looks at; the meter itself may be at fault too." ELECTRICIAN},
    [FINDING_WINDOW] = {"window", WORDS_PYROMETER,
	"%s shows less than its neighbours while the sheets sag and heat as before: "
	"its "
	"window is dirty, or its sight is blocked. The sheets themselves need not be "
	"colder.",
	NULL, "Clean the window and see whether the reading steps back up." OVEN_COLD},
    [FINDING_EMISSIVITY] = {"emissivity", WORDS_SIDE,
	"The pyrometers of %s show more since the lot changed while the sheets sag as "
	"before: as where the surface radiates more and the sheet is not hotter.",
	"The pyrometers of %s show less since the lot changed while the sheets sag as "
	"before: as where the surface radiates less and the sheet is not colder.",
	"Compare the faces of both lots: colour, grain, gloss, protective film; which "
	"side was up; and the emissivity that is set.  Measure the thickness too: a "
	"lot that is "
	"softer and thicker at once shows on both sides alike."},
    [FINDING_LOT_FLOW] = {"lot_flow", WORDS_NONE,
	"The new lot is softer: it sags sooner and leaves the oven colder though it is "
	"heated as before.",
	"The new lot is stiffer: it sags later and leaves the oven hotter though it is "
	"heated as before.",
	"Compare the lots' melt flow on their certificates. The eye answers to "
	"stiffness, not to temperature: check the parts' wall and corners."},
    [FINDING_LOT_THICKNESS] = {"lot_thickness", WORDS_NONE,
	"The new lot is thicker, or heavier: it heats more slowly and sags later.",
	"The new lot is thinner, or lighter: it heats faster and sags sooner.",
	"Measure the thickness of some sheets of both lots, or weigh them, and enter "
	"it "
	"for the lot: what is computed of the core depends on it."},
    [FINDING_LOT] = {"lot", WORDS_NONE,
	"The new lot differs in thickness and in flow at once, which cannot be told "
	"apart: as one that is thicker and softer, it heats more slowly, sags about "
	"when it did and leaves the oven colder.",
	"The new lot differs in thickness and in flow at once, which cannot be told "
	"apart: as one that is thinner and stiffer, it heats faster, sags about when "
	"it did and leaves the oven hotter.",
	"Measure the thickness of some sheets of both lots and enter it, compare melt "
	"flow on the certificates, and how both lots' faces look to the pyrometers."},
    [FINDING_COLD_STACK] = {"cold_stack", WORDS_NONE,
	"The sheets start warmer, and sag sooner by what that explains.",
	"The sheets start colder, and sag later by what that explains.",
	"See how long the sheets stood in the hall before they were loaded, and where; "
	"then the stack's sensor."},
    [FINDING_MAINS] = {"mains", WORDS_NONE,
	"All heaters give more than their outputs say, and all sheets heat faster: the "
	"mains are high.",
	"All heaters give less than their outputs say, and all sheets heat more "
	"slowly: "
	"the mains are low, or a phase is.",
	"Have the voltage of all phases measured at the oven under load, and ask what "
	"else runs on that supply." ELECTRICIAN},
    [FINDING_DRAUGHT] = {"draught", WORDS_NONE,
	"The sheets take up heat more slowly everywhere though the heaters draw what "
	"they always did: air that is colder than usual moves through the oven.",
	NULL,
	"Look for open doors and gates, fans that point at the oven, shutters and "
	"seals "
	"of the oven, the extraction." OVEN_COLD},
    [FINDING_BLOCKED_CIRCUIT] = {"blocked_circuit", WORDS_CIRCUIT,
	"Less water flows through %s than before: it warms up more on its way, and the "
	"tool is warmer there.",
	NULL,
	"Look at its valve, hose, coupling and strainer: a kink, dirt, a valve that is "
	"half shut." HOT_WATER},
    [FINDING_CLOSED_CIRCUIT] = {"closed_circuit", WORDS_CIRCUIT,
	"Next to no water flows through %s: the tool is warmer there, and the return "
	"shows what stands in the pipe.",
	NULL,
	"Look for a shut valve, a coupling that is not seated, a kinked hose, air in "
	"the "
	"circuit." HOT_WATER},
    [FINDING_SCALED_CIRCUIT] = {"scaled_circuit", WORDS_CIRCUIT,
	"As much water as before flows through %s, but less heat gets into it: scale "
	"or "
	"rust in the channel, or the tool's contact with it.",
	NULL,
	"Plan to flush or descale it, and look at the water's treatment." HOT_WATER},
    [FINDING_SUPPLY_FLOW] = {"supply_flow", WORDS_NONE,
	"More water flows through all circuits than before.",
	"Less water flows through all circuits than before, and it warms up more.",
	"Look at the pump, the filter and the main valves of the tempering "
	"unit." HOT_WATER},
    [FINDING_SUPPLY_TEMPERATURE] = {"supply_temperature", WORDS_NONE,
	"The water comes to the tool warmer than before, and the tool follows it.",
	"The water comes to the tool colder than before, and the tool follows it.",
	"Compare the tempering unit's set point with the recipe's, then its control "
	"and "
	"its sensor."},
    [FINDING_CONTACT] = {"contact", WORDS_CIRCUIT,
	"The tool takes up more heat at %s than before while its water flows as ever: "
	"the sheet is hotter there or lies on better.",
	"The tool takes up less heat at %s than before while its water flows as ever: "
	"the sheet is colder there or does not lie on.",
	"Look at the part in that place, the vacuum there and its seals, and the oven "
	"zone that heats it."},
    [FINDING_TOOL_SENSOR] = {"tool_sensor", WORDS_CIRCUIT,
	"A sensor at %s reads more than before, and nothing else bears it out: the "
	"sensor, its seat or what it is connected to has changed.",
	"A sensor at %s reads less than before, and nothing else bears it out: the "
	"sensor, its seat or what it is connected to has changed.",
	"Look at the sensor's seat and plug, and at whether sensors or hoses were "
	"exchanged; compare all of them with water running and no sheets." HOT_WATER},
};

static const char *const sure_texts[] = {
    [FINDING_POSSIBLE] = "possible",
    [FINDING_LIKELY] = "likely",
    [FINDING_SURE] = "sure",
};

const char *
finding_cause_text(enum finding_cause cause)
{
	assert(cause >= 0 && cause < FINDING_CAUSE_COUNT);
	return sentences[cause].name;
}

const char *
finding_sure_text(enum finding_sure sure)
{
	assert(sure >= FINDING_POSSIBLE && sure <= FINDING_SURE);
	return sure_texts[sure];
}

static void
name_subject(const struct finding *finding, enum words words, char *to, size_t room)
{
	const char *side = finding->side == 1 ? "bottom" : "top";

	switch (words) {
	case WORDS_NONE:
		snprintf(to, room, "it");
		return;
	case WORDS_PYROMETER:
		snprintf(to, room, "%s pyrometer %d", side, finding->position);
		return;
	case WORDS_CIRCUIT:
		snprintf(to, room, "circuit %d", finding->position);
		return;
	case WORDS_SIDE:
		snprintf(to, room, "%s",
		    finding->side < 0    ? "both sides"
		    : finding->side == 1 ? "the bottom side"
					 : "the top side");
		return;
	}
}

/* Puts the subject in the place of "%s". */
static void
fill_in(const char *sentence, const char *subject, char to[static FINDING_TEXT])
{
	size_t n = 0;

	for (const char *at = sentence; *at && n + 1 < FINDING_TEXT; at++) {
		if (at[0] != '%' || at[1] != 's') {
			to[n++] = *at;
			continue;
		}
		for (const char *s = subject; *s && n + 1 < FINDING_TEXT; s++)
			to[n++] = *s;
		at++;
	}
	to[n] = '\0';
	if (to[0] >= 'a' && to[0] <= 'z')
		to[0] = (char)(to[0] - 'a' + 'A');
}

static void
tell_disagreement(const struct finding *finding, char what[static FINDING_TEXT])
{
	const char *name = feature_get(finding->feature)->name;

	if (finding->evidence_count > 1)
		snprintf(what, FINDING_TEXT,
		    "%s and %d more are not as they were; no cause known here fits all "
		    "that moved.",
		    name, finding->evidence_count - 1);
	else
		snprintf(what, FINDING_TEXT,
		    "%s is %s than it was; one figure alone does not tell why.", name,
		    finding->up ? "higher" : "lower");
}

/* What a lot moves, where none is entered to have changed. */
static bool
may_be_a_lot(const struct finding *finding)
{
	return finding->cause == FINDING_DISAGREES &&
	       (finding->feature == FEATURE_SAG_S ||
		   finding->feature == FEATURE_EXIT_TOP_C ||
		   finding->feature == FEATURE_EXIT_BOTTOM_C ||
		   finding->feature == FEATURE_RATE_TOP ||
		   finding->feature == FEATURE_RATE_BOTTOM);
}

void
finding_tell(const struct finding *finding, char what[static FINDING_TEXT],
    char look[static FINDING_TEXT])
{
	const struct sentences *words;
	char subject[64], sentence[FINDING_TEXT];

	assert(finding->cause < FINDING_CAUSE_COUNT);
	words = sentences + finding->cause;
	if (finding->cause == FINDING_DISAGREES) {
		tell_disagreement(finding, what);
	} else {
		name_subject(finding, words->subject, subject, sizeof(subject));
		fill_in(finding->up || !words->down ? words->up : words->down, subject,
		    sentence);
		snprintf(what, FINDING_TEXT, "%s", sentence);
	}
	snprintf(look, FINDING_TEXT, "%s%s", words->look,
	    may_be_a_lot(finding)
		? " A lot that was changed and not entered looks like "
		  "this too: see whether one was."
		: "");
}
