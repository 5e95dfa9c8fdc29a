/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The dialect of VictoriaMetrics: its export, one document for each series with all values
 * of the span; it holds no strings, so they are labels.  Pure.
 */
#ifndef CLI_SOURCE_VICTORIA_H
#define CLI_SOURCE_VICTORIA_H

#include "cli/source/store_dialect.h"

/* Adds ,name="value" to a selector. */
void victoria_add_label(struct text *selector, const char *name, const char *value);

/* Read a document of an answer, as those of influx.h. */
int victoria_take_shots(void *answered, const json_t *document, struct error *error);
int victoria_take_edge(void *answered, const json_t *document, struct error *error);
int victoria_take_amount(void *answered, const json_t *document, struct error *error);
int victoria_take_lines(void *answered, const json_t *document, struct error *error);
int victoria_take_events(void *answered, const json_t *document, struct error *error);
int victoria_take_shifts(void *answered, const json_t *document, struct error *error);
int victoria_take_channels(void *answered, const json_t *document, struct error *error);

#endif
