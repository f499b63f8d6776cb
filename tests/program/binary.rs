//! Starting the binary, and a server made of it.

use std::ffi::OsStr;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

/// How long a server may take to start or to stop.
pub(crate) const START_MAX: Duration = Duration::from_secs(30);

/// Where the binary is.
pub(crate) fn path() -> PathBuf {
    let path = std::env::var_os("RUNGWISE_BIN")
        .expect("RUNGWISE_BIN is not set; run `tests/all build tests`");
    let path = PathBuf::from(path);
    assert!(
        path.is_file(),
        "no binary at {}; run `tests/all build tests`",
        path.display()
    );
    path
}

/// Runs the binary in an empty folder, and waits for its end.
pub(crate) fn run<A: AsRef<OsStr>>(args: &[A]) -> Output {
    let folder = tempfile::tempdir().expect("a temporary folder");
    Command::new(path())
        .args(args)
        .current_dir(folder.path())
        .output()
        .expect("the binary starts")
}

/// What a run printed to standard output.
pub(crate) fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("it prints UTF-8")
}

/// What a run printed to standard error.
pub(crate) fn complaint(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("it prints UTF-8")
}

/// A running server. Dropping it kills it.
pub(crate) struct Server {
    child: Child,
    /// `http://127.0.0.1:PORT`
    pub(crate) url: String,
}

impl Server {
    /// Starts `rungwise serve` on a free port of this machine.
    pub(crate) fn start(store: &Path) -> Self {
        Self::start_under(Command::new(path()), store)
    }

    /// The same, where `program` is the binary or something that runs it.
    pub(crate) fn start_under(mut program: Command, store: &Path) -> Self {
        let mut child = program
            .args(["serve", "--listen", "127.0.0.1:0", "--store"])
            .arg(store)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the server starts");
        let printed = BufReader::new(child.stdout.take().expect("standard output is ours"));
        let address = printed
            .lines()
            .map_while(Result::ok)
            .find_map(|line| line.strip_prefix("listening on ").map(str::to_owned))
            .unwrap_or_else(|| panic!("the server ended before it listened: {:?}", child.wait()));
        Self {
            child,
            url: format!("http://{address}"),
        }
    }

    /// The process.
    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// Ends it as a power cut would: at once, between any two instructions.
    pub(crate) fn kill(mut self) {
        self.child.kill().expect("the server is killed");
        self.child.wait().expect("the server has ended");
    }

    /// Asks what runs under a tracer to stop, and waits until the tracer has ended too.
    pub(crate) fn stop_traced(self) {
        let tracer = self.id();
        let children = std::fs::read_to_string(format!("/proc/{tracer}/task/{tracer}/children"))
            .expect("its children");
        for child in children.split_whitespace() {
            signal_term(child.parse().expect("a process id"));
        }
        self.wait();
    }

    /// Asks it to stop and waits until it has; the exit code.
    pub(crate) fn stop(self) -> Option<i32> {
        signal_term(self.id());
        self.wait()
    }

    fn wait(mut self) -> Option<i32> {
        let began = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().expect("the server can be waited for") {
                return status.code();
            }
            assert!(began.elapsed() < START_MAX, "the server did not stop");
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // Already ended, where the test stopped or killed it.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Sends SIGTERM to one process.
fn signal_term(process: u32) {
    let sent = Command::new("kill")
        .arg("-TERM")
        .arg(process.to_string())
        .status()
        .expect("kill runs");
    assert!(sent.success(), "kill -TERM {process}: {sent}");
}
