/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The channels of a shot: put on file, held against those there, cleared. */
#include "daemon/ledger/ledger.h"

#include "daemon/base/error.h"
#include "daemon/ledger/filed.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"
#include "daemon/ledger/schema.h"

static int
put_channel(struct ledger *ledger, int64_t id, const struct shot_channel *channel,
    struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_SHOT_CHANNEL);
	double (*filed)(double) =
	    ledger->setup.flows[channel->channel] ? filed_flow : filed_number;

	bind_integer(&binding,
	    SCHEMA_SHOT_CHANNEL(id, ledger->setup.channels[channel->channel]));
	bind_number(&binding, filed(channel->min));
	bind_number(&binding, filed(channel->mean));
	bind_number(&binding, filed(channel->max));
	bind_number(&binding, filed(channel->sd));
	bind_number(&binding, filed(channel->last));
	bind_number(&binding, filed(channel->coverage));
	bind_label(&binding, absent_text(channel->absent));
	return ledger_run(ledger, &binding, error);
}

int
ledger_put_channels(
    struct ledger *ledger, const struct shot *shot, int64_t id, struct error *error)
{
	for (size_t i = 0; i < shot->channel_count; i++) {
		int code = put_channel(ledger, id, &shot->channels[i], error);
		if (code != 0)
			return code;
	}
	return 0;
}

static struct binding
bind_all_of(struct ledger *ledger, enum ledger_statement statement, int64_t id)
{
	struct binding binding = ledger_bind(ledger, statement);

	bind_integer(&binding, SCHEMA_SHOT_CHANNEL(id, 0));
	bind_integer(&binding, SCHEMA_SHOT_CHANNEL(id + 1, 0));
	return binding;
}

static bool
row_is_of(sqlite3_stmt *row, const struct shot_channel *channel,
    bool (*same)(double a, double b))
{
	const double made[] = {channel->min, channel->mean, channel->max, channel->sd,
	    channel->last, channel->coverage};
	const int count = sizeof made / sizeof made[0];

	for (int i = 0; i < count; i++)
		if (!same(column_number(row, i), made[i]))
			return false;
	return ledger_read_absent(row, count) == channel->absent;
}

static int
same_channel(struct ledger *ledger, const struct shot_channel *channel, int64_t id,
    bool *same, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_SHOT_CHANNEL);

	bind_integer(&binding,
	    SCHEMA_SHOT_CHANNEL(id, ledger->setup.channels[channel->channel]));
	int step = bind_step(&binding);
	if (step != SQLITE_ROW && step != SQLITE_DONE)
		return database_failed(ledger->db, error, "ledger");
	*same =
	    step == SQLITE_ROW &&
	    row_is_of(binding.statement, channel,
		ledger->setup.flows[channel->channel] ? filed_same_flow : filed_same);
	sqlite3_reset(binding.statement);
	return 0;
}

int
ledger_same_channels(struct ledger *ledger, const struct shot *shot, int64_t id,
    bool *same, struct error *error)
{
	struct binding all = bind_all_of(ledger, STATEMENT_COUNT_SHOT_CHANNELS, id);
	int64_t count = 0;
	int code = ledger_integer(ledger, &all, &count, error);

	*same = true;
	if (code != 0 || count == 0)
		return code;
	*same = count == (int64_t)shot->channel_count;
	for (size_t i = 0; code == 0 && *same && i < shot->channel_count; i++)
		code = same_channel(ledger, &shot->channels[i], id, same, error);
	return code;
}

int
ledger_clear_channels(struct ledger *ledger, int64_t id, struct error *error)
{
	struct binding binding = bind_all_of(ledger, STATEMENT_CLEAR_SHOT_CHANNELS, id);

	return ledger_run(ledger, &binding, error);
}
