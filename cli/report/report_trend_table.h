/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A trend's points as a table: a row of each shift and lot, what changed between them. */
#ifndef CLI_REPORT_REPORT_TREND_TABLE_H
#define CLI_REPORT_REPORT_TREND_TABLE_H

#include "cli/report/report_trend.h"

void report_trend_table_put(const struct report_trend *report);

#endif
