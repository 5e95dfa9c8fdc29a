/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/answer.h"

#include <assert.h>

const char *
answer_text(enum answer answer)
{
	static const char *const words[] = {
	    [ANSWER_GOOD] = "good",
	    [ANSWER_ILLEGAL] = "illegal",
	    [ANSWER_BUSY] = "busy",
	    [ANSWER_FAULT] = "fault",
	    [ANSWER_GATEWAY] = "gateway",
	    [ANSWER_NONE] = "none",
	    [ANSWER_WRONG] = "wrong",
	    [ANSWER_LOST] = "lost",
	    [ANSWER_UNASKED] = "unasked",
	};

	assert(answer <= ANSWER_UNASKED);
	return words[answer];
}

bool
answer_is_silence(enum answer answer)
{
	switch (answer) {
	case ANSWER_GOOD:
	case ANSWER_ILLEGAL:
	case ANSWER_BUSY:
	case ANSWER_FAULT:
		return false;
	case ANSWER_GATEWAY:
	case ANSWER_NONE:
	case ANSWER_WRONG:
	case ANSWER_LOST:
	case ANSWER_COUNT:
		break;
	}
	return true;
}
