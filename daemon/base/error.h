/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Expected trouble: a code to return and a sentence for a person.
 *
 * A function that can fail returns 0 or one of the negative codes below, and
 * writes the sentence into the caller's buffer; on success the buffer is not
 * touched, so calls chain with ||.  Sentences: lower case, no full stop, the
 * subject in single quotes, what failed first, then why, then what to do.
 * Whatever is put into one, it is one line that steers no terminal (utf8_make_plain).
 * No locking: one buffer belongs to one thread.
 */
#ifndef DAEMON_BASE_ERROR_H
#define DAEMON_BASE_ERROR_H

enum error_code {
	ERROR_INVALID = -1,   /* the input cannot be meant */
	ERROR_MEMORY = -2,    /* out of memory, or past a stated bound */
	ERROR_IO = -3,        /* the system or a device refused */
	ERROR_NOT_FOUND = -4, /* what was asked for is not there */
	ERROR_TOO_NEW = -5,   /* written by a later version */
	ERROR_BUSY = -6,      /* somebody else holds it; later it may work */
	ERROR_FULL = -7,      /* no space left */
	ERROR_TIMEOUT = -8,   /* no answer in time */
	ERROR_REFUSED = -9,   /* the other side answered: no */
	ERROR_DAMAGED = -10,  /* what is on file cannot be as it was written */
};

struct error {
	char text[512];
};

/* Sets the sentence; returns `code`, so that `return error_set(...)` reads well.
 * `error` may be NULL.  A sentence too long is cut. */
int error_set(struct error *error, enum error_code code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Puts "<prefix>: " before the sentence there is; returns `code`. */
int error_prefix(struct error *error, enum error_code code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
