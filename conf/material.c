/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/material.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>

#include "conf/draft.h"
#include "conf/words.h"
#include "daemon/base/text.h"

enum { NUMBER = 32 };

/* Those that conduction needs, and those of melting. */
static const char *const properties[] = {
    "density_kg_per_m3", "heat_capacity_j_per_kgk", "conductivity_w_per_mk"};
static const char *const meltings[] = {"fusion_kj_per_kg", "melting", "melting_width"};

#define COUNT_OF(array) (sizeof(array) / sizeof((array)[0]))

/* --- checks ----------------------------------------------------------------------- */

/* The first of the settings that is written, or that is not; NULL when none. */
static const char *
first_of(
    const struct part *part, const char *const *settings, size_t count, bool written)
{
	for (size_t i = 0; i < count; i++)
		if (part_has(part, settings[i]) == written)
			return settings[i];
	return NULL;
}

static void
check_properties(struct draft *draft, struct part *part)
{
	const char *written = first_of(part, properties, COUNT_OF(properties), true);
	const char *missing = first_of(part, properties, COUNT_OF(properties), false);

	if (written && missing)
		part_refuse(draft, part, NULL,
		    "'%s' is missing in %s, where '%s' stands: the inside of a sheet "
		    "is "
		    "computed from density, heat capacity and conductivity together, "
		    "write all of them or none",
		    missing, part->source->title, written);
	else if (written && !part_has(part, "structure"))
		part_refuse(draft, part, NULL,
		    "'structure' is missing in %s: write amorphous, or semicrystalline "
		    "for one that melts (PE, PP, TPO, PA), which is computed otherwise",
		    part->source->title);
}

static void
check_melting(struct draft *draft, struct part *part)
{
	const char *written = first_of(part, meltings, COUNT_OF(meltings), true);
	const char *missing = first_of(part, meltings, COUNT_OF(meltings), false);
	bool figures = first_of(part, properties, COUNT_OF(properties), true) != NULL;

	if (!part_sound(part, "structure"))
		return;
	if (part->as.material.structure != STRUCTURE_SEMICRYSTALLINE) {
		if (written)
			part_refuse(draft, part, written,
			    "'%s' is of a material that melts: write structure = "
			    "semicrystalline, or leave it out",
			    written);
	} else if (missing && (figures || written)) {
		part_refuse(draft, part, "structure",
		    "'%s' is missing in %s, which is semicrystalline: without the heat "
		    "that melting takes its core would be wrong by tens of degrees "
		    "while it melts, write fusion_kj_per_kg, melting and melting_width",
		    missing, part->source->title);
	}
}

void
material_check(struct draft *draft, struct part *part)
{
	struct material_settings *material = &part->as.material;

	if (!part_has(part, "structure"))
		material->structure = STRUCTURE_AMORPHOUS;
	check_properties(draft, part);
	check_melting(draft, part);
	part_check_order(draft, part, "form_from", material->form_low_c, "form_to",
	    material->form_high_c);
	part_check_order(draft, part, "demould", material->demould_c, "form_from",
	    material->form_low_c);
	part_check_order(draft, part, "form_to", material->form_high_c,
	    "degrades_above", material->limit_c);
}

/* --- its hash --------------------------------------------------------------------- */

/* Room for the longest there can be: two curves of MATERIAL_POINTS and the rest. */
struct print {
	char bytes[2048];
	size_t length;
};

static void __attribute__((format(printf, 2, 3)))
print_text(struct print *print, const char *format, ...)
{
	size_t room = sizeof print->bytes - print->length;
	va_list arguments;
	int length;

	va_start(arguments, format);
	length = vsnprintf(print->bytes + print->length, room, format, arguments);
	va_end(arguments);
	assert(length >= 0 && (size_t)length < room);
	print->length += (size_t)length;
}

static void
print_number(struct print *print, const char *name, double value)
{
	char number[NUMBER] = "none";

	if (!isnan(value))
		text_from_number(value, number, sizeof number);
	print_text(print, "%s %s\n", name, number);
}

static void
print_curve(struct print *print, const char *name, const struct material_curve *curve)
{
	print_text(print, "%s %d\n", name, curve->count);
	for (int i = 0; i < curve->count; i++) {
		if (curve->count > 1)
			print_number(print, "at", curve->at_c[i]);
		print_number(print, "is", curve->value[i]);
	}
}

void
material_sign(struct material_settings *material)
{
	struct print print = {.length = 0};
	uint64_t hash;

	print_text(&print, "%s\n", words_structure.list[material->structure]);
	print_number(&print, "density", material->density);
	print_curve(&print, "capacity", &material->heat_capacity);
	print_curve(&print, "conductivity", &material->conductivity);
	print_number(&print, "fusion", material->fusion_j_kg);
	print_number(&print, "melting", material->melting_c);
	print_number(&print, "width", material->melting_width_dc);
	print_number(&print, "emissivity", material->emissivity);
	print_number(&print, "tolerance", material->diffusivity_tolerance);
	if (material->structure == STRUCTURE_SEMICRYSTALLINE)
		print_number(&print, "fusion tolerance", material->fusion_tolerance);
	print_number(&print, "limit", material->limit_c);
	print_number(&print, "demould", material->demould_c);
	hash = text_hash(print.bytes, print.length);
	snprintf(material->hash, sizeof material->hash, "%08" PRIx32,
	    (uint32_t)(hash >> 32 ^ hash));
}
