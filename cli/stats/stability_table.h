/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What independent normal series reach by chance in one of sixty (c: of two
 * hundred).  Made by tests/reference/stability_table.c: seed 20261127, 600000
 * series of each length.
 */
#ifndef CLI_STATS_STABILITY_TABLE_H
#define CLI_STATS_STABILITY_TABLE_H

#include <stddef.h>

/* k and L less what k is with a known mean and deviation; c itself. */
static const struct stability_row {
	size_t n;
	double k, L, c;
} stability_rows[] = {
    {20, 0.0049, -0.1718, 1.4603},
    {24, 0.0116, -0.1724, 1.4911},
    {29, 0.0214, -0.1624, 1.5202},
    {35, 0.0213, -0.1434, 1.5451},
    {42, 0.0243, -0.1293, 1.5647},
    {50, 0.0229, -0.1146, 1.5854},
    {60, 0.0262, -0.0946, 1.6020},
    {72, 0.0220, -0.0904, 1.6173},
    {103, 0.0205, -0.0748, 1.6435},
    {149, 0.0186, -0.0516, 1.6577},
    {215, 0.0147, -0.0455, 1.6747},
    {310, 0.0094, -0.0384, 1.6867},
    {446, 0.0084, -0.0401, 1.6981},
    {642, 0.0088, -0.0394, 1.7057},
    {925, 0.0062, -0.0345, 1.7071},
    {1332, 0.0028, -0.0322, 1.7154},
    {2000, 0.0026, -0.0270, 1.7167},
    {2880, 0.0055, -0.0291, 1.7154},
};

/* Up to so many values a run of STABILITY_RUN_LEAST, one more ... is seldom enough. */
enum { STABILITY_RUN_LEAST = 9 };
static const size_t stability_longest[] = {27, 41, 65, 107, 185, 335, 623, 1185, 2288};

#endif
