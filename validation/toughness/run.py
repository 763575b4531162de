#!/usr/bin/env python3
"""What the program withstands: fuzzers, bad inputs, extreme piles, kills, a full disk, sanitizers.

Usage: run.py --build build/release --out build/validation/toughness.json [--quick]
              [--fuzz-seconds N]

Everything is measured when this runs, but for the sanitizers, whose last test reports in build/
are read. What is not built or not allowed here is said to be not run. Exits 1 when it could not do
its work.
"""

import argparse
import collections
import datetime
import hashlib
import json
import pathlib
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ElementTree

ROOT = pathlib.Path(__file__).resolve().parents[2]
PILE = ROOT / "examples/03_humid_tropics_heap/pile.toml"
SHORT = ["--resolution", "coarse", "--set", "run.days=10"]


def row(identity, quantity, published, computed, verdict, note="", unit=""):
    return {"id": f"toughness.{identity}", "quantity": quantity, "unit": unit,
            "published": published, "computed": computed, "tolerance": "", "verdict": verdict,
            "source": "", "provenance": "computed", "note": note}


def verdict(good):
    return "agrees" if good else "MISS"


def sha(path):
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else None


# --- fuzzers

def fuzz(build, seconds):
    """Rows and table of every fuzzer, each run for some seconds."""
    folder = build.parent / "fuzz"
    sources = sorted((ROOT / "tests/fuzz").glob("*_fuzz.cpp"))
    names = [s.name.removesuffix("_fuzz.cpp") for s in sources if s.name != "hdf5_fuzz.cpp"]
    rows, lines = [], []
    for name in names:
        if not (folder / f"tests/fuzz/fuzz_{name}").exists():
            rows.append(row(f"fuzz.{name}", f"fuzzer of {name}", "nothing found", "not run",
                            "not computed", "cmake --preset fuzz && cmake --build --preset fuzz"))
            lines.append([name, "not built", "", "", ""])
            continue
        done = subprocess.run(["bash", str(ROOT / "tests/fuzz/run.sh"), str(seconds), name],
                              capture_output=True, text=True)
        log = (folder / f"{name}.log").read_text(errors="replace")
        inputs = int(next((line.split()[-1] for line in log.splitlines()
                           if line.startswith("stat::number_of_executed_units")), "0"))
        paths = next((line.split("cov: ")[1].split()[0] for line in reversed(log.splitlines())
                      if "cov: " in line), "")
        found = "nothing" if done.returncode == 0 else done.stdout.strip() or done.stderr.strip()
        rows.append(row(f"fuzz.{name}", f"fuzzer of {name}", "nothing found", found,
                        verdict(done.returncode == 0),
                        f"{inputs} inputs in {seconds} s, {paths} places of the code reached; address "
                        "and undefined behaviour sanitizers"))
        lines.append([name, str(seconds), str(inputs), paths, found])
    return rows, {"title": "Fuzzers", "columns": ["target", "seconds", "inputs", "places reached",
                                                  "found"], "rows": lines}


# --- tests that report rows

def test_properties(program, pattern, prefix):
    """Properties that a test program recorded, by name, and the number of its tests and failures."""
    with tempfile.TemporaryDirectory() as name:
        report = pathlib.Path(name) / "report.json"
        subprocess.run([str(program), f"--gtest_filter={pattern}", f"--gtest_output=json:{report}"],
                       capture_output=True, text=True)
        data = json.loads(report.read_text(encoding="utf-8"))
    found = {}
    for suite in data["testsuites"]:
        for test in suite["testsuite"]:
            found.update({k.removeprefix(prefix): v for k, v in test.items() if k.startswith(prefix)})
    return found, data["tests"], data["failures"]


def bad_inputs(build):
    program = build / "tests/test_cli_unit"
    if not program.exists():
        return [row("bad_inputs", "bad inputs", "a message that helps", "not run", "not computed",
                    "build test_cli_unit")], None
    found, _, failures = test_properties(program, "*BadInputs*", "row_")
    lines = []
    codes = collections.Counter()
    for name, text in found.items():
        wrong, command, code, message = text.split("\t", 3)
        codes[code] += 1
        lines.append([wrong, command, code, message.strip().split("\n")[0][:240]])
    rows = [row("bad_inputs", "bad inputs that end with the right exit code and a message of place, "
                "fault and remedy", "all, at least 100", f"{len(found)}; {failures} groups fail",
                verdict(failures == 0 and len(found) >= 100),
                "exit codes: " + ", ".join(f"{n} times {c}" for c, n in sorted(codes.items()))
                + "; tests/cli/bad_inputs.toml")]
    return rows, {"title": "Bad inputs and the first line of what the program says",
                  "columns": ["what is wrong", "command", "exit code", "message"], "rows": lines}


def extremes(build, quick):
    program = build / "tests/test_cli_slow"
    if not program.exists():
        return [row("extremes", "extreme but legal piles", "run to the end", "not run",
                    "not computed", "build test_cli_slow")], None
    pattern = "*ExtremePile*"
    if quick:
        pattern = "*ExtremePile*/minus_45*:*ExtremePile*/fifty_degrees:*ExtremePile*/pure_*:*ExtremePile*/bone*"
    found, tests, failures = test_properties(program, pattern, "extreme_")
    lines = [[name.replace("_", " "), *text.strip().split("\t")] for name, text in found.items()]
    ended = sum("ran to the end" in line[-1] for line in lines)
    rows = [row("extremes", "extreme but legal piles that end or stop with a reason, no NaN in a file "
                "without a reason beside it", "all", f"{tests - failures} of {tests}",
                verdict(failures == 0 and tests > 0),
                f"{ended} ran to the end; tests/cli/extreme_piles_slow_test.cpp")]
    return rows, {"title": "Extreme but legal piles (invented)",
                  "columns": ["pile", "days", "mesh", "seconds", "outcome"], "rows": lines}


# --- kills and full disks

def run_forecast(build, folder, seed, **how):
    command = [str(build / "heapcast"), "forecast", str(PILE), "--quiet", "--seed", str(seed), "-o",
               str(folder / "a.h5"), "--report", str(folder / "a.html"), *SHORT]
    return subprocess.run(command, capture_output=True, text=True, **how)


def pair(folder):
    """Which results and which report there are, by their SHA-256."""
    return sha(folder / "a.h5"), sha(folder / "a.html")


def known_files(build, folder):
    """SHA-256 of results and report of the old and of the new run, and a run's seconds."""
    made = {}
    for name, seed in (("new", 2), ("old", 1)):
        start = time.monotonic()
        if run_forecast(build, folder, seed).returncode != 0:
            raise RuntimeError("a plain forecast failed")
        seconds = time.monotonic() - start
        made[name] = pair(folder)
    if made["old"][0] == made["new"][0] or made["old"][1] == made["new"][1]:
        raise RuntimeError("old and new files are the same: the kills would show nothing")
    return made, seconds


def kills(build, times):
    """Kills runs at random moments and looks at what is left."""
    chance = random.Random(20)
    seen = collections.Counter()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        made, seconds = known_files(build, folder)
        old_bytes = {f: (folder / f).read_bytes() for f in ("a.h5", "a.html")}
        while seen["killed"] < times and seen["runs"] < 5 * times:
            seen["runs"] += 1
            for file, data in old_bytes.items():
                (folder / file).write_bytes(data)
            process = subprocess.Popen(
                [str(build / "heapcast"), "forecast", str(PILE), "--quiet", "--seed", "2", "-o",
                 str(folder / "a.h5"), "--report", str(folder / "a.html"), *SHORT],
                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            # Writing is at the end: half of the kills fall into the last third.
            share = chance.uniform(0, 1.1) if chance.random() < 0.5 else chance.uniform(0.7, 1.1)
            time.sleep(share * seconds)
            process.kill()
            seen["killed" if process.wait() == -signal.SIGKILL else "had ended"] += 1
            for kind, digest in zip(("results", "report"), pair(folder)):
                index = 0 if kind == "results" else 1
                which = next((w for w in ("old", "new") if made[w][index] == digest), "neither")
                seen[f"{kind} {which}"] += 1
            seen["temporary files left"] += len(list(folder.glob("*.tmp-*")))
            for left in folder.glob("*.tmp-*"):
                left.unlink()
    return seen


def kill_rows(build, times):
    seen = kills(build, times)
    neither = seen["results neither"] + seen["report neither"]
    telling = seen["killed"] > 0 and seen["results old"] > 0 and seen["results new"] > 0
    told = ", ".join(f"{key} {seen[key]}" for key in
                     ("killed", "had ended", "results old", "results new", "report old", "report new",
                      "temporary files left"))
    return [row("kill", "files that are neither the old nor the new one after kill -9", "0",
                str(neither), verdict(neither == 0) if neither or telling else "not computed",
                f"{seen['runs']} runs, random moments: {told}. A file with .tmp- in its name may be left; it "
                "is no results file")], seen


def limit_file_size(size):
    def limit():
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
    return limit


def after_full_disk(done, folder, before, tried):
    """Whether a run on a full disk said so, kept the old files and left nothing else."""
    files = sorted(p.name for p in folder.iterdir())
    good = (done.returncode == 4 and bool(done.stderr) and pair(folder) == before
            and files == ["a.h5", "a.html"])
    return [tried, str(done.returncode), done.stderr.strip().replace(f"{folder}/", "")[:160],
            "old" if pair(folder) == before else "CHANGED",
            "nothing" if files == ["a.h5", "a.html"] else ", ".join(files)], good


def full_disk(build):
    """Limits on the size of a file, and a file system that is full."""
    lines, all_good = [], True
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        known_files(build, folder)
        before = pair(folder)
        size = (folder / "a.h5").stat().st_size
        for limit in (0, 1, 4096, size // 2, size - 1):
            done = run_forecast(build, folder, 2, preexec_fn=limit_file_size(limit))
            line, good = after_full_disk(done, folder, before, f"files of at most {limit} bytes")
            lines.append(line)
            all_good = all_good and good
        line, good = on_small_disk(build, folder, size)
        lines.append(line)
        all_good = all_good and good is not False
    rows = [row("full_disk", "full disks that leave the old files, nothing else, and a message", "all",
                f"{sum(l[3] == 'old' and l[4] == 'nothing' for l in lines)} of "
                f"{sum(l[1] != '' for l in lines)}", verdict(all_good))]
    return rows, {"title": "Full disk", "columns": ["disk", "exit code", "message", "files there",
                                                    "left behind"], "rows": lines}


def on_small_disk(build, folder, size):
    """The same on a file system that holds the old files and not the new ones as well."""
    disk = folder / "disk"
    disk.mkdir()
    room = 2 * size + (folder / "a.html").stat().st_size
    tried = f"tmpfs of {room // 1024} KiB"
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={room}", "tmpfs", str(disk)],
                             capture_output=True)
    if mounted.returncode != 0:
        disk.rmdir()
        return [tried, "", "not run: a file system cannot be mounted here", "", ""], None
    try:
        for file in ("a.h5", "a.html"):
            (disk / file).write_bytes((folder / file).read_bytes())
        free = subprocess.run(["stat", "-f", "-c", "%a %S", str(disk)], capture_output=True, text=True,
                              check=True).stdout.split()
        filler = disk / "filler"
        filler.write_bytes(b"x" * (int(free[0]) * int(free[1]) - size // 2))
        before = pair(disk)
        done = run_forecast(build, disk, 2)
        filler.unlink()
        return after_full_disk(done, disk, before, tried + ", all but half a file of it taken")
    finally:
        subprocess.run(["umount", str(disk)], check=True)
        disk.rmdir()


# --- sanitizers

def sanitizer(build, preset, name):
    report = build.parent / preset / "ctest.xml"
    if not report.exists():
        return row(f"sanitizer.{preset}", name, "no finding", "not run", "not computed",
                   "bash tests/run.sh runs it")
    suite = ElementTree.parse(report).getroot()
    tests, failures = int(suite.get("tests")), int(suite.get("failures"))
    missed = int(suite.get("skipped", 0)) + int(suite.get("disabled", 0))
    when = datetime.datetime.fromtimestamp(report.stat().st_mtime).strftime("%Y-%m-%d %H:%M")
    return row(f"sanitizer.{preset}", name, "no finding",
               f"{tests - failures - missed} of {tests} tests passed", verdict(failures == 0 < tests),
               f"report of {when}; {missed} skipped; the first finding ends a test")


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--build", type=pathlib.Path, required=True)
    parser.add_argument("--out", type=pathlib.Path, required=True)
    parser.add_argument("--quick", action="store_true", help="fewer piles, kills and seconds")
    parser.add_argument("--fuzz-seconds", type=int, help="of each fuzzer; 60, quick 5")
    arguments = parser.parse_args()
    build, out = arguments.build.resolve(), arguments.out.resolve()
    out.parent.mkdir(parents=True, exist_ok=True)
    quick = arguments.quick
    try:
        parts = [fuzz(build, arguments.fuzz_seconds or (5 if quick else 60)), bad_inputs(build),
                 extremes(build, quick)]
        killed, seen = kill_rows(build, 15 if quick else 60)
        parts += [(killed, None), full_disk(build)]
    except (OSError, RuntimeError, ValueError, subprocess.CalledProcessError) as error:
        print(f"toughness: {error}", file=sys.stderr)
        return 1
    sanitizers = [sanitizer(build, "sanitize", "address, leak and undefined behaviour sanitizers"),
                  sanitizer(build, "tsan", "thread sanitizer")]
    rows = [r for part, _ in parts for r in part] + sanitizers
    tables = [{"title": "Toughness",
               "columns": ["what", "wanted", "found", "verdict", "how"],
               "rows": [[r["quantity"], r["published"], r["computed"], r["verdict"], r["note"]]
                        for r in rows]}]
    tables += [table for _, table in parts if table]
    counts = collections.Counter(r["verdict"] for r in rows)
    lines = [f"Toughness: {counts['agrees']} hold, {counts['MISS']} do not, "
             f"{counts['not computed']} not run.",
             f"{seen['killed']} runs killed: {seen['results old'] + seen['report old']} files were the "
             f"old ones, {seen['results new'] + seen['report new']} the new ones, "
             f"{seen['results neither'] + seen['report neither']} neither."]
    out.write_text(json.dumps({
        "section": "Toughness", "order": 6,
        "intro": "Whether anything that is typed in, killed or full breaks the program or leaves half "
                 "a file. Measured when this table was made; the sanitizers' test reports are read. "
                 "HDF5 itself is not safe against damaged files: a results file carries a check sum, "
                 "and one without it, or that does not match it, is refused before HDF5 sees it.",
        "rows": rows, "tables": tables, "figures": [], "summary": lines,
    }, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    print("\n".join(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
