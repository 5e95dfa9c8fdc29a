/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_gauge.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/session.h"
#include "cli/csv/csv_table.h"
#include "cli/stats/gauge.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { PARTS, OPERATORS, COLUMNS = 3, NAMES = 512 };

/* Of a gauge that does to judge a process by: so many classes of parts, and no more than this
 * share of the deviation of all measurements (common practice, no source). */
enum { CLASSES_WANTED = 5, PERCENT_MOST = 30 };

struct gauge_case {
	const struct call *call;
	char names[NAMES]; /* of the columns, parted by NULs */
	struct csv_table_asked asked;
	struct csv_table table;
	size_t parts, operators, repeats;
	double *values; /* as gauge_of has them */
};

static enum command_exit
read_names(struct gauge_case *gauge)
{
	const char *given = gauge->call->option[OPTION_GAUGE];
	char *at = gauge->names;

	gauge->asked.column_count = COLUMNS;
	if (!text_copy(gauge->names, sizeof gauge->names, given))
		return command_usage(gauge->call, "'--gauge' is too long");
	for (size_t i = 0; i < COLUMNS; i++) {
		char *comma = strchr(at, ',');
		if (*at == '\0' || *at == ',' || (comma == NULL) != (i == COLUMNS - 1))
			return command_usage(gauge->call,
			    "'--gauge' is '%s', must be PART,OPERATOR,VALUE: the names "
			    "of three columns",
			    given);
		if (comma)
			*comma = '\0';
		gauge->asked.column[i] = at;
		at += strlen(at) + 1;
	}
	return COMMAND_DONE;
}

/* --- every operator, every part, as often ------------------------------------------------- */

static enum command_exit refuse(const struct gauge_case *gauge, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static enum command_exit
refuse(const struct gauge_case *gauge, const char *format, ...)
{
	char sentence[600];
	struct error error;
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence, sizeof sentence, format, arguments);
	va_end(arguments);
	error_set(
	    &error, ERROR_INVALID, "%.200s: %s", gauge->call->argument[0], sentence);
	return command_cannot(gauge->call, &error);
}

/* `seen` counts the values of each part and operator. */
static enum command_exit
check_counts(const struct gauge_case *gauge, const size_t *seen)
{
	const struct csv_table *table = &gauge->table;

	for (size_t cell = 0; cell < gauge->parts * gauge->operators; cell++)
		if (seen[cell] != gauge->repeats)
			return refuse(gauge,
			    "'%.60s' was measured by '%.60s' %zu time%s, and '%.60s' "
			    "by '%.60s' %zu time%s: every operator must measure every "
			    "part as often",
			    table->names[PARTS][cell / gauge->operators],
			    table->names[OPERATORS][cell % gauge->operators],
			    seen[cell], seen[cell] == 1 ? "" : "s",
			    table->names[PARTS][0], table->names[OPERATORS][0],
			    gauge->repeats, gauge->repeats == 1 ? "" : "s");
	return gauge->repeats >= 2 ? COMMAND_DONE
	                           : refuse(gauge, "every part was measured once by "
						   "each operator: at least twice "
						   "is needed");
}

/* Puts the values in the order of parts, operators and repeats. */
static enum command_exit
sort_values(struct gauge_case *gauge, size_t *seen)
{
	const struct csv_table *table = &gauge->table;
	size_t cells = gauge->parts * gauge->operators;
	enum command_exit code;

	for (size_t i = 0; i < table->count; i++)
		seen[table->label[PARTS][i] * gauge->operators +
		     table->label[OPERATORS][i]]++;
	gauge->repeats = seen[0];
	code = check_counts(gauge, seen);
	if (code != COMMAND_DONE)
		return code;
	memset(seen, 0, cells * sizeof *seen);
	for (size_t i = 0; i < table->count; i++) {
		size_t cell = table->label[PARTS][i] * gauge->operators +
		              table->label[OPERATORS][i];
		gauge->values[cell * gauge->repeats + seen[cell]++] = table->values[i];
	}
	return COMMAND_DONE;
}

static enum command_exit
cannot_for_memory(const struct gauge_case *gauge)
{
	struct error error;

	error_set(&error, ERROR_MEMORY, "out of memory");
	return command_cannot(gauge->call, &error);
}

static enum command_exit
arrange(struct gauge_case *gauge)
{
	const struct csv_table *table = &gauge->table;

	gauge->parts = table->name_count[PARTS];
	gauge->operators = table->name_count[OPERATORS];
	for (size_t i = 0; i < table->count; i++)
		if (isnan(table->values[i]))
			return refuse(gauge,
			    "'%.60s' by '%.60s' has no value: the study needs every "
			    "one",
			    table->names[PARTS][table->label[PARTS][i]],
			    table->names[OPERATORS][table->label[OPERATORS][i]]);
	if (gauge->parts < 2 || gauge->operators < 2)
		return refuse(gauge,
		    "%zu part%s and %zu operator%s: two of each are needed at least",
		    gauge->parts, gauge->parts == 1 ? "" : "s", gauge->operators,
		    gauge->operators == 1 ? "" : "s");
	size_t *seen = calloc(gauge->parts * gauge->operators, sizeof *seen);
	gauge->values = calloc(table->count + 1, sizeof *gauge->values);
	enum command_exit code =
	    seen && gauge->values ? sort_values(gauge, seen) : cannot_for_memory(gauge);
	free(seen);
	return code;
}

/* --- the page --------------------------------------------------------------------------------- */

static void
put_terms(struct page *page, const char *key, const struct gauge_terms *terms)
{
	page_open(page, GROUP_OBJECT, key, NULL);
	page_field(page, "part", NULL, cell_number(terms->part, 0));
	page_field(page, "operator", NULL, cell_number(terms->operator_, 0));
	page_field(page, "interaction", NULL, cell_number(terms->interaction, 0));
	page_field(page, "repeat", NULL, cell_number(terms->repeat, 0));
	page_close(page);
}

static void
put_machines(struct page *page, const struct gauge_case *of, const struct gauge *gauge)
{
	double categories = gauge->distinct_categories;

	page_field(page, "column", NULL, cell_words(of->table.title));
	page_field(page, "parts", NULL, cell_count((int64_t)gauge->parts));
	page_field(page, "operators", NULL, cell_count((int64_t)gauge->operators));
	page_field(page, "repeats", NULL, cell_count((int64_t)gauge->repeats));
	put_terms(page, "mean_squares", &gauge->mean_squares);
	put_terms(page, "variances", &gauge->variances);
	page_field(page, "interaction_p", NULL, cell_number(gauge->interaction_p, 0));
	page_field(page, "gauge_sd", NULL, cell_number(gauge->gauge_sd, 0));
	page_field(page, "total_sd", NULL, cell_number(gauge->total_sd, 0));
	page_field(page, "percent_of_total_sd", NULL,
	    cell_number(gauge->percent_of_total_sd, 0));
	page_field(page, "distinct_categories", NULL, cell_number(categories, 0));
}

static void
put_sources(struct page *page, const struct gauge *gauge)
{
	static const struct column columns[] = {
	    {NULL, "where scatter comes from", 0},
	    {NULL, "deviation", 0},
	    {NULL, "% of all", 0},
	};
	const struct gauge_terms *v = &gauge->variances;
	const struct {
		const char *name;
		double variance;
	} rows[] = {
	    {"parts differ", v->part},
	    {"measuring, in all", gauge->gauge_sd * gauge->gauge_sd},
	    {"  repeats by one operator", v->repeat},
	    {"  operators differ", v->operator_},
	    {"  operators differ from part to part", v->interaction},
	    {"all measurements", gauge->total_sd * gauge->total_sd},
	};

	page_table(page, NULL, NULL, columns, COUNT(columns));
	for (size_t i = 0; i < COUNT(rows); i++) {
		char deviation[32];
		double sd = sqrt(rows[i].variance);
		snprintf(deviation, sizeof deviation, "%.4g", sd);
		const struct cell cells[] = {
		    cell_words(rows[i].name),
		    cell_words(deviation),
		    gauge->total_sd > 0 ? cell_number(100 * sd / gauge->total_sd, 1)
					: cell_absent(NULL),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static bool
does(const struct gauge *gauge)
{
	return gauge->percent_of_total_sd <= PERCENT_MOST &&
	       gauge->distinct_categories >= CLASSES_WANTED;
}

static void
put_answer(struct page *page, const char *title, const struct gauge *gauge)
{
	double classes = gauge->distinct_categories;

	if (!(gauge->total_sd > 0))
		page_note(page, NULL, TONE_BAD,
		    "%s: all measurements are the same; nothing can be said of the "
		    "gauge.",
		    title);
	else if (isnan(classes))
		page_note(page, NULL, TONE_STRONG,
		    "%s: repeats and operators agree exactly, so the resolution is too "
		    "coarse to show what measuring adds.",
		    title);
	else
		page_note(page, NULL, does(gauge) ? TONE_GOOD : TONE_BAD,
		    "%s: measuring alone has %.1f %% of the deviation of all "
		    "measurements, and tells %.0f class%s of parts apart: it %s to "
		    "judge a process by (at most %d %% and at least %d classes; common "
		    "practice, no source).",
		    title, gauge->percent_of_total_sd, classes,
		    classes == 1 ? "" : "es", does(gauge) ? "does" : "does not do",
		    PERCENT_MOST, CLASSES_WANTED);
}

static void
put_people(struct page *page, const struct gauge_case *of, const struct gauge *gauge)
{
	put_answer(page, of->table.title, gauge);
	page_note(page, NULL, TONE_PLAIN,
	    "%zu parts, each measured %zu times by each of %zu operators.",
	    gauge->parts, gauge->repeats, gauge->operators);
	put_sources(page, gauge);
	if (!isnan(gauge->interaction_p))
		page_note(page, NULL, TONE_PLAIN,
		    "That operators differ from part to part by chance alone: p %.3f. "
		    "It stays in the model either way; variances below zero count as "
		    "zero. Deviations add up by their squares.",
		    gauge->interaction_p);
}

static void
put_row(struct page *page, const struct gauge_case *of, const struct gauge *gauge)
{
	static const struct column columns[] = {
	    {"column", NULL, 0},
	    {"parts", NULL, 0},
	    {"operators", NULL, 0},
	    {"repeats", NULL, 0},
	    {"variance_part", NULL, 0},
	    {"variance_operator", NULL, 0},
	    {"variance_interaction", NULL, 0},
	    {"variance_repeat", NULL, 0},
	    {"gauge_sd", NULL, 0},
	    {"total_sd", NULL, 0},
	    {"percent_of_total_sd", NULL, 0},
	    {"distinct_categories", NULL, 0},
	};
	const struct cell cells[] = {
	    cell_words(of->table.title),
	    cell_count((int64_t)gauge->parts),
	    cell_count((int64_t)gauge->operators),
	    cell_count((int64_t)gauge->repeats),
	    cell_number(gauge->variances.part, 0),
	    cell_number(gauge->variances.operator_, 0),
	    cell_number(gauge->variances.interaction, 0),
	    cell_number(gauge->variances.repeat, 0),
	    cell_number(gauge->gauge_sd, 0),
	    cell_number(gauge->total_sd, 0),
	    cell_number(gauge->percent_of_total_sd, 0),
	    cell_number(gauge->distinct_categories, 0),
	};

	page_table(page, of->call->command->csv_table, NULL, columns, COUNT(columns));
	page_row(page, cells);
	page_table_end(page);
}

static enum command_exit
study(struct gauge_case *of)
{
	enum command_exit code = arrange(of);

	if (code != COMMAND_DONE)
		return code;
	struct gauge gauge =
	    gauge_of(of->values, of->parts, of->operators, of->repeats);
	struct page *page = command_page(of->call);
	if (!page)
		return COMMAND_CANNOT;
	if (of->call->format == PAGE_JSON)
		put_machines(page, of, &gauge);
	else if (of->call->format == PAGE_CSV)
		put_row(page, of, &gauge);
	else
		put_people(page, of, &gauge);
	return command_end_page(
	    of->call, page, does(&gauge) ? COMMAND_DONE : COMMAND_NO);
}

enum command_exit
capability_gauge_run(const struct call *call)
{
	struct gauge_case gauge = {.call = call};
	const option_set allowed =
	    OPTION_BIT(OPTION_GAUGE) | OPTION_BIT(OPTION_DECIMAL_COMMA);
	enum command_exit code = command_refuse_options(call, "--gauge", allowed);

	gauge.asked.decimal_comma = call->option[OPTION_DECIMAL_COMMA] != NULL;
	if (code == COMMAND_DONE)
		code = read_names(&gauge);
	if (code != COMMAND_DONE)
		return code;
	struct problems *problems = calloc(1, sizeof *problems);
	if (!problems) {
		code = cannot_for_memory(&gauge);
	} else if (!csv_table_read(&gauge.table, call->argument[0], stdin, &gauge.asked,
		       problems)) {
		session_tell_problems(call, problems);
		code = COMMAND_CANNOT;
	} else {
		code = study(&gauge);
	}
	csv_table_release(&gauge.table);
	free(gauge.values);
	free(problems);
	return code;
}
