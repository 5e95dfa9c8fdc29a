/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a run of shots says about sheets, sensors, heaters and water: held against a
 * profile learned from a reference run, by patterns of signs.
 *
 * A cause is named only when the figures that it must move have moved that way and those
 * that it must leave alone have not; where no pattern fits, the finding says which figure
 * disagrees and no more.  It never says what is broken on one figure's word.
 * Pure; one thread an object.
 */
#ifndef CLI_FINDINGS_FINDINGS_H
#define CLI_FINDINGS_FINDINGS_H

#include "conf/settings.h"
#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct profile;

/* A shot as it is looked at; values in the unit on file (see conf/feature.h). */
struct findings_shot {
	int64_t shot_no;
	struct wall at;
	const char *lot; /* "": unknown; lent while the shots are */
	bool
	    usual; /* a sheet heated and formed in the usual way: others are passed over */
	double value[FEATURE_COUNT]; /* NAN: absent */
};

enum finding_cause {
	FINDING_DISAGREES, /* a figure is not as it was; no pattern fits */
	/* heat */
	FINDING_DEAD_ZONE, /* a heater zone under a pyrometer gives (next to) nothing, or
	                      much less */
	FINDING_ELEMENTS, /* elements fail where no pyrometer looks: the meter says it */
	FINDING_WINDOW,   /* a pyrometer's window is dirty */
	FINDING_EMISSIVITY, /* all pyrometers of a side or of both step at a lot's change */
	FINDING_LOT_FLOW,      /* the lot is softer or stiffer than before */
	FINDING_LOT_THICKNESS, /* the lot is thicker or thinner */
	FINDING_LOT,        /* it is thicker and softer, or thinner and stiffer: both */
	FINDING_COLD_STACK, /* sheets start colder (or warmer) */
	FINDING_MAINS,      /* the mains are low (or high) */
	FINDING_DRAUGHT,    /* cold air in the oven */
	/* tool and water */
	FINDING_BLOCKED_CIRCUIT,    /* partly: less flow */
	FINDING_CLOSED_CIRCUIT,     /* next to no flow */
	FINDING_SCALED_CIRCUIT,     /* flow as before, heat passes worse */
	FINDING_SUPPLY_FLOW,        /* less flow in all circuits */
	FINDING_SUPPLY_TEMPERATURE, /* the supply's temperature has moved */
	FINDING_CONTACT,            /* the sheet touches or heats the tool less there */
	FINDING_TOOL_SENSOR,        /* a tool sensor, or a hose, reads something else */
	FINDING_CAUSE_COUNT
};

/* "dead_zone" ... for machines. */
const char *finding_cause_text(enum finding_cause cause);

/* How well the pattern fits. */
enum finding_sure {
	FINDING_POSSIBLE, /* the signs fit, some of what would confirm it is not measured or
	                     not beyond doubt yet */
	FINDING_LIKELY, /* all that is measured fits */
	FINDING_SURE, /* and it stands out so far that chance is out of the question */
};
const char *finding_sure_text(enum finding_sure sure);

enum { FINDING_EVIDENCE = 8, FINDING_LOT_NAME = 64 };

/* A figure and how it lies against the profile. */
struct finding_evidence {
	int feature;
	double expected,
	    found;         /* in the unit on file, as things stand (lot, start, hall) */
	double deviations; /* found minus expected, in standard deviations of a shot */
	bool moved;        /* false: told because it has not moved */
};

struct finding {
	enum finding_cause cause;
	enum finding_sure sure;
	int position; /* of the pyrometer, circuit or tool sensor; 0: of none */
	int side;     /* 0 top, 1 bottom, of a pyrometer; -1 */
	bool up;      /* of what can go both ways: more, warmer, softer, thicker */
	int feature;  /* FINDING_DISAGREES: which; else the foremost of the evidence */
	int64_t
	    first_shot; /* in which it shows; of the last time when there are several */
	struct wall first_at;
	/* The last one before it whose figures lie in their ordinary scatter: not always
	 * the shot before; 0: there is none among those looked at. */
	int64_t last_good;
	bool cut;          /* it shows from the run's first shot on: it may be older */
	int64_t last_shot; /* in which it shows */
	bool lasting;      /* it still shows at the end of the run */
	int times;         /* that it came: 1, or it went and came again */
	int64_t earliest_shot; /* in which it showed, of all those times */
	struct wall earliest_at;
	/* Of what comes with a lot's change; "" else, or where not entered. */
	char lot[FINDING_LOT_NAME], lot_before[FINDING_LOT_NAME];
	int evidence_count;
	struct finding_evidence evidence[FINDING_EVIDENCE];
};

enum {
	PROFILE_SHOTS_MIN = 20, /* a profile is learned from */
	FINDINGS_SHOTS_MIN = 5, /* a run is judged from; fewer say nothing */
};

/*
 * Learns from the shots of a reference run (the usual ones, in order): means, standard
 * deviations, and how each figure follows what may differ from shift to shift without
 * anything being wrong (stack, hall).  NULL with the reason: under PROFILE_SHOTS_MIN
 * usual shots, no memory.  `line` is copied.
 */
struct profile *profile_new(const struct line_settings *line,
    const struct findings_shot *shots, size_t count, struct error *error);
void profile_free(struct profile *profile);

/* Shots in the order of their time, and those of them that are asked about: what was
 * over before `first` or began after `last` is left out; the others tell what was usual
 * before, and what came of it. */
struct findings_run {
	const struct findings_shot *shots;
	size_t count;
	size_t first, last; /* of the shots */
};

/*
 * Judges a run of shots against the profile; writes the findings, those that last before
 * those that are over, named causes before figures that disagree, the surest first.  What
 * came several times is one finding.  Returns how many there are, of which at most `room`
 * are written; FINDINGS_NO_MEMORY when there was not enough to judge.
 */
#define FINDINGS_NO_MEMORY SIZE_MAX
size_t findings_judge(const struct profile *profile, const struct findings_run *run,
    struct finding *findings, size_t room);

/* One sentence on what it is, and one on what to look at; with cautions where hands may
 * come to harm.  At least 512 bytes of room each. */
enum { FINDING_TEXT = 512 };
void finding_tell(const struct finding *finding, char what[static FINDING_TEXT],
    char look[static FINDING_TEXT]);

#endif
