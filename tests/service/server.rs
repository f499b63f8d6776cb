//! A server made of the real binary, with a store of its own and everything it logs kept.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use tempfile::TempDir;

/// A running server. Dropping it ends it.
pub(crate) struct Server {
    child: Child,
    /// `127.0.0.1:PORT`
    pub(crate) address: String,
    folder: TempDir,
}

impl Server {
    /// `rungwise serve` on a free port with an empty store and the packs that came with it.
    pub(crate) fn start() -> Self {
        Self::start_with(&[])
    }

    /// The same, with more arguments.
    pub(crate) fn start_with(args: &[&str]) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        Self::start_in(folder, args)
    }

    /// Ends it as a loss of power would, and starts another on the same store.
    pub(crate) fn restart(mut self) -> Self {
        self.child.kill().expect("it runs");
        self.child.wait().expect("it ends");
        let folder = std::mem::replace(
            &mut self.folder,
            tempfile::tempdir().expect("a temporary folder"),
        );
        Self::start_in(folder, &[])
    }

    fn start_in(folder: TempDir, args: &[&str]) -> Self {
        let program = std::env::var_os("RUNGWISE_BIN")
            .expect("RUNGWISE_BIN is not set; run `tests/all build tests`");
        let log = File::create(folder.path().join("log")).expect("a file for the log");
        let config = folder.path().join("config.toml");
        std::fs::write(&config, "log = \"debug\"\n").expect("a configuration");
        let mut child = Command::new(&program)
            .args(["serve", "--listen", "127.0.0.1:0", "--store"])
            .arg(folder.path().join("ledger"))
            .arg("--config")
            .arg(config)
            .args(args)
            .stdout(Stdio::piped())
            .stderr(log)
            .spawn()
            .unwrap_or_else(|error| {
                panic!("no binary at {}: {error}", Path::new(&program).display())
            });
        let printed = BufReader::new(child.stdout.take().expect("standard output is ours"));
        let address = printed
            .lines()
            .map_while(Result::ok)
            .find_map(|line| line.strip_prefix("listening on ").map(str::to_owned))
            .unwrap_or_else(|| panic!("the server ended before it listened: {:?}", child.wait()));
        Self {
            child,
            address,
            folder,
        }
    }

    /// Everything that it logged.
    pub(crate) fn log(&self) -> String {
        std::fs::read_to_string(self.folder.path().join("log")).expect("the log is text")
    }

    /// Every file below its store, as bytes.
    pub(crate) fn stored(&self) -> Vec<Vec<u8>> {
        let mut folders = vec![self.folder.path().join("ledger")];
        let mut found = Vec::new();
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder).expect("a folder of the store") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    // A file may be replaced while it is looked at.
                    found.extend(std::fs::read(path));
                }
            }
        }
        found
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // Ended already, where it failed.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
