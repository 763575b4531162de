#!/usr/bin/python3
"""Types into a real shell and looks at what it completes. Usage: completion_test.py SHELL HEAPCAST

SHELL is bash or zsh. Exits 1 with each line that was completed otherwise than --help lists.
"""

import os
import pty
import re
import select
import subprocess
import sys
import tempfile
import time

from program_help import commands, options

# What makes the shell put all completions into the line (Ctrl-T) and print the line (Ctrl-P).
SET_UP = {
    "bash": r"""
bind 'set enable-bracketed-paste off'
bind '"\C-t": insert-completions'
show_line() { printf 'LINE<%s>END\n' "$READLINE_LINE"; }
bind -x '"\C-p": show_line'
""",
    "zsh": r"""
autoload -U compinit; compinit -D -u
insert_all() { _main_complete; compstate[insert]=all; compstate[list]=; }
zle -C insert_all complete-word insert_all
bindkey '^T' insert_all
show_line() { print -rn -- $'\n'"LINE<$BUFFER>END"$'\n'; }
zle -N show_line
bindkey '^P' show_line
bindkey '^U' kill-whole-line
""",
}
OPTIONS = {"bash": ["--norc", "--noprofile", "-i"], "zsh": ["-f", "-i"]}
PATIENCE_S = 60.0


class Shell:
    """An interactive shell on a terminal of its own."""

    def __init__(self, name, folder, set_up):
        self.seen = ""
        child, self.terminal = pty.fork()
        if child == 0:
            os.chdir(folder)
            os.environ.update(TERM="dumb", LC_ALL="C.UTF-8", PS1="", HISTFILE="", HOME=folder)
            os.execvp(name, [name, *OPTIONS[name]])
        self.type(set_up + "stty -echo; echo READY''NOW\n")
        self.wait_for("READYNOW")

    def type(self, text):
        os.write(self.terminal, text.encode())

    def wait_for(self, pattern):
        end = time.monotonic() + PATIENCE_S
        while not (found := re.search(pattern, self.seen, re.S)):
            left = end - time.monotonic()
            if left <= 0 or not select.select([self.terminal], [], [], left)[0]:
                sys.exit(f"the shell did not answer; it printed:\n{self.seen[-2000:]}")
            self.seen += os.read(self.terminal, 65536).decode(errors="replace")
        self.seen = self.seen[found.end():]
        return found

    def completed(self, line, key="\x14"):
        """The line with all completions of its last word put in; with a tab as it would be."""
        self.type(line + key + "\x10")
        full = self.wait_for(r"LINE<(.*?)>END")[1]
        self.type("\x15")
        return full


def offered(full, line):
    """The completions alone."""
    stem = line[: line.rfind(" ") + 1]
    return {word.rstrip("=/") for word in re.findall(r"(?:\\.|\S)+", full[len(stem):])}


def main():
    shell_name, heapcast = sys.argv[1], os.path.abspath(sys.argv[2])
    faults = []
    with tempfile.TemporaryDirectory() as folder:
        for name in ("pile.toml", "own piles.toml", "notes.txt", "pile.h5", "pile.html"):
            open(os.path.join(folder, name), "w", encoding="utf-8").close()
        os.mkdir(os.path.join(folder, "results"))
        script = os.path.join(folder, ".completion")
        with open(script, "w", encoding="utf-8") as file:
            subprocess.run([heapcast, "--completion", shell_name], stdout=file, check=True,
                           timeout=60)
        shell = Shell(shell_name, folder, SET_UP[shell_name] + f"source {script}\n")

        def expect(line, wanted):
            found = offered(shell.completed(line), line)
            if found != wanted:
                faults.append(f"{line!r} gives {sorted(found)}, not {sorted(wanted)}")

        expect("heapcast fo", {"forecast"})
        expect("heapcast forecast --r", {"--report", "--resolution", "--runs"})
        expect("heapcast forecast pi", {"pile.toml"})
        expect("heapcast forecast ", {"pile.toml", r"own\ piles.toml", "results"})
        expect("heapcast check no", {"notes.txt"})
        expect("heapcast report pi", {"pile.h5"})
        expect("heapcast forecast pile.toml --report pi", {"pile.html"})
        expect("heapcast forecast pile.toml --csv ", {"results"})
        expect("heapcast forecast pile.toml --resolution ", {"coarse", "standard", "fine"})
        expect("heapcast size pile.toml --by l", {"length"})
        expect("heapcast size pile.toml --by=l", {"--by=length"})
        expect("heapcast materials wheat", {"wheat_straw"})
        expect("heapcast parameters medium_r", {"medium_rate"})
        expect("heapcast --completion ", {"bash", "zsh"})
        # A key goes on with its value, a folder with what is in it: no space behind them.
        for line, wanted in (
            ("heapcast forecast pile.toml --set turning.ev", "ery="),
            ("heapcast check res", "ults/"),
            ("heapcast forecast ow", r"n\ piles.toml "),
        ):
            full = shell.completed(line, "\t")
            if full != line + wanted:
                faults.append(f"{line!r} and a tab give {full!r}, not {line + wanted!r}")

        listed = commands(heapcast)
        expect("heapcast ", set(listed))
        for command in listed:
            expect(f"heapcast {command} -", options(heapcast, command))

    print("\n".join(faults), end="\n" if faults else "")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
