/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What channels are to a line, how its sheets move, and the units of measure. */
#include "contrib/man/parts.h"

#include <stdint.h>
#include <string.h>

#include "conf/machine.h"
#include "conf/role.h"
#include "conf/words.h"
#include "contrib/man/mdoc.h"

/* --- roles ------------------------------------------------------------------------------ */

static void
put_role(FILE *out, enum role role)
{
	const struct role_traits *traits = role_get(role);
	char text[WORDS_TEXT + 64], list[WORDS_TEXT];

	fprintf(out, ".It Ic %s\n", role_text(role));
	mdoc_sentence(out, traits->meaning);
	switch (traits->kind) {
	case ROLE_KIND_BIT:
		break;
	case ROLE_KIND_WORD:
		mdoc_text(out, "A whole number without a unit.");
		break;
	case ROLE_KIND_MEASURE:
		words_units(traits->dimension, "", list);
		snprintf(text, sizeof text, "In %s.", list);
		mdoc_text(out, text);
		break;
	case ROLE_KIND_ANY:
		mdoc_text(out, "A bit, or a number with or without a unit.");
		break;
	}
	if (traits->positions == 0)
		return;
	snprintf(text, sizeof text, "Up to %d%s%s.", traits->positions,
	    traits->oven ? " in each oven" : "",
	    traits->gapless ? ", their positions from 1 without a gap" : "");
	mdoc_text(out, text);
}

int
part_roles(FILE *out, const char *argument, struct error *error)
{
	(void)argument;
	(void)error;
	fputs(".Bl -tag -width Ds\n", out);
	for (int role = 0; role < ROLE_COUNT; role++)
		put_role(out, (enum role)role);
	fputs(".El\n", out);
	return 0;
}

/* --- machines ----------------------------------------------------------------------------- */

/* "rotating or cycle_count" */
static void
list_roles(uint32_t set, const char *last, char *text, size_t room)
{
	int left = 0;
	size_t length = 0;

	for (int role = 0; role < ROLE_COUNT; role++)
		left += (set & MACHINE_ROLE(role)) != 0;
	text[0] = '\0';
	for (int role = 0; role < ROLE_COUNT && length < room; role++)
		if (set & MACHINE_ROLE(role)) {
			left--;
			length += (size_t)snprintf(text + length, room - length, "%s%s",
			    role_text((enum role)role),
			    left > 1    ? ", "
			    : left == 1 ? last
					: "");
		}
}

static void
put_machine(FILE *out, enum machine machine)
{
	const struct machine_traits *traits = machine_get(machine);
	char needs[MACHINE_NEEDS][256], foreign[256], text[1024];

	for (int i = 0; i < MACHINE_NEEDS; i++)
		list_roles(traits->needs[i], " or ", needs[i], sizeof needs[i]);
	list_roles(traits->foreign, " and ", foreign, sizeof foreign);
	fprintf(out, ".It Ic %s\n", words_machine.list[machine]);
	snprintf(text, sizeof text,
	    "Stations: %s. It needs channels of the roles %s, and %s%s. It has no %s.",
	    traits->stations, needs[0], needs[1],
	    traits->sides > 1 ? "; with sides = left, right each side has its own" : "",
	    foreign);
	mdoc_text(out, text);
}

int
part_machines(FILE *out, const char *argument, struct error *error)
{
	(void)argument;
	(void)error;
	fputs(".Bl -tag -width Ds\n", out);
	for (int machine = 0; machine < MACHINE_COUNT; machine++)
		put_machine(out, (enum machine)machine);
	fputs(".El\n", out);
	return 0;
}

/* --- units ---------------------------------------------------------------------------------- */

int
part_units(FILE *out, const char *argument, struct error *error)
{
	static const struct {
		enum dimension dimension;
		const char *words;
	} measured[] = {
	    {DIMENSION_TEMPERATURE, "temperature"},
	    {DIMENSION_TEMPERATURE_DIFFERENCE, "difference of temperatures"},
	    {DIMENSION_TEMPERATURE_RATE, "heating rate"},
	    {DIMENSION_TIME, "time"},
	    {DIMENSION_RATIO, "share"},
	    {DIMENSION_POWER, "power"},
	    {DIMENSION_ENERGY, "energy"},
	    {DIMENSION_FLOW, "flow"},
	    {DIMENSION_PRESSURE, "pressure"},
	    {DIMENSION_LENGTH, "length"},
	    {DIMENSION_THERMAL_RESISTANCE, "thermal resistance"},
	};
	char list[WORDS_TEXT];

	(void)argument;
	(void)error;
	fputs(".Bl -column \"difference of temperatures\" units\n", out);
	for (size_t i = 0; i < sizeof measured / sizeof measured[0]; i++) {
		words_units(measured[i].dimension, "", list);
		fprintf(out, ".It %s Ta", measured[i].words);
		mdoc_argument(out, list);
		fputs("\n", out);
	}
	fputs(".El\n", out);
	return 0;
}
