/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * SQL for what people said holds on a line: one wording for all who ask.
 * Only for the files in this folder.
 */
#ifndef DAEMON_LEDGER_HELD_H
#define DAEMON_LEDGER_HELD_H

/* The value of a key in force at ?2 on the line whose id `line_id` is; NULL: unknown. */
#define HELD(line_id, key)                                             \
	"(SELECT nullif(value, '') FROM context WHERE line = " line_id \
	" AND key = '" key                                             \
	"' AND holds_from <= ?2 ORDER BY holds_from DESC, id DESC LIMIT 1)"

/* The material told of the lot whose name `lot_name` is; NULL: none, so the recipe's. */
#define LOT_MATERIAL(lot_name)                                                   \
	"(SELECT material FROM lot WHERE id = (SELECT max(id) FROM lot AS other" \
	" WHERE other.name = " lot_name "))"

#endif
