/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The dialect of the InfluxDB family: InfluxQL over /query, which all of them answer,
 * one document for some hundred rows.  Pure.
 */
#ifndef CLI_SOURCE_INFLUX_H
#define CLI_SOURCE_INFLUX_H

#include "cli/source/store_dialect.h"

/* Adds `value` between quotes: ' for a text, " for a name. */
void influx_quote(struct text *statement, char quote, const char *value);

/*
 * Read a document of an answer; `answered` is a struct answered.  ERROR_NOT_FOUND: there is
 * no such data base, which is told inside a good answer; ERROR_REFUSED: another trouble, or
 * it is something else; ERROR_FULL: more than fits.
 */
int influx_take_shots(void *answered, const json_t *document, struct error *error);
int influx_take_absences(void *answered, const json_t *document, struct error *error);
int influx_take_edge(void *answered, const json_t *document, struct error *error);
int influx_take_amount(void *answered, const json_t *document, struct error *error);
int influx_take_lines(void *answered, const json_t *document, struct error *error);
int influx_take_events(void *answered, const json_t *document, struct error *error);
int influx_take_shifts(void *answered, const json_t *document, struct error *error);
int influx_take_channels(void *answered, const json_t *document, struct error *error);

#endif
