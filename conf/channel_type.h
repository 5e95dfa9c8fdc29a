/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the role of a channel asks of its type, and both of its other settings.  For one
 * thread; only within conf/.
 */
#ifndef CONF_CHANNEL_TYPE_H
#define CONF_CHANNEL_TYPE_H

struct draft;
struct part;

/* Notes a type that does not suit the role, a table that does not suit the type, and
 * settings that such a channel lacks or must not have. */
void channel_type_check(struct draft *draft, struct part *channel);

#endif
