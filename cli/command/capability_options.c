/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_options.h"

#include <float.h>
#include <math.h>
#include <string.h>

#include "cli/command/number_option.h"
#include "cli/stats/chart_constants.h"
#include "daemon/base/text.h"

enum { WORD = 64 };

/* "0.2,3": two numbers; false when it is anything else. */
static bool
read_pair(const char *given, double *first, double *second)
{
	char word[WORD];
	const char *comma = strchr(given, ',');

	if (!comma || (size_t)(comma - given) >= sizeof word)
		return false;
	text_copy(word, (size_t)(comma - given) + 1, given);
	return text_number(word, first) && text_number(comma + 1, second);
}

static enum command_exit
read_ewma(struct capability_options *options, const struct call *call)
{
	const char *given = call->option[OPTION_EWMA];
	struct ewma_setting *ewma = &options->ewma;

	if (!given)
		return COMMAND_DONE;
	if (!read_pair(given, &ewma->lambda, &ewma->limit))
		return command_usage(call,
		    "'--ewma' is '%s', must be LAMBDA,L: two numbers such as 0.2,3",
		    given);
	if (!(ewma->lambda > 0 && ewma->lambda <= 1))
		return command_usage(call,
		    "'--ewma' has the weight %g, must be above 0 and at most 1",
		    ewma->lambda);
	if (!(ewma->limit > 0))
		return command_usage(
		    call, "'--ewma' has the limit %g, must be above 0", ewma->limit);
	options->asked.ewma = ewma;
	return COMMAND_DONE;
}

static enum command_exit
read_cusum(struct capability_options *options, const struct call *call)
{
	const char *given = call->option[OPTION_CUSUM];
	struct cusum_setting *cusum = &options->cusum;

	if (!given)
		return COMMAND_DONE;
	if (!read_pair(given, &cusum->k, &cusum->h))
		return command_usage(call,
		    "'--cusum' is '%s', must be K,H: two numbers such as 0.5,5", given);
	if (!(cusum->k >= 0) || !(cusum->h > 0))
		return command_usage(call,
		    "'--cusum' is '%s': the slack must be 0 or more, the limit above 0",
		    given);
	options->asked.cusum = cusum;
	return COMMAND_DONE;
}

static enum command_exit
read_rule(unsigned *rules, const struct call *call, const char *word)
{
	const char *names[RUN_RULE_COUNT];
	int rule = run_rule_find(word);

	if (rule >= 0) {
		*rules |= RULE_BIT(rule);
		return COMMAND_DONE;
	}
	for (int i = 0; i < RUN_RULE_COUNT; i++)
		names[i] = run_rule_name((enum run_rule)i);
	const char *near = text_nearest(word, names, RUN_RULE_COUNT);
	if (near)
		return command_usage(
		    call, "unknown rule '%s'; did you mean '%s'?", word, near);
	return command_usage(call,
	    "unknown rule '%s': there are %s, %s, %s, %s, %s, %s, %s, %s, %s; 'all' "
	    "and "
	    "'none'",
	    word, names[0], names[1], names[2], names[3], names[4], names[5], names[6],
	    names[7], names[8]);
}
_Static_assert(RUN_RULE_COUNT == 9, "the sentence names them");

static enum command_exit
read_rules(struct capability_options *options, const struct call *call)
{
	const char *given = call->option[OPTION_RULES];
	enum command_exit code = COMMAND_DONE;

	options->asked.rules = RULES_USUAL;
	if (!given)
		return COMMAND_DONE;
	options->asked.rules = strcmp(given, "all") == 0 ? RULES_ALL : 0;
	if (options->asked.rules || strcmp(given, "none") == 0)
		return COMMAND_DONE;
	for (const char *at = given; code == COMMAND_DONE;) {
		char word[WORD];
		at += strspn(at, " ");
		size_t length = strcspn(at, ",");
		if (length >= sizeof word)
			return command_usage(call, "unknown rule '%s'", at);
		text_copy(word, length + 1, at);
		code = read_rule(&options->asked.rules, call, word);
		if (at[length] == '\0')
			break;
		at += length + 1;
	}
	return code;
}

static enum command_exit
read_subgroup(struct capability_options *options, const struct call *call)
{
	const char *given = call->option[OPTION_SUBGROUP];
	int64_t size;

	if (!given)
		return COMMAND_DONE;
	if (!text_integer(given, &size) || size < CHART_SUBGROUP_LEAST ||
	    size > CHART_SUBGROUP_MOST)
		return command_usage(call,
		    "'--subgroup' is '%s', must be a whole number, %d..%d", given,
		    CHART_SUBGROUP_LEAST, CHART_SUBGROUP_MOST);
	options->asked.subgroup = (size_t)size;
	options->asked.method = STUDY_MEAN_SD;
	return COMMAND_DONE;
}

static const char *const methods[] = {
    [STUDY_INDIVIDUALS] = "individuals",
    [STUDY_MEAN_RANGE] = "mean-range",
    [STUDY_MEAN_SD] = "mean-sd",
};
enum { METHODS = sizeof methods / sizeof methods[0] };

const char *
capability_method(int place)
{
	return place < METHODS ? methods[place] : NULL;
}

static enum command_exit
read_method(struct capability_options *options, const struct call *call)
{
	const char *given = call->option[OPTION_METHOD];
	size_t method = 0;

	if (!given)
		return COMMAND_DONE;
	while (method < METHODS && strcmp(given, methods[method]) != 0)
		method++;
	if (method == METHODS) {
		const char *near = text_nearest(given, methods, METHODS);
		return command_usage(call,
		    "'--method' is '%s', must be individuals, mean-range or "
		    "mean-sd%s%s%s",
		    given, near ? "; did you mean '" : "", near ? near : "",
		    near ? "'?" : "");
	}
	options->asked.method = (enum study_method)method;
	if (method == STUDY_INDIVIDUALS && options->asked.subgroup > 0)
		return command_usage(call,
		    "'--method individuals' has no subgroups: leave '--subgroup' out");
	if (method != STUDY_INDIVIDUALS && options->asked.subgroup == 0)
		return command_usage(call,
		    "'--method %s' needs '--subgroup N': how many values in a row are "
		    "one subgroup?",
		    given);
	return COMMAND_DONE;
}

/* The known centre and deviation: both, or neither. */
static enum command_exit
check_known(const struct call *call, const struct study_asked *asked)
{
	if (isnan(asked->centre) != isnan(asked->sigma))
		return command_usage(call,
		    "'--centre' and '--sigma' go together: give '--%s' too",
		    isnan(asked->centre) ? "centre" : "sigma");
	if (asked->sigma <= 0)
		return command_usage(call, "'--sigma' is %s, must be above 0",
		    call->option[OPTION_SIGMA]);
	return COMMAND_DONE;
}

enum command_exit
capability_options_check_limits(
    const struct call *call, const struct study_asked *asked)
{
	double lower = asked->lower, upper = asked->upper, target = asked->target;

	if (lower >= upper)
		return command_usage(call,
		    "the lower limit %.10g must be below the upper one, %.10g", lower,
		    upper);
	if (asked->zero_bounded && lower <= 0)
		return command_usage(call,
		    "with '--zero-bounded' no value is below 0: leave '--lower' out, "
		    "or give one above 0");
	if (asked->zero_bounded && upper <= 0)
		return command_usage(call,
		    "with '--zero-bounded' no value is below 0: the upper limit %.10g "
		    "must be above 0",
		    upper);
	if (target < lower || target > upper)
		return command_usage(
		    call, "the target %.10g must lie within the limits", target);
	return COMMAND_DONE;
}

enum command_exit
capability_options_read(struct capability_options *options, const struct call *call)
{
	struct study_asked *asked = &options->asked;
	enum command_exit code = COMMAND_DONE;
	struct {
		enum option_id option;
		double *value, low;
	} numbers[] = {
	    {OPTION_LOWER, &asked->lower, -DBL_MAX},
	    {OPTION_UPPER, &asked->upper, -DBL_MAX},
	    {OPTION_TARGET, &asked->target, -DBL_MAX},
	    {OPTION_CENTRE, &asked->centre, -DBL_MAX},
	    {OPTION_SIGMA, &asked->sigma, -DBL_MAX},
	    {OPTION_REQUIRED, &asked->required, 0.1},
	};

	*options = (struct capability_options){0};
	asked->zero_bounded = call->option[OPTION_ZERO_BOUNDED] != NULL;
	for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
		*numbers[i].value = NAN;
		if (code == COMMAND_DONE)
			code = number_option(call, numbers[i].option, numbers[i].low,
			    numbers[i].low > 0 ? 10 : DBL_MAX, numbers[i].value);
	}
	if (code == COMMAND_DONE)
		code = check_known(call, asked);
	if (code == COMMAND_DONE)
		code = capability_options_check_limits(call, asked);
	if (code == COMMAND_DONE)
		code = read_subgroup(options, call);
	if (code == COMMAND_DONE)
		code = read_method(options, call);
	if (code == COMMAND_DONE)
		code = read_rules(options, call);
	if (code == COMMAND_DONE)
		code = read_ewma(options, call);
	return code == COMMAND_DONE ? read_cusum(options, call) : code;
}
