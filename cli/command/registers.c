/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <signal.h>
#include <time.h>

#include "cli/command/progress.h"
#include "cli/command/registers_ask.h"
#include "cli/command/registers_bus.h"
#include "cli/command/registers_survey.h"
#include "cli/command/registers_units.h"
#include "cli/command/registers_view.h"
#include "cli/command/session.h"
#include "daemon/base/error.h"

/* A survey's port: the bus, and who waits is told how far it is. */
struct asking {
	struct registers_bus *bus;
	const struct survey *survey;
	struct progress *progress;
};

static enum answer
read_and_tell(
    void *arg, const struct read_block *block, uint16_t *words, struct error *error)
{
	const struct asking *asking = arg;
	const struct survey *survey = asking->survey;
	uint32_t done = 0;

	for (uint32_t i = 0; i < survey->count; i++)
		done += survey->registers[i].state != SURVEY_OPEN;
	if (survey->readings > 0)
		progress_tell(
		    asking->progress, "%u readings ...", (unsigned)survey->readings);
	else
		progress_tell(asking->progress, "asked %u of %u, request %u ...",
		    (unsigned)done, (unsigned)survey->count,
		    (unsigned)survey->requests);
	return registers_bus_read(asking->bus, block, words, error);
}

/* A second from the start of one reading to that of the next; whether a signal says to
 * end. */
static bool
wait_for_next(const sigset_t *signals, struct timespec *next)
{
	struct timespec now, left;

	next->tv_sec++;
	clock_gettime(CLOCK_MONOTONIC, &now);
	left.tv_sec = next->tv_sec - now.tv_sec;
	left.tv_nsec = next->tv_nsec - now.tv_nsec;
	if (left.tv_nsec < 0) {
		left.tv_sec--;
		left.tv_nsec += 1000000000;
	}
	if (left.tv_sec < 0) {
		*next = now;
		left = (struct timespec){0, 0};
	}
	return sigtimedwait(signals, NULL, &left) > 0;
}

/* The readings after the first; Ctrl-C ends them, and what was seen is shown. */
static enum answer
read_again(const struct registers_ask *ask, struct survey *survey,
    const struct survey_port *port, struct error *error)
{
	enum answer answer = ANSWER_GOOD;
	struct timespec next;
	sigset_t signals, before;

	sigemptyset(&signals);
	sigaddset(&signals, SIGINT);
	sigaddset(&signals, SIGTERM);
	sigaddset(&signals, SIGHUP);
	pthread_sigmask(SIG_BLOCK, &signals, &before);
	clock_gettime(CLOCK_MONOTONIC, &next);
	while (answer == ANSWER_GOOD && survey->block_count > 0 &&
	       survey->readings < ask->again && !wait_for_next(&signals, &next))
		answer = survey_again(survey, port, error);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	return answer;
}

static enum command_exit
show(const struct call *call, const struct registers_ask *ask,
    const struct survey *survey, double slowest_s, enum answer answer,
    const struct error *error)
{
	enum command_exit code = answer == ANSWER_GOOD && survey->block_count > 0
	                             ? COMMAND_DONE
	                             : COMMAND_NO;
	struct page *page = command_page(call);

	if (!page)
		return COMMAND_CANNOT;
	registers_view_put(page, ask, survey, slowest_s);
	page_field(page, "trouble", NULL,
	    cell_words(answer == ANSWER_GOOD ? NULL : error->text));
	if (answer != ANSWER_GOOD)
		page_note(page, NULL, TONE_BAD, "it stopped: %s", error->text);
	return command_end_page(call, page, code);
}

static enum command_exit
survey_and_show(const struct call *call, const struct registers_ask *ask,
    struct registers_bus *bus, struct survey *survey)
{
	struct asking asking = {
	    bus, survey, progress_start(call->err, PROGRESS_AFTER_S)};
	const struct survey_port port = {read_and_tell, &asking};
	enum answer answer;
	struct error error = {.text = ""};

	for (int i = 0; i < ask->device.hole_count; i++)
		survey_bar(survey, &ask->device.holes[i]);
	answer = survey_run(survey, &port, &error);
	if (answer == ANSWER_GOOD)
		answer = read_again(ask, survey, &port, &error);
	progress_end(asking.progress);
	if (answer != ANSWER_GOOD)
		registers_bus_advise(bus, answer, &error);
	if (answer != ANSWER_GOOD && survey->block_count == 0) {
		error_prefix(&error, ERROR_IO, "unit %d at %s", ask->device.unit_id,
		    ask->bus.name);
		return command_cannot(call, &error);
	}
	return show(call, ask, survey, bus->slowest_s, answer, &error);
}

/* On a serial line late answers are waited for, after what there is to say is said. */
static void
end_bus(const struct call *call, struct registers_bus *bus)
{
	struct progress *progress = NULL;

	fflush(call->out);
	fflush(call->err);
	if (bus->link)
		progress = progress_start(call->err, PROGRESS_AFTER_S);
	progress_tell(progress, "waiting until no late answer can come any more ...");
	registers_bus_release(bus);
	progress_end(progress);
}

static enum command_exit
run_on(const struct call *call, const struct settings *settings)
{
	struct registers_ask ask;
	struct registers_bus bus = {0};
	struct survey survey = {0};
	struct error error;
	enum command_exit code = registers_ask_read(&ask, call, settings);

	if (code != COMMAND_DONE)
		return code;
	if (registers_bus_init(&bus, &ask.bus, &ask.device) &&
	    survey_init(&survey, ask.table, ask.first, ask.count,
		(uint32_t)ask.device.max_registers)) {
		code = ask.unit_last > 0 ? registers_units_run(call, &ask, &bus)
		                         : survey_and_show(call, &ask, &bus, &survey);
	} else {
		error_set(&error, ERROR_MEMORY, "out of memory");
		code = command_cannot(call, &error);
	}
	survey_release(&survey);
	end_bus(call, &bus);
	return code;
}

static enum command_exit
run_on_set_up(const struct call *call, const struct session *session)
{
	return run_on(call, session->settings);
}

static enum command_exit
run_registers(const struct call *call)
{
	if (call->option[OPTION_DEVICE])
		return session_run_set_up(call, run_on_set_up);
	return run_on(call, NULL);
}

static const struct option_help help[] = {
    {OPTION_DEVICE, "a device of the set-up; else --address or --port"},
    {OPTION_UNIT, "the Modbus unit id; the device's, else 1; 1..32: who answers?"},
    {0, NULL},
};

const struct command command_registers = {
    .name = "registers",
    .arguments = "",
    .summary = "for mapping a device: its registers, and all that they could mean",
    .details =
	"Reads a block and shows each register as every number it could be:\n"
	"signed, scaled, with the next one as a float or a whole number in the\n"
	"four orders of bytes. Compare with the device's display: what falls into\n"
	"--expect is marked, without it what is likely by a rule of thumb. Of\n"
	"marks that share a register one is wrong. --again tells live measures\n"
	"from settings: those move. Registers that the device has not are found\n"
	"by halving the block, in 500 requests at most. Addresses are those of\n"
	"the wire, from 0; where a document counts from 1, address 100 is its\n"
	"register 101, or 40101. --count 1 looks at one register and writes the\n"
	"lines of its channel.\n\n"
	"--unit 1..32 asks each of them for one register and lists who answers.\n"
	"Reads only (functions 1 to 4), beside the daemon, over a connection of\n"
	"its own. Exit 1: nothing is there, or it stopped half way; 3: no answer,\n"
	"or none that says what there is (a device that stays busy).",
    .options = REGISTERS_ASK_OPTIONS,
    .csv_table = "registers",
    .help = help,
    .run = run_registers,
};
