# SPDX-License-Identifier: GPL-3.0-or-later
"""Every answer that a store can give, to a real daemon with a ledger that was filled before.

Each class of answers is a scripted store of each kind that can give it (servers/stores.py),
all of them stores of one logger.  In the end every store has everything that it did not
refuse, and what it refused stands in the ledger with its words: nothing is lost.  What the
sender did is printed as a table.

A store that lies about success is a real one behind a proxy that lies: `evensoak status
--verify` must find it, `evensoak resend` must put it right.
"""

import concurrent.futures
import email.utils
import json
import re
import sys
import time

import delivered
import influx
import victoria
from influx import Influx
from logger import Logger, section
from plant import wait_for
from servers import stores
from servers.proxy import Proxy
from victoria import Victoria

SHOTS, BATCH_LINES, TIMEOUT_S = 8, 300, 1
BAD = "ovens.zone_top_7"  # the points of this channel are refused, one a shot
INFLUX = ("influxdb1", "influxdb2", "influxdb3")


def refuses(line):
    return "the tap is shut" if f"channel={BAD},".encode() in line else None


def in_two_seconds():
    return email.utils.formatdate(time.time() + 3, usegmt=True)


class Case:
    """A class of answers; `healed`: it lasts until somebody puts it right."""

    def __init__(self, name, script=(), always=None, kinds=stores.KINDS, bad=False,
                 pause_s=0.0, status=None, state=None):
        """`pause_s`: it has to wait for so long after the first failure; `state`: what
        `status` has to say meanwhile."""
        self.name, self.script, self.always, self.kinds = name, script, always, kinds
        self.bad, self.pause_s, self.status, self.state = bad, pause_s, status, state


def cases():
    answers = stores.answers
    word = '{"error":"not now"}'
    return [
        Case("204"),
        Case("400 bad lines", kinds=INFLUX, bad=True),
        Case("422 bad lines", kinds=("influxdb2",), bad=True, status=422),
        Case("401 until healed", always=answers(401, word), state="login"),
        Case("403 until healed", always=answers(403, word), state="rights"),
        Case("404 until healed", always=answers(404, word), state="missing"),
        Case("408", [answers(408, word)]),
        Case("413 over 20 kB", always=stores.at_most(20000)),
        Case("429 for 2 s", [answers(429, word, Retry_After="2")], pause_s=2),
        Case("429 until a date", [answers(429, word, Retry_After=in_two_seconds)], pause_s=2),
        Case("500 until healed", always=answers(500, word), state="failing"),
        Case("500 for one line", always=stores.chokes(f"channel={BAD},".encode()),
             state="failing"),
        Case("502", [answers(502, "<html>bad gateway</html>")]),
        Case("503 for 2 s", [answers(503, word, Retry_After="2")], pause_s=2),
        Case("503 twice", [answers(503, word)] * 2),
        Case("504 but kept", [answers(504, word, keeps=True)]),
        Case("no answer but kept", [stores.silent(TIMEOUT_S + 0.5, True)]),
        Case("no answer", [stores.silent(TIMEOUT_S + 0.5, False)]),
        Case("reset but kept", [stores.resets(True)]),
        Case("reset", [stores.resets(False)]),
        Case("half an answer", [stores.half()]),
        Case("slow", [stores.slow(TIMEOUT_S * 0.4)] * 2),
    ]


class Trial:
    """A case with one kind of store."""

    def __init__(self, number, case, kind):
        self.case, self.kind = case, kind
        self.name = f"s{number}-{kind}"
        self.store = stores.Store(
            kind, user="logger" if kind == "influxdb1" else None,
            secret=None if kind == "victoriametrics" else "s3cret",
            script=case.script, always=case.always, refuses=refuses if case.bad else None,
            refusal=case.status)
        self.said = []  # its state in `status`, in the course of time

    def section(self, secret):
        more = {"batch_lines": BATCH_LINES, "timeout_s": TIMEOUT_S, "settle_s": 0}
        if self.kind == "influxdb1":
            more.update(user="logger", password_file=secret)
        elif self.kind != "victoriametrics":
            more["token_file"] = secret
        return section(self.name, self.kind, self.store.url, **more)

    def pauses(self):
        """Seconds between the first requests that were not answered well and the next."""
        requests = self.store.requests
        return [after.at - one.at for one, after in zip(requests, requests[1:])
                if one.fault is not None and one.status != 204][:5]

    def row(self, refused, lost):
        requests = [r for r in self.store.requests if r.lines]
        failed = sum(1 for r in requests if r.fault is not None and r.status != 204)
        pauses = " ".join(f"{pause:.1f}" for pause in self.pauses())
        return (f"{self.case.name:18} {self.kind:15} {len(requests):8} {failed:6} "
                f"{pauses or '-':19} {self.store.twice:6} {refused:7} {lost:4}  "
                f"{', '.join(self.said)}")


HEAD = (f"{'answer':18} {'kind':15} requests failed {'pauses s':19} {'again':>6} refused lost"
        "  status")


def look(logger, trials):
    """Notes the state of each store."""
    code, told, wrong = logger.evensoak("status", "--format", "json")
    if not told:
        return
    states = {row["subject"]: row["state"] for row in json.loads(told)["health"]}
    for trial in trials:
        state = states.get("store " + trial.name)
        if state is not None and trial.said[-1:] != [state]:
            trial.said.append(state)
    assert code == 1, (code, wrong)  # there is always something wrong here


def judge(logger, trial):
    """Nothing lost, nothing wrong, and the sender did as it was told."""
    refusals = logger.query("SELECT * FROM refusal WHERE destination = ?", trial.name)
    assert not trial.store.complaints, (trial.name, trial.store.complaints)
    if trial.case.bad:
        bad = {row["line"] for row in refusals}
        assert len(bad) == len(refusals) > SHOTS // 2, (trial.name, len(refusals))
        assert all(f"channel={BAD}," in line for line in bad), bad
        assert all("the tap is shut" in row["answer"] for row in refusals), refusals
    else:
        assert not refusals, (trial.name, refusals)
    delivered.check(logger.ledger, trial.store, trial.kind, trial.name,
                    without=BAD if trial.case.bad else None)
    if trial.case.pause_s:
        assert trial.pauses()[0] >= trial.case.pause_s * 0.99, trial.pauses()
    one, again = trial.store.requests[:2]
    if trial.case.script and trial.case.name != "slow":  # the same batch again
        assert one.lines == again.lines, (trial.name, one.lines, again.lines)
    if trial.case.state is not None:
        assert trial.case.state in trial.said, (trial.name, trial.said)
    assert trial.said[-1] in ("ok", "refusing"), (trial.name, trial.said)
    lost = delivered.missing(logger.ledger, trial.store, trial.kind, trial.name)
    print(trial.row(len(refusals), lost - len(refusals)))


def the_judge_sees(logger, trial):
    """One value, one point, one point too many: each makes delivered.check fail."""
    points = trial.store._points
    key = next(key for key in points if key[0] == "shot_channel" and "mean" in points[key])
    stranger = (key[0], key[1][:-1] + (("revision", "1"),), key[2])
    whole = dict(points[key])
    for spoil, mend in (
            (lambda: points[key].update(mean=whole["mean"] + 1e-9), lambda: None),
            (lambda: points.pop(key), lambda: None),
            (lambda: points.update({stranger: whole}), lambda: points.pop(stranger))):
        spoil()
        try:
            delivered.check(logger.ledger, trial.store, trial.kind, trial.name)
        except AssertionError:
            pass
        else:
            raise AssertionError("the judge is blind")
        mend()
        points[key] = dict(whole)
    delivered.check(logger.ledger, trial.store, trial.kind, trial.name)


def scripted():
    trials = [Trial(number, case, kind) for number, case in enumerate(cases())
              for kind in case.kinds]
    with Logger() as logger:
        secret = logger.secret("secret", "s3cret")
        logger.write("".join(trial.section(secret) for trial in trials))
        logger.fill(SHOTS)
        logger.start()
        healing = [trial for trial in trials if trial.case.state is not None]
        began = time.monotonic()
        while time.monotonic() < began + 50 and not all(
                logger.delivered(trial.name) >= logger.newest() for trial in trials):
            time.sleep(0.4)
            look(logger, trials)
            if all(trial.case.state in trial.said for trial in healing):
                for trial in healing:
                    trial.store.always = None
        wait_for("status to say that all is well", lambda: look(logger, trials) or all(
            trial.said[-1] in ("ok", "refusing") for trial in trials), 10)
        _, told, _ = logger.evensoak("status")
        for trial in trials:
            assert trial.case.bad == (f"store {trial.name} has refused" in told), told
        logger.stop()
        assert "s3cret" not in logger.log("daemon.log")
        print(HEAD)
        for trial in trials:
            judge(logger, trial)
            if trial.case.name == "204":
                the_judge_sees(logger, trial)
            trial.store.close()


def lied_to(make, kind):
    """A store that says 204 and keeps nothing, for its first five requests."""
    with make() as store:
        store.create_database("plant")
        proxy = Proxy(store.port)
        proxy.lies = 5
        stores_part = section("liar", kind, proxy.url, query_url=store.url,
                              batch_lines=BATCH_LINES, settle_s=0)
        with Logger(stores=stores_part) as logger:
            logger.fill(SHOTS * 3)
            logger.start()
            logger.wait_delivered("liar")
            assert proxy.lies == 0
            store.settle()
            code, told, wrong = logger.evensoak("status", "--verify")
            lines = [line.strip() for line in told.splitlines() if "liar" in line]
            print(f"{kind} that lied:", " / ".join(lines))
            assert code == 1 and "liar took and has not: " in told, (code, told, wrong)
            resend = re.search(r"'evensoak (resend liar [^']*)'", told)[1].split()
            code, told, wrong = logger.evensoak(*resend)
            assert code == 0, (code, told, wrong)
            wait_for("the cursor to be set back", lambda: logger.delivered("liar")
                     < logger.newest())
            logger.wait_delivered("liar")
            logger.stop()
            store.settle()
            code, told, wrong = logger.evensoak("status", "--verify")
            assert "liar took and has not" not in told, (code, told, wrong)
            print(f"{kind} after {' '.join(resend)}: equal:",
                  delivered.check(logger.ledger, store, kind, "liar"))
        proxy.close()


def main():
    if not influx.available() or not victoria.available():
        print("no influxd or no victoria-metrics here")
        return 77
    # They wait most of the time.
    with concurrent.futures.ThreadPoolExecutor() as pool:
        for done in [pool.submit(scripted), pool.submit(lied_to, Influx, "influxdb1"),
                     pool.submit(lied_to, Victoria, "victoriametrics")]:
            done.result()
    return 0


if __name__ == "__main__":
    sys.exit(main())
