/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pictures of a trend: the index and the mean, shift by shift. */
#ifndef CLI_REPORT_REPORT_TREND_PICTURE_H
#define CLI_REPORT_REPORT_TREND_PICTURE_H

#include "cli/report/report_trend.h"

/* 0, or ERROR_MEMORY. */
int report_trend_picture_put(const struct report_trend *report, struct error *error);

#endif
