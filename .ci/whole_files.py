"""A file that the program writes is whole or not there, whenever the program ends; and no file is harmed.

`plan --record` is killed before each of its system calls in turn (by strace), and each of those that write is made to fail.
Then: data before name, files that are there already, and several processes at once.
"""

import collections
import os
import re
import subprocess
import sys
import tempfile

CALLS = re.compile(r"^(?:\[pid +\d+\] |\d+ +)?(\w+)\((.*)\) += (-?\d+|\?)")
WRITING = ["write", "fsync", "linkat", "link", "renameat2", "rename", "openat"]


def fail(*what):
    sys.exit("FAILED: " + " ".join(map(str, what)))


class Check:
    def __init__(self, program, folder):
        self.program, self.folder = program, folder
        self.target = os.path.join(folder, "new.toml")
        self.command = [program, "plan", "examples/landing.toml", "examples/landing-as-usual.toml", "--record", self.target]

    def traced(self, *options):
        log = os.path.join(self.folder, "log")
        result = subprocess.run(["strace", "-f", "-o", log, *options, *self.command], stdin=subprocess.DEVNULL,
                                stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        with open(log, encoding="utf-8", errors="replace") as file:
            lines = file.read().splitlines()
        os.remove(log)
        return result, lines

    def run(self):
        return subprocess.run(self.command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)

    def found(self):
        """What is in the file; none where it is not there. Then it is gone, with all that was left beside it."""
        text = None
        if os.path.exists(self.target):
            with open(self.target, "rb") as file:
                text = file.read()
        for name in os.listdir(self.folder):
            os.remove(os.path.join(self.folder, name))
        return text

    def check(self):
        result, lines = self.traced()
        if result.returncode != 0:
            fail("it does not run:", result.stderr)
        whole = self.found()
        if not whole:
            fail("it writes no file")
        calls = [match.groups() for match in map(CALLS.match, lines) if match]
        self.data_before_name(calls)

        states = {None: 0, whole: 0}
        killed = collections.Counter()
        for name, _, _ in calls:
            # The first is that by which strace starts it.
            if name in ("execve", "exit_group"):
                continue
            killed[name] += 1
            self.traced("-e", f"inject={name}:signal=KILL:when={killed[name]}")
            found = self.found()
            if found not in states:
                fail(f"killed at {name} {killed[name]}, it leaves half a file")
            states[found] += 1
        if min(states.values()) < 3:
            fail("it was not killed both before and after the file was there:", list(states.values()))

        # Before it opens its first file it is the loader that fails.
        begun = next(number for number, (name, text, _) in enumerate(calls) if name == "openat" and "landing.toml" in text)
        failures = 0
        for call in WRITING:
            before = sum(name == call for name, _, _ in calls[:begun])
            for number in range(before + 1, before + sum(name == call for name, _, _ in calls[begun:]) + 1):
                result, _ = self.traced("-e", f"inject={call}:error=ENOSPC:when={number}")
                found = self.found()
                if found not in states:
                    fail(f"{call} {number} fails, and half a file is left")
                if found is None and result.returncode != 2:
                    fail(f"{call} {number} fails, there is no file, and the status is {result.returncode}: {result.stderr}")
                failures += found is None
        if failures < 4:
            fail("too few failed calls kept the file from being written:", failures)
        self.existing()
        together = self.together(whole)
        print(f"killed at {killed.total()} calls: {states[None]} times no file, {states[whole]} times a whole one; "
              f"{failures} failed calls told; {together} times several at once, and one wrote it")

    def data_before_name(self, calls):
        """All data is on the disk before the file has its name, and the name before the program ends."""
        names = [number for number, (name, text, _) in enumerate(calls)
                 if name in ("linkat", "link", "renameat2", "rename", "renameat") and "new.toml" in text]
        syncs = [number for number, (name, _, _) in enumerate(calls) if name in ("fsync", "fdatasync")]
        if len(names) != 1 or not any(sync < names[0] for sync in syncs) or not any(sync > names[0] for sync in syncs):
            fail("data before name, and the name too:", names, syncs)
        opened = [number for number, (name, text, _) in enumerate(calls) if name == "openat" and self.folder in text and "O_CREAT" in text]
        last = max(number for number, (name, text, _) in enumerate(calls) if name == "write" and opened and opened[0] < number < names[0])
        if not any(last < sync < names[0] for sync in syncs):
            fail("what is written last is not on the disk before the file has its name")

    def existing(self):
        """A file that is there stays as it is, and so does what a link leads to."""
        other = os.path.join(self.folder, "other")
        for make in [lambda: None, lambda: os.symlink(other, self.target), lambda: os.symlink("/nowhere/at/all", self.target)]:
            make()
            if not os.path.islink(self.target):
                with open(self.target, "wb") as file:
                    file.write(b"mine")
            elif not os.path.exists(other):
                with open(other, "wb") as file:
                    file.write(b"mine")
            before = os.lstat(self.target)
            result = self.run()
            after = os.lstat(self.target)
            if result.returncode != 2 or (before.st_ino, before.st_size) != (after.st_ino, after.st_size):
                fail("a file that is there:", result.returncode, result.stderr)
            if os.path.exists(self.target):
                with open(self.target, "rb") as file:
                    if file.read() != b"mine":
                        fail("a file that is there is harmed")
            left = [name for name in os.listdir(self.folder) if name not in ("new.toml", "other")]
            if left:
                fail("something is left beside it:", left)
            self.found()

    def together(self, whole, times=20, count=4):
        for _ in range(times):
            running = [subprocess.Popen(self.command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
                       for _ in range(count)]
            statuses = sorted(process.wait() for process in running)
            if statuses != [0] + [2] * (count - 1):
                fail("several at once:", statuses)
            if os.listdir(self.folder) != ["new.toml"] or self.found() != whole:
                fail("several at once leave something else than one whole file")
        return times


if __name__ == "__main__":
    [program] = sys.argv[1:]
    with tempfile.TemporaryDirectory(prefix="whole-files-", dir="target") as folder:
        Check(program, folder).check()
