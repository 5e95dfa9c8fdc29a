# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it is about what is asked and answered.
"""Every query of contrib/dashboard, put to a real InfluxDB that a real daemon has filled with a
month of three lines: each answer must be what SQL says of the ledger."""

import collections
import sys

import dashboards
import influx
import reckoned_panels
from dashboards import Choice
from month import DAYS, END_S, S, TOLD_S, Month, Told

MONTH = ((END_S - DAYS * 86400) * S, END_S * S)
ALWAYS = (0, 2 * END_S * S)
# Days of a tool that was entered late, of a logger that was away, and the last hours.
DAY = ((END_S - 12 * 86400 + 3 * 3600) * S, (END_S - 11 * 86400 + 3 * 3600) * S)
AWAY = ((END_S - 13 * 86400) * S, (END_S - 12 * 86400) * S - 1)
NIGHT = ((END_S - TOLD_S) * S, END_S * S)
PART = ((END_S - TOLD_S + 1805) * S, (END_S - 7000) * S)

CHOICES = {
    "evensoak-shifts": (
        Choice(MONTH, 1800),
        Choice(MONTH, 1800, line=["line-4"]),
        Choice(DAY, 300, line=["line-3", "line-5"], shift=["early"], recipe=["12"])),
    "evensoak-day": (
        Choice(DAY, 300),
        Choice(DAY, 300, line=["line-4"], outcome=["complete"]),
        Choice(AWAY, 60, line=["line-5"], outcome=["complete", "timer_release"]),
        Choice(NIGHT, 60)),
    "evensoak-logger": (
        Choice(NIGHT, 300),
        Choice(NIGHT, 120, line=["line-4"], host=["pc-line-5"]),
        Choice(PART, 600, line=["line-3", "line-4"])),
}


def one(store, ledger, board, key, text):
    """Puts one query; how many values came back.  The answer must be the ledger's."""
    wanted = reckoned_panels.ANSWERS[key[0]][key[1]][key[2]](ledger)
    asked = ledger.choice.expand(board, text)
    if key[1] == "variable":
        found = {row[1] for series in store.query(asked, "plant") for row in series["values"]}
    else:
        found = dashboards.asked(store, "plant", asked)
    wrong = reckoned_panels.same(found, wanted)
    assert wrong is None, f"{key} {ledger.choice.chosen}: {wrong}\n{asked}"
    if isinstance(wanted, set):
        return len(wanted)
    return sum(value is not None for rows in wanted.values() for row in rows
               for value in row[1:])


def choices_of(board, title, choice, ledger_of):
    """The choice, or one for each value that the panel's row is repeated for."""
    variable = dashboards.repeated(board, title)
    if variable is None:
        return [choice]
    values = sorted({row[variable] for row in ledger_of(choice).figures()})
    assert values, f"{title} is drawn for nothing"
    return [Choice((choice.begin, choice.end), choice.interval_s,
                   **{**choice.chosen, variable: [value]}) for value in values]


def of_board(board, month, told):
    """Values compared, by query."""
    def ledger_of(choice):
        return reckoned_panels.Ledger(month.ledger, told, choice)

    counts = collections.Counter()
    for key, text in dashboards.queries(board):
        if key[1] == "variable":  # values of all times
            counts[key] += one(month.store, ledger_of(Choice(ALWAYS, 60)), board, key, text)
            continue
        for choice in CHOICES[board["uid"]]:
            for each in choices_of(board, key[1], choice, ledger_of):
                counts[key] += one(month.store, ledger_of(each), board, key, text)
    return counts


def every_query_has_a_check(found):
    asked = {key for board in found.values() for key, _ in dashboards.queries(board)}
    reckoned = {(uid, title, ref) for uid, panels in reckoned_panels.ANSWERS.items()
                for title, refs in panels.items() for ref in refs}
    assert asked == reckoned, f"without a check or a query: {sorted(asked ^ reckoned)}"


def none_counts_twice(month):
    """There are earlier revisions in the store, so that a query that counts them is found."""
    for measurement, field in (("shot", "shot_no"), ("shift", "n"), ("shift_total", "shots")):
        series = month.store.query(f'SELECT count("{field}") FROM "{measurement}" WHERE '
                                   '"superseded" = 1', "plant")
        count = sum(row[1] for each in series for row in each["values"])
        assert count > 5, f"{measurement}: {count} were superseded"


def the_hotter_line_is_found(month):
    """In each shift since, and in none before: findings would else be drawn from nothing."""
    since = (END_S - DAYS * 86400 // 3) * S
    rows = month.query("SELECT from_at, findings FROM shift_total JOIN line ON line.id = line "
                       "WHERE name = 'line-4' AND superseded IS NULL AND findings IS NOT NULL")
    found = {after: {row["findings"] for row in rows if (row["from_at"] >= since) == after}
             for after in (False, True)}
    assert found == {False: {0}, True: {1}}, found


def main():
    assert dashboards.is_as_made(), "contrib/dashboard/make.py has to be run"
    found = dashboards.boards()
    assert found.keys() == CHOICES.keys(), found.keys()
    wrong = [fault for board in found.values() for fault in dashboards.faults(board)]
    assert not wrong, "\n".join(wrong)
    every_query_has_a_check(found)
    if not influx.available():
        print("no influxd here")
        return 77
    told = Told()
    with influx.Influx() as store, Month(store) as month:
        store.create_database("plant")
        month.make()
        month.deliver()
        told.post(store)
        none_counts_twice(month)
        the_hotter_line_is_found(month)
        for board in found.values():
            counts = of_board(board, month, told)
            empty = {key for key, _ in dashboards.queries(board) if not counts[key]}
            assert not empty, f"nothing was compared: {empty}"
            print(f"{board['uid']}: {len(counts)} queries, {sum(counts.values())} values as "
                  "the ledger has them")
    return 0


if __name__ == "__main__":
    sys.exit(main())
