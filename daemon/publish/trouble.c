/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/trouble.h"

#include <string.h>

static const char *const words[TROUBLE_COUNT] = {
    [TROUBLE_NONE] = "ok",
    [TROUBLE_UNREACHABLE] = "unreachable",
    [TROUBLE_SILENT] = "silent",
    [TROUBLE_BUSY] = "busy",
    [TROUBLE_FAILING] = "failing",
    [TROUBLE_LEDGER] = "ledger",
    [TROUBLE_UNKEPT] = "unkept",
    [TROUBLE_LOGIN] = "login",
    [TROUBLE_RIGHTS] = "rights",
    [TROUBLE_MISSING] = "missing",
    [TROUBLE_CERTIFICATE] = "certificate",
    [TROUBLE_SECRET] = "secret",
    [TROUBLE_ADDRESS] = "address",
    [TROUBLE_FULL] = "full",
    [TROUBLE_REFUSES] = "refuses",
};

const char *
trouble_word(enum trouble trouble)
{
	return words[trouble];
}

enum trouble
trouble_of_word(const char *word)
{
	for (int i = 0; i < TROUBLE_COUNT; i++)
		if (strcmp(words[i], word) == 0)
			return (enum trouble)i;
	return TROUBLE_COUNT;
}

enum trouble
trouble_of_status(int status)
{
	switch (status) {
	case 401:
		return TROUBLE_LOGIN;
	case 403:
		return TROUBLE_RIGHTS;
	case 404:
		return TROUBLE_MISSING;
	case 408:
	case 429:
	case 503:
		return TROUBLE_BUSY;
	default:
		return status >= 500 ? TROUBLE_FAILING : TROUBLE_ADDRESS;
	}
}

bool
trouble_holds(enum trouble trouble)
{
	return trouble >= TROUBLE_LOGIN && trouble < TROUBLE_COUNT;
}
