/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * TLS: what is asked of the other side of an https URL, and what to do about a
 * certificate that will not do.  Within publish/ only.
 */
#ifndef DAEMON_PUBLISH_TLS_H
#define DAEMON_PUBLISH_TLS_H

#include <curl/curl.h>
#include <stdbool.h>

/* `ca_file` "": whoever the system trusts.  False when memory is short. */
bool tls_set(CURL *curl, const char *ca_file, bool trust_anybody);

/* After a request that ended with `code`: "; " and what a person can do; "" when it was
 * not for TLS. */
const char *tls_advice(CURL *curl, CURLcode code);

/* Whether it is for a person to mend: what is trusted, not the network. */
bool tls_refuses(CURLcode code);

#endif
