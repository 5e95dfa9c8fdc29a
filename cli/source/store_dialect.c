/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/store_dialect.h"

#include "cli/source/point.h"
#include "daemon/base/error.h"

bool
store_question_is_picky(const struct store_question *question)
{
	return question->features != NULL;
}

bool
store_question_wants(const struct store_question *question, int field)
{
	if (field == POINT_FEATURE)
		return false;
	if (field >= POINT_FIXED) {
		for (size_t i = 0; i < question->feature_count; i++)
			if (question->features[i] == field - POINT_FIXED)
				return true;
		return !store_question_is_picky(question);
	}
	return !question->values_only || field == POINT_LINE ||
	       field == POINT_OUTCOME || field == POINT_REVISION ||
	       field == POINT_SHOT_NO || field == POINT_FILED_US ||
	       field == POINT_FLAGS;
}

int64_t
store_point_ns(const struct ledger_shot *shot)
{
	int64_t ns = shot->filed_at.ns;

	return ns - ns % CLOCK_SECOND_NS + shot->shot_no % 1000 * 1000000;
}

const char *
store_json_text(const json_t *object, const char *name)
{
	const char *text = json_string_value(json_object_get(object, name));

	return text != NULL ? text : "";
}

int
store_not_understood(struct error *error)
{
	return error_set(
	    error, ERROR_REFUSED, "its answer is JSON, but not what was asked for");
}
