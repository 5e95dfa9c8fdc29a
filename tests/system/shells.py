# SPDX-License-Identifier: GPL-3.0-or-later
"""What real shells complete with the scripts that were made.

    bash(["evensoak check --"], folder)    {line: [words]}
    zsh(...)                               the same

The scripts are those in `folder`; nothing else of the user's is read.
"""

import os
import pty
import select
import shutil
import subprocess
import tempfile
import time

BASH = r"""
PATH=$1:$PATH
source "$2/evensoak"
source "$2/evensoakd"
while IFS= read -r COMP_LINE; do
	COMP_POINT=${#COMP_LINE}
	read -ra COMP_WORDS <<<"$COMP_LINE"
	[[ $COMP_LINE != *' ' ]] || COMP_WORDS+=('')
	COMP_CWORD=$((${#COMP_WORDS[@]} - 1))
	COMPREPLY=()
	_${COMP_WORDS[0]}
	printf 'HIT %s\n' "${COMPREPLY[@]}"
	echo END
done
"""

# What is found is told before it is shown; then nothing is put on the line.
ZSH = r"""
PS1= RPS1=
setopt no_beep no_prompt_cr no_prompt_sp
fpath=(%s $fpath)
autoload -Uz compinit
compinit -D -u
compadd() {
	if [[ ${@[1,(i)(-|--)]} == *-(O|A|D)\ * ]]; then
		builtin compadd "$@"
		return
	fi
	local -a found
	builtin compadd -A found "$@"
	(( $#found )) && print -rl -- "" "HIT "$^found
	builtin compadd "$@"
}
tell() { _main_complete; print -rl -- "" END; compstate[insert]= compstate[list]= }
zle -C tell complete-word tell
bindkey '^I' tell
print READY
"""


def _hits(text):
    return sorted(set(line[4:] for line in text.replace("\r", "").split("\n")
                      if line.startswith("HIT ") and len(line) > 4))


def bash(lines, folder, programs):
    done = subprocess.run(["bash", "--norc", "-c", BASH, "bash", programs, folder],
                          input="".join(line + "\n" for line in lines), text=True,
                          capture_output=True, timeout=60, check=True)
    assert not done.stderr, done.stderr
    answers = done.stdout.split("END\n")
    assert len(answers) == len(lines) + 1, done.stdout
    return {line: _hits(answer) for line, answer in zip(lines, answers)}


def _until(terminal, mark, seconds=20.0):
    got, until = b"", time.monotonic() + seconds
    while mark not in got:
        assert time.monotonic() < until, got
        if select.select([terminal], [], [], 0.2)[0]:
            got += os.read(terminal, 65536)
    return got.decode(errors="replace")


def zsh(lines, folder, programs):
    home = tempfile.mkdtemp(prefix="evensoak-zsh-")
    with open(os.path.join(home, ".zshrc"), "w", encoding="utf-8") as file:
        file.write(ZSH % folder)
    environment = {"HOME": home, "ZDOTDIR": home, "TERM": "dumb", "LANG": "C.UTF-8",
                   "PATH": programs + ":" + os.environ["PATH"]}
    child, terminal = pty.fork()
    if child == 0:
        os.execvpe("zsh", ["zsh", "-d", "-i"], environment)
    try:
        _until(terminal, b"READY\r\n")
        answers = {}
        for line in lines:
            os.write(terminal, b"\x15" + line.encode() + b"\t")
            answers[line] = _hits(_until(terminal, b"END\r\n"))
        return answers
    finally:
        os.close(terminal)  # hangs up
        os.waitpid(child, 0)
        shutil.rmtree(home)
