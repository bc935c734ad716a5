//! The whole command on a file of 200,000 lengths: its peak memory against the file's size, and its time against the time
//! that the bare `serde_json` crate takes to parse the file. It is JSON, as no TOML of that size is taken.
//!
//! And what an error costs to tell in a line without end.
//!
//! The peak is the kernel's own count for the process (`VmHWM` in `/proc/PID/status`), read as long as the process
//! lives; it never falls, so only what a process takes after the last look is missed, and while it writes its answer
//! into a pipe it is looked at for each piece. The aim of under 1 GiB is reported; a benchmark does not fail on it.

mod generate;
mod measure;

use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use generate::{Generated, Size};
use lengthwise::cli::diagnostics::{Options, render};
use measure::{Effort, median, ratio, say, timed};

fn main() {
    let effort = Effort::asked_for();
    let directory = Directory::new();
    let (text, lengths) = {
        let generated = Generated::of(Size::of(effort.of(10_000, 60)));
        let text = serde_json::to_string(&generated.draft).expect("a draft can be written");
        let tests = serde_json::to_string(&generated.test_draft).expect("so it can");
        std::fs::write(directory.file("large.json"), &text).expect("the temporary directory can be written to");
        std::fs::write(directory.file("tests.json"), tests).expect("so it can");
        (text, generated.draft.lengths.len())
    };
    let megabytes = |bytes: u64| bytes as f64 / f64::from(1 << 20);
    println!("command: {lengths} lengths in a file of {:.1} MiB", megabytes(text.len() as u64));
    for command in ["cover", "plan", "network"] {
        let mut times = Vec::new();
        let mut bare = Vec::new();
        let (mut peak, mut written) = (0, 0);
        for _ in 0..effort.of(3, 1) {
            let (time, run) = timed(|| run(command, &directory));
            bare.push(timed(|| drop(serde_json::from_str::<serde_json::Value>(&text).expect("it is JSON"))).0);
            times.push(time);
            peak = run.peak.max(peak);
            written = run.written;
        }
        assert!(peak > 0, "NOT MEASURED: peak memory is read from /proc/PID/status");
        println!(
            " {command} --json: {:.0} MiB at the peak ({} 1 GiB), {:.0} MiB written",
            megabytes(peak),
            if peak < 1 << 30 { "under" } else { "NOT under" },
            megabytes(written),
        );
        say("peak memory, against the size of the file", peak as f64 / text.len() as f64);
        say(
            "the whole command, against parsing the file alone by the bare `serde_json` crate",
            time_ratio(times, bare),
        );
    }
    errors_in_one_line(effort.of(30_000_000, 1_000), effort.of(5, 1));
}

/// 2,000 errors, told with what stands about each: in one line of so many spaces at both ends, and each in a line of its own.
fn errors_in_one_line(spaces: usize, times: usize) {
    let errors = |padding: &str, end: &str| {
        let errors: String = (0..2000).map(|number| format!(r#""a{number}":1,{end}"#)).collect();
        let json = format!(r#"{{"format":1,{padding}{errors}{end}{padding}"installation":{{}}}}"#);
        lengthwise::read_installation(lengthwise::Input::json(&json)).expect_err("the file is wrong")
    };
    let [short, long] = [errors("", "\n"), errors(&" ".repeat(spaces), "")];
    let [short, long] = measure::by_turns(
        times,
        [short, long]
            .each_ref()
            .map(|errors| move || drop(render(errors, Options::default())))
            .each_mut()
            .map(|told| told as _),
    );
    say("telling 2,000 errors in one line without end, against each in its own", ratio(long, short));
}

fn time_ratio(times: Vec<Duration>, bare: Vec<Duration>) -> f64 {
    ratio(median(times), median(bare))
}

struct Run {
    peak: u64,
    written: u64,
}

fn run(command: &str, directory: &Directory) -> Run {
    let mut arguments = Command::new(env!("CARGO_BIN_EXE_lengthwise"));
    arguments.arg(command).arg(directory.file("large.json"));
    if command != "network" {
        arguments.arg(directory.file("tests.json"));
    }
    let mut child = arguments.arg("--json").stdout(Stdio::piped()).spawn().expect("the command was built");
    let mut out = child.stdout.take().expect("its output was asked for");
    let reader = std::thread::spawn(move || {
        let mut piece = vec![0; 1 << 16];
        let mut written = 0;
        while let Ok(count @ 1..) = out.read(&mut piece) {
            written += count as u64;
            // So that the process is not through before it has been looked at.
            std::thread::sleep(Duration::from_micros(20));
        }
        written
    });
    let mut peak = 0;
    let status = loop {
        peak = peak_memory(&child).unwrap_or(0).max(peak);
        if let Some(status) = child.try_wait().expect("a child can be waited for") {
            break status;
        }
        std::thread::sleep(Duration::from_micros(500));
    };
    assert!(status.success(), "{command} of a generated installation goes well");
    let written = reader.join().expect("reading a pipe does not fail");
    assert!(written > 0, "{command} answers");
    Run { peak, written }
}

fn peak_memory(child: &Child) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kibibytes: u64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kibibytes << 10)
}

/// A directory of this process's own, gone when it is done.
struct Directory(PathBuf);

impl Directory {
    fn new() -> Directory {
        let path = std::env::temp_dir().join(format!("lengthwise-command-{}", std::process::id()));
        std::fs::create_dir_all(&path).expect("the temporary directory can be written to");
        Directory(path)
    }

    fn file(&self, name: &str) -> PathBuf {
        Path::new(&self.0).join(name)
    }
}

impl Drop for Directory {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
