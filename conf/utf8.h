/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether bytes are text.  Pure; any thread. */
#ifndef CONF_UTF8_H
#define CONF_UTF8_H

#include <stdbool.h>
#include <stddef.h>

/* UTF-8 as RFC 3629 has it: no overlong forms, no surrogates, nothing past U+10FFFF. */
bool utf8_is_valid(const char *bytes, size_t length);

#endif
