# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it is about words, and a shell waits only so long for slow programs.
"""The manual and what shells complete, against what the programs say themselves: the
same options in --help, page, bash and zsh; every setting of the examples; every table and
column of a real ledger; the page's own examples tried."""

import glob
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile

import shells
from plant import BUILD, program

MAN = os.path.join(BUILD, "man")
COMPLETION = os.path.join(BUILD, "completion")
SHELLS = {"bash": shells.bash, "zsh": shells.zsh}


def output(*command, code=0):
    done = subprocess.run(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, text=True, timeout=60, check=False)
    assert done.returncode == code, done
    return done.stdout


def pages():
    return sorted(glob.glob(os.path.join(MAN, "man*", "*")))


def page(name):
    return os.path.join(MAN, "man" + name[-1], name)


def source(name):
    with open(page(name), encoding="utf-8") as file:
        return file.read()


def shown(name, text=None):
    """The page as a reader sees it, without bold and underline."""
    done = subprocess.run(["mandoc", "-T", "utf8", "-O", "width=120"], text=True, timeout=60,
                          input=source(name) if text is None else text,
                          stdout=subprocess.PIPE, check=True)
    return re.sub(".\b", "", done.stdout)


def parts(text, indent):
    """{heading: what stands below it} of headings so far in."""
    found, heading = {}, None
    for line in text.split("\n"):
        begins = re.match(" {%d}(\\S.*)" % indent, line)
        if begins:
            heading = begins.group(1)
            found[heading] = ""
        elif heading:
            found[heading] += line + "\n"
    return found


def tagged(text):
    """Options that have an item of their own, not those that a sentence begins with."""
    return set(re.findall(r"^ {5}(?:-\w, )?--([a-z][a-z-]*)(?: [A-Z0-9_.:,]+)?(?:  .*)?$",
                          text, re.M))


# --- options ----------------------------------------------------------------------------


def commands():
    listed = output(program("evensoak"), "--help").split("\n\n")[1]
    return [line.split()[0] for line in listed.split("\n")]


def helped(*command):
    return set(re.findall(r"^  (?:-\w, |    )?--([a-z][a-z-]*)", output(*command, "--help"),
                          re.M))


def on_page(text=None):
    """{command: its options} of the page, and of each those that every command takes."""
    sections = parts(shown("evensoak.1", text), 0)
    common = tagged(sections["OPTIONS"])
    assert common >= {"config", "help"}, common
    return {heading.split()[0]: tagged(text) | common
            for heading, text in parts(sections["COMMANDS"], 3).items()}


def completed(shell, folder=COMPLETION):
    lines = {f"evensoak {command} --": command for command in commands()}
    lines["evensoakd --"] = "evensoakd"
    answers = SHELLS[shell](list(lines), os.path.abspath(folder), os.path.abspath(BUILD))
    return {lines[line]: {word[2:] for word in words if word.startswith("--")}
            for line, words in answers.items()}


def differences(page_text=None, folder=COMPLETION):
    """'bash: shot: trace' for each option that one knows and another does not."""
    told = {command: helped(program("evensoak"), command) for command in commands()}
    told["evensoakd"] = helped(program("evensoakd"))
    paged = on_page(page_text)
    paged["evensoakd"] = tagged(shown("evensoakd.8"))
    others = {"page": paged, **{shell: completed(shell, folder) for shell in SHELLS}}
    assert all(len(options) > 5 for options in told.values()), told
    return [f"{where}: {command}: {option}" for where, known in others.items()
            for command in told.keys() | known.keys()
            for option in sorted(told.get(command, set()) ^ known.get(command, set()))]


def options_are_the_same_everywhere():
    assert differences() == [], differences()


def an_option_that_is_missing_is_found():
    text = source("evensoak.1").replace(".It Fl -salvage\n", ".It Fl salvage\n")
    with tempfile.TemporaryDirectory() as folder:
        for name, word, other in (("evensoak", " --trace", ""),
                                  ("_evensoak", "--dry-run[", "--dry["),
                                  ("evensoakd", "\t--replay\n", ""), ("_evensoakd", "", "")):
            with open(os.path.join(COMPLETION, name), encoding="utf-8") as file:
                script = file.read()
            assert word in script, word
            with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
                file.write(script.replace(word, other, 1))
        found = differences(text, folder)
    dry = next(command for command in commands()
               if "dry-run" in helped(program("evensoak"), command))
    assert sorted(found) == sorted(["page: backup: salvage", "bash: shot: trace",
                                    f"zsh: {dry}: dry-run", f"zsh: {dry}: dry",
                                    "bash: evensoakd: replay"]), found


# --- what is typed ------------------------------------------------------------------------


EXPECTED = {
    "evensoak hol": ["hold"],
    "evensoak report --format p": ["pdf", "png"],
    "evensoak export --format ": ["lines"],
    "evensoak check --color ": ["always", "auto", "never"],
    "evensoak shots --outcome st": ["startup"],
    "evensoak registers --table d": ["discrete"],
    "evensoak report --config conf/demo.ini --shift ": ["early", "late", "night"],
    "evensoak report --config conf/demo.ini --line l": ["line-3"],
    "evensoak --config conf/demo.ini report --tool ": ["T-117", "T-204"],
    "evensoak report --config conf/stores.ini --from pl": ["plant-one", "plant-three",
                                                           "plant-two"],
    "evensoak resend --config conf/stores.ini m": ["metrics"],
    "evensoak soak --config conf/demo.ini --material ab": ["abs", "abs-demo"],
    "evensoak calibrate ": ["diffusivity", "enter", "offsets"],
    "evensoak calibrate --reference ": [],
    "evensoak calibrate --config conf/demo.ini enter pyrometers.st": ["pyrometers.stack"],
    "evensoak context ": ["lot", "note", "recipe", "tool"],
    "evensoak help com": ["compare"],
    "evensoak compare --characteristic exit_diff": ["exit_difference_dc"],
}
# The one shell tells the path, the other what is added to it.
FILES = {"evensoak check --config conf/shuttle-": "shuttle-two-sides.ini",
         "evensoakd -c conf/shuttle-": "shuttle-two-sides.ini",
         "evensoak soak READM": "README.md"}


def shells_complete_what_is_typed():
    # `--shift=` is a word of its own in the one and not in the other
    equals = "evensoak report --config=conf/demo.ini --shift="
    for shell, complete in SHELLS.items():
        answers = complete([*EXPECTED, *FILES, equals], os.path.abspath(COMPLETION),
                           os.path.abspath(BUILD))
        for line, words in EXPECTED.items():
            assert answers[line] == words, (shell, line, answers[line])
        for line, name in FILES.items():
            assert [os.path.basename(word) for word in answers[line]] == [name], (
                shell, line, answers[line])
        assert answers[equals] == ["early", "late", "night"], (shell, answers[equals])


def names_of_the_ledger_complete(ledger):
    with sqlite3.connect(ledger) as db:
        line, = db.execute("SELECT id FROM line ORDER BY id LIMIT 1").fetchone()
        db.execute("INSERT INTO context (line, key, value, holds_from, entered_at)"
                   " VALUES (?, 'lot', 'A-0412', 1, 1)", (line,))
        db.execute("INSERT INTO reference_run (name, line, first_at, last_at, frozen_at)"
                   " VALUES ('spring', ?, 1, 1, 1)", (line,))
    asked = {f"evensoak report --ledger {ledger} --lot ": ["A-0412"],
             f"evensoak reference --ledger {ledger} show ": ["spring"]}
    for shell, complete in SHELLS.items():
        answers = complete(list(asked), os.path.abspath(COMPLETION), os.path.abspath(BUILD))
        assert answers == asked, (shell, answers)


def names_of_the_ledger_are_no_commands(ledger):
    """People name lots: pressing Tab runs nothing of a name, nor does what it puts there."""
    ran = os.path.join(os.path.dirname(ledger), "ran")
    names = [f"$(touch${{IFS}}{ran})", f"`touch${{IFS}}{ran}`", f";touch${{IFS}}{ran};"]
    for name in names:
        output(program("evensoak"), "context", "--ledger", ledger, "lot", name)
    line = f"evensoak report --ledger {ledger} --lot "
    for shell, complete in SHELLS.items():
        answers = complete([line], os.path.abspath(COMPLETION), os.path.abspath(BUILD))
        assert not os.path.exists(ran), shell
        assert len([word for word in answers[line] if "touch" in word]) == len(names), (
            shell, answers)
        if shell == "bash":
            for word in answers[line]:
                subprocess.run(["bash", "-c", f"true {word}"], check=True)
            assert not os.path.exists(ran), answers


# --- pages --------------------------------------------------------------------------------


def pages_are_clean():
    names = {os.path.basename(path) for path in pages()}
    assert names >= {"evensoak.1", "evensoakd.8", "evensoak.ini.5", "evensoak-ledger.5",
                     "evensoak-figures.7"}, names
    for path in pages():
        done = subprocess.run(["mandoc", "-T", "lint", path], text=True, timeout=60,
                              stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False)
        for line in done.stdout.splitlines():
            # mandoc looks for pages among those of the system: there are others, ours not
            page_of = re.search(r"referenced manual not found: Xr (\S+) (\d)", line)
            assert page_of, line
            name = ".".join(page_of.groups())
            assert not name.startswith("evensoak") or name in names, line


def settings_of_the_examples_are_on_the_page():
    sections = {heading: text for part in parts(shown("evensoak.ini.5"), 0).values()
                for heading, text in parts(part, 3).items()}
    seen = 0
    for path in glob.glob("conf/*.ini"):
        section = None
        with open(path, encoding="utf-8") as file:
            for line in file:
                head = re.match(r"(?:; )?\[(\w+)[^\]]*\]$", line.split(" ;")[0].rstrip())
                setting = re.match(r"(?:; )?([a-z_0-9]+) = ", line)
                if head:
                    section = next(text for heading, text in sections.items()
                                   if re.match(r"\[%s\b" % head.group(1), heading))
                elif setting:
                    seen += 1
                    assert re.search(r"^ {5}%s \(" % setting.group(1), section, re.M), (
                        path, line)
    assert seen > 300, seen


def columns_of_a_ledger_are_on_the_page(ledger):
    tables = parts(parts(shown("evensoak-ledger.5"), 0)["TABLES"], 3)
    figures = shown("evensoak-figures.7")
    with sqlite3.connect(ledger) as db:
        features = {name for name, in db.execute("SELECT name FROM feature")}
        names = [name for name, in db.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table'")]
        assert features and sorted(names) == sorted(tables), (names, list(tables))
        for name in names:
            columns = {row[1] for row in db.execute(f"PRAGMA table_xinfo({name})")}
            told = set(re.findall(r"^ {5}(\w+) \((?:whole number|number|text|bytes)",
                                  tables[name], re.M))
            assert columns - features == told - features, (name, columns ^ told)
    for feature in features:
        family = re.sub(r"_\d+(_|$)", r"_1\1", feature)
        assert re.search(r"^ {5}(%s|%s)\b" % (feature, family), figures, re.M), feature


def displays(name):
    return [text.replace("\\e", "\\").replace("\\(aq", "'")
            for text in re.findall(r"^\.Bd -literal.*\n((?:.*\n)*?)\.Ed", source(name), re.M)]


def examples_work(ledger):
    with sqlite3.connect(ledger) as db:
        asked = [text for text in displays("evensoak-ledger.5") if text.startswith("SELECT")]
        assert len(asked) >= 5, asked
        for text in asked:
            db.execute(text).fetchall()
    whole, = [text for text in displays("evensoak.ini.5") if text.startswith("[site]")]
    with tempfile.NamedTemporaryFile("w", suffix=".ini") as file:
        file.write(whole.replace("/var/lib/evensoak/", ""))
        file.flush()
        output(program("evensoak"), "check", "--config", file.name)


def main():
    if not all(map(shutil.which, ("mandoc", "zsh"))):
        print("needs mandoc and zsh")
        return 77
    for check in (pages_are_clean, options_are_the_same_everywhere,
                  an_option_that_is_missing_is_found, shells_complete_what_is_typed,
                  settings_of_the_examples_are_on_the_page):
        print(check.__name__)
        check()
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy("conf/demo.ini", folder)
        shutil.copy("conf/materials.ini", folder)
        output(os.path.join(BUILD, "tests/system/fill_ledger"),
               os.path.join(folder, "demo.ini"), "5", "180", "1772427600")
        for check in (columns_of_a_ledger_are_on_the_page, names_of_the_ledger_complete,
                      names_of_the_ledger_are_no_commands, examples_work):
            print(check.__name__)
            check(os.path.join(folder, "ledger.db"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
