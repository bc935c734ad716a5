"""The library as a module for browsers, as `src/page/lengthwise.wasm.gz`.

    python3 .ci/engine.py renew     builds it, and puts it there with what it was built from
    python3 .ci/engine.py check     fails where its sources have changed since, or where building it anew gives other bytes

It is built by the Rust version that `Cargo.toml` states as the least, with the versions that `.ci/engine/lock` lists, in a
folder of its own, so that the bytes are the same wherever the repository lies. The lock file is cargo's, without the
addresses of a registry: these are put in here, as cargo has them.
"""

import gzip
import hashlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
OWN = ROOT / ".ci/engine"
LOCK = OWN / "lock"
TREE = ROOT / "target/engine/tree"
TARGET = "wasm32-unknown-unknown"
MODULE = ROOT / "src/page/lengthwise.wasm.gz"
BUILT_FROM = ROOT / "src/page/lengthwise.wasm.txt"
LEFT_OUT = ("src/cli/", "src/page/", "src/main.rs")
RENEW = "python3 .ci/engine.py renew"


def sources():
    """All files that go into the module, by their path from the root."""
    found = [ROOT / "Cargo.toml", *OWN.rglob("*"), *(ROOT / "src").rglob("*")]
    names = sorted(path.relative_to(ROOT).as_posix() for path in found if path.is_file())
    return [name for name in names if not name.startswith(LEFT_OUT)]


def digest_of_sources():
    digest = hashlib.sha256()
    for name in sources():
        content = (ROOT / name).read_bytes()
        digest.update(f"{name}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def toolchain():
    """One version, to the last number: of another the bytes differ."""
    return "%s.0" % re.search(r'^rust-version = "(\d+\.\d+)"$', (ROOT / "Cargo.toml").read_text(), re.M)[1]


def registry():
    """What cargo calls the registry that the library's dependencies come from."""
    command = ["cargo", "metadata", "--format-version", "1", "--manifest-path", str(ROOT / "Cargo.toml")]
    packages = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout)["packages"]
    return next(package["source"] for package in packages if (package["source"] or "").startswith("registry+"))


def build():
    """The module's bytes, and what they were built from."""
    version = toolchain()
    # One that is there is not installed again: others may be building with it.
    if subprocess.run(["rustup", "run", version, "rustc", "--version"]).returncode != 0:
        install = ["rustup", "toolchain", "install", version, "--profile", "minimal", "--no-self-update"]
        subprocess.run(install, check=True)
    subprocess.run(["rustup", "target", "add", TARGET, "--toolchain", version], check=True)
    subprocess.run(["rustup", "component", "add", "rust-src", "--toolchain", version], check=True)
    sysroot = subprocess.run(
        ["rustc", f"+{version}", "--print", "sysroot"], check=True, stdout=subprocess.PIPE, text=True
    ).stdout.strip()
    shutil.rmtree(TREE, ignore_errors=True)
    shutil.copytree(OWN, TREE)
    (TREE / "lengthwise").symlink_to(ROOT, target_is_directory=True)
    cargo = ["cargo", f"+{version}"]
    if LOCK.exists():
        named = re.sub(r"(?m)^(?=checksum = )", f'source = "{registry()}"\n', LOCK.read_text())
        (TREE / "Cargo.lock").write_text(named)
    else:
        subprocess.run([*cargo, "generate-lockfile"], cwd=TREE, check=True)
        LOCK.write_text(re.sub(r'(?m)^source = ".*"\n', "", (TREE / "Cargo.lock").read_text()))
    digest = digest_of_sources()
    cargo_home = pathlib.Path(os.environ.get("CARGO_HOME", pathlib.Path.home() / ".cargo"))
    hidden = {sysroot: "rust", ROOT: "lengthwise", TREE: "engine"}
    hidden |= {path: "crates" for path in (cargo_home / "registry/src").glob("*")}
    flags = [f"--remap-path-prefix={path}={name}" for path, name in hidden.items()]
    # A panic ends the module at once, without a text, which nobody would read; this takes a fifth of it away.
    flags += ["-Zunstable-options", "-Cpanic=immediate-abort"]
    target = ROOT / "target/engine/build"
    subprocess.run(
        [*cargo, "build", "--locked", "--release", "--target", TARGET, "--target-dir", str(target)]
        + ["-Zbuild-std=std,panic_abort", "-Zbuild-std-features=optimize_for_size"],
        cwd=TREE, env={**os.environ, "RUSTFLAGS": " ".join(flags), "RUSTC_BOOTSTRAP": "1"}, check=True,
    )
    if digest_of_sources() != digest:
        sys.exit("the sources have changed while they were built: once more")
    rustc = subprocess.run(["rustc", f"+{version}", "--version"], check=True, stdout=subprocess.PIPE, text=True).stdout
    module = (target / TARGET / "release/engine.wasm").read_bytes()
    return module, f"sources {digest}\nmodule {hashlib.sha256(module).hexdigest()}\n{rustc}"


def renew():
    if "--update" in sys.argv:
        LOCK.unlink(missing_ok=True)
    module, built_from = build()
    MODULE.write_bytes(gzip.compress(module, 9, mtime=0))
    BUILT_FROM.write_text(built_from)
    print(f"{MODULE.relative_to(ROOT)}: {len(module)} bytes, {MODULE.stat().st_size} compressed")


def check():
    said = BUILT_FROM.read_text()
    if f"sources {digest_of_sources()}\n" not in said:
        sys.exit(f"{MODULE.relative_to(ROOT)} is of other sources than these: {RENEW}")
    module, built_from = build()
    if built_from != said or module != gzip.decompress(MODULE.read_bytes()):
        sys.exit(f"built anew, the module has other bytes than {MODULE.relative_to(ROOT)}: {RENEW}\n{said}{built_from}")
    print(f"{MODULE.relative_to(ROOT)}: built anew, the same {len(module)} bytes; {MODULE.stat().st_size} compressed")


if __name__ == "__main__":
    {"renew": renew, "check": check}[sys.argv[1]]()
