/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/channel_type.h"

#include <math.h>

#include "conf/draft.h"
#include "conf/register.h"
#include "conf/role.h"
#include "conf/words.h"

/* --- role, type and table --------------------------------------------------------- */

#define TYPE(name) (1U << ENCODING_##name)
#define WHOLE_TYPES (TYPE(INT16) | TYPE(UINT16) | TYPE(INT32) | TYPE(UINT32))

static const struct {
	unsigned types;
	const char *what, *write;
} kinds[] = {
    [ROLE_KIND_BIT] = {~0U, "a bit", "bit"}, /* a number: see check_levels */
    [ROLE_KIND_WORD] = {WHOLE_TYPES, "a whole number",
	"int16, uint16, int32 or uint32"},
    [ROLE_KIND_MEASURE] = {WHOLE_TYPES | TYPE(FLOAT32), "a measure",
	"int16, uint16, int32, uint32 or float32"},
    [ROLE_KIND_ANY] = {~0U, "anything", "any"},
};

static void
check_type(struct draft *draft, struct part *part)
{
	const struct channel_settings *channel = &part->as.channel.out;
	enum role_kind kind;

	if (!part_sound(part, "role") || !part_sound(part, "type"))
		return;
	kind = role_get(channel->role)->kind;
	if (!(kinds[kind].types & 1U << channel->encoding))
		part_refuse(draft, part, "type",
		    "'type' is '%s', but role %s is %s: write %s",
		    words_encoding.list[channel->encoding], role_text(channel->role),
		    kinds[kind].what, kinds[kind].write);
}

static void
check_table(struct draft *draft, struct part *part)
{
	const struct channel_settings *channel = &part->as.channel.out;
	const char *title = part->source->title;
	bool is_packed;

	if (!part_sound(part, "type") || !part_sound(part, "table"))
		return;
	is_packed = register_packs(channel->table, channel->encoding);
	if (channel->encoding != ENCODING_BIT && register_is_bit(channel->table))
		part_refuse(draft, part, "table",
		    "'table' is '%s', which holds bits, but 'type' is '%s': write "
		    "holding or input, or type = bit",
		    words_table.list[channel->table],
		    words_encoding.list[channel->encoding]);
	else if (is_packed && !part_has(part, "bit"))
		part_refuse(draft, part, NULL,
		    "'bit' is missing in %s: write bit = 0 to 15, 0 the least "
		    "significant",
		    title);
	else if (part_has(part, "bit") && !is_packed)
		part_refuse(draft, part, "bit",
		    "'bit' is for a bit of a register, which %s is not: leave it out",
		    title);
	if (register_width(channel->encoding) == 2 && !part_has(part, "word_order"))
		part_refuse(draft, part, NULL,
		    "'word_order' is missing in %s: write abcd, badc, cdab or dcba",
		    title);
	else if (register_width(channel->encoding) == 1 && part_has(part, "word_order"))
		part_refuse(draft, part, "word_order",
		    "'word_order' is for 32 bits, but 'type' is '%s': leave it out",
		    words_encoding.list[channel->encoding]);
}

/* --- settings that only some channels have ---------------------------------------- */

enum {
	FOR_BIT = 1 << 0,
	FOR_WORD = 1 << 1,
	FOR_MEASURE = 1 << 2,
	FOR_LEVELS = 1 << 3, /* a bit read as a number */
	FOR_ZONE = 1 << 4,
	FOR_OVEN = 1 << 5,
	FOR_POSITIONS = 1 << 6,
	FOR_ROW = 1 << 7,
};

static const struct {
	const char *setting;
	unsigned uses;
} owned[] = {
    {"inverted", FOR_BIT},
    {"debounce_ms", FOR_BIT | FOR_LEVELS},
    {"on_at", FOR_LEVELS},
    {"off_at", FOR_LEVELS},
    {"sentinels", FOR_WORD | FOR_MEASURE},
    {"scale", FOR_MEASURE},
    {"offset", FOR_MEASURE},
    {"unit", FOR_MEASURE},
    {"minimum", FOR_MEASURE},
    {"maximum", FOR_MEASURE},
    {"rated_kw", FOR_ZONE},
    {"station", FOR_OVEN},
    {"position", FOR_POSITIONS},
    {"count", FOR_POSITIONS | FOR_ROW},
};

static unsigned
uses_of(const struct channel_settings *channel)
{
	const struct role_traits *traits = role_get(channel->role);
	bool is_bit = channel->encoding == ENCODING_BIT;
	unsigned uses = 0;

	switch (traits->kind) {
	case ROLE_KIND_BIT:
		uses = is_bit ? FOR_BIT : FOR_MEASURE | FOR_LEVELS;
		break;
	case ROLE_KIND_WORD:
		uses = FOR_WORD;
		break;
	case ROLE_KIND_MEASURE:
		uses = FOR_MEASURE;
		break;
	case ROLE_KIND_ANY:
		uses = FOR_ROW | (is_bit ? FOR_BIT : FOR_MEASURE);
		break;
	}
	if (channel->role == ROLE_ZONE_TOP || channel->role == ROLE_ZONE_BOTTOM)
		uses |= FOR_ZONE;
	return uses | (traits->oven ? FOR_OVEN : 0) |
	       (traits->positions ? FOR_POSITIONS : 0);
}

/* Whether a channel of this role could have it with another type. */
static bool
is_by_type(enum role role, unsigned uses)
{
	enum role_kind kind = role_get(role)->kind;
	unsigned of_types = FOR_BIT | FOR_MEASURE;

	if (kind == ROLE_KIND_BIT)
		of_types |= FOR_LEVELS;
	return (kind == ROLE_KIND_BIT || kind == ROLE_KIND_ANY) && (uses & of_types);
}

static void
check_owned(struct draft *draft, struct part *part)
{
	const struct channel_settings *channel = &part->as.channel.out;
	unsigned uses;

	if (!part_sound(part, "role") || !part_sound(part, "type"))
		return;
	uses = uses_of(channel);
	for (size_t i = 0; i < sizeof owned / sizeof owned[0]; i++)
		if (part_has(part, owned[i].setting) && !(uses & owned[i].uses))
			part_refuse(draft, part, owned[i].setting,
			    "'%s' means nothing to a channel of role %s%s: leave it "
			    "out",
			    owned[i].setting, role_text(channel->role),
			    is_by_type(channel->role, owned[i].uses) ? " and this type"
								     : "");
}

/* A bit read as a number needs both levels, each one that can be read. */
static void
check_levels(struct draft *draft, struct part *part)
{
	const struct channel_draft *channel = &part->as.channel;
	bool on = part_has(part, "on_at"), off = part_has(part, "off_at");

	if (!part_sound(part, "role") || !part_sound(part, "type") ||
	    !(uses_of(&channel->out) & FOR_LEVELS))
		return;
	if (!on && !off)
		part_refuse(draft, part, "type",
		    "'type' is '%s', but role %s is a bit: write type = bit, or "
		    "'on_at' and 'off_at' as well",
		    words_encoding.list[channel->out.encoding],
		    role_text(channel->out.role));
	else if (!on || !off)
		part_refuse(draft, part, on ? "on_at" : "off_at",
		    "'%s' stands without '%s': write both", on ? "on_at" : "off_at",
		    on ? "off_at" : "on_at");
	else if (part_sound(part, "on_at") && part_sound(part, "off_at") &&
		 !islessgreater(channel->on_at, channel->off_at))
		part_refuse(draft, part, "off_at",
		    "'off_at' is what 'on_at' is: write one that is lower, or higher "
		    "for a bit that is on when low");
}

void
channel_type_check(struct draft *draft, struct part *channel)
{
	check_type(draft, channel);
	check_table(draft, channel);
	check_owned(draft, channel);
	check_levels(draft, channel);
}
