"""Prints the commands in the fenced `sh` blocks of documents, one a line, so that what people are told to run is run.

    python3 .ci/commands.py README.md demo/README.md

A block that is never closed, a command that goes on over several lines, and a document without commands are errors.
"""

import pathlib
import sys


def commands(path):
    """The commands of one document, in order."""
    fence = None
    for number, line in enumerate(pathlib.Path(path).read_text(encoding="utf-8").splitlines(), 1):
        if line.startswith("```"):
            fence = line.removeprefix("```").strip() if fence is None else None
        elif fence == "sh" and line.strip() and not line.startswith("#"):
            if line.startswith(" ") or line.endswith("\\"):
                sys.exit(f"{path}:{number}: a command must stand on one line: {line}")
            yield line
    if fence is not None:
        sys.exit(f"{path}: a block is never closed")


def main(paths):
    for path in paths:
        found = list(commands(path))
        if not found:
            sys.exit(f"{path}: there are no commands in it")
        print("\n".join(found))


if __name__ == "__main__":
    main(sys.argv[1:])
