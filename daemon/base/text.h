/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Strings: a growing buffer with a maximum, strict numbers, near names.
 *
 * Numbers are read and written in the C locale always.  No locking: one buffer
 * belongs to one thread.
 */
#ifndef DAEMON_BASE_TEXT_H
#define DAEMON_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct text {
	char *bytes; /* NUL-terminated; NULL while empty and never grown */
	size_t length, room, maximum;
	bool failed; /* no memory, or past the maximum: what was added since is lost */
};

/* `maximum` bytes at most, the NUL among them. */
void text_init(struct text *text, size_t maximum);
void text_release(struct text *text);
void text_clear(struct text *text);
void text_add(struct text *text, const char *bytes, size_t length);
void text_puts(struct text *text, const char *string);
void text_printf(struct text *text, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Copies with the NUL, cut to fit; true when nothing was cut. */
bool text_copy(char *to, size_t room, const char *from);

/* The whole string as a number, blanks around it allowed; false otherwise.
 * text_number refuses what is not finite. */
bool text_number(const char *string, double *value);
bool text_integer(const char *string, int64_t *value);

/* The fewest digits that read back as the same double, 17 at most, in the C locale:
 * "0.1", "1e-05"; always a digit on both sides of a point.  `room` 32 fits all.  The
 * length. */
size_t text_from_number(double value, char *to, size_t room);

/* For people: "2 h 11 min", "3 min 20 s", "1.5 s". */
enum { TEXT_DURATION = 32 };
void text_from_duration(int64_t ns, char to[static TEXT_DURATION]);

/*
 * The nearest of `count` names: the one that differs in capitals alone, the one that
 * `wrong` is a prefix of (3 letters or more), or at an edit distance of 2 at most that leaves a letter of it; NULL
 * when none is near.
 */
const char *text_nearest(const char *wrong, const char *const *names, size_t count);

/* FNV-1a, 64 bits: an identity for texts that are stored whole beside it, not
 * a defence.  Fowler, Noll, Vo; parameters as in the IETF draft. */
uint64_t text_hash(const char *bytes, size_t length);

#endif
