//! What the guide for clinical leads shows is run, from its first command to its last, as a reader would: in one folder, with
//! a server beside it.
//!
//! The blocks are read as those of the README (`super::readme`). A command that starts a server is given a free port, and the
//! later ones are told of it; the next such command ends the one before.

use super::binary::path;
use super::readme::{first_missing, shown};
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// A server that ends with the test.
struct Server {
    child: Child,
    address: String,
}

impl Server {
    fn start(command: &str, folder: &Path) -> Self {
        let mut child = shell(
            &format!("exec {command} --listen 127.0.0.1:0"),
            folder,
            None,
        )
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("a shell");
        let mut line = String::new();
        let out = child.stdout.take().expect("its output");
        BufReader::new(out).read_line(&mut line).expect("a line");
        let address = line.trim().strip_prefix("listening on ");
        let address = address.unwrap_or_else(|| panic!("`{command}` says `{line}`"));
        Self {
            address: address.to_owned(),
            child,
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(
            Command::new("kill")
                .arg(self.child.id().to_string())
                .status(),
        );
        drop(self.child.wait());
    }
}

/// A command in a shell that finds the program under its name.
fn shell(command: &str, folder: &Path, server: Option<&Server>) -> Command {
    let program = path();
    let program = program.parent().expect("its folder");
    let places = std::env::var("PATH").unwrap_or_default();
    let mut shell = Command::new("sh");
    shell
        .args(["-c", command])
        .current_dir(folder)
        .env("PATH", format!("{}:{places}", program.display()));
    if let Some(server) = server {
        shell.env("RUNGWISE_SERVER", format!("http://{}", server.address));
    }
    shell
}

#[test]
fn the_guide_goes_from_a_changed_limit_to_a_pack_in_force() {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let guide = std::fs::read_to_string(top.join("rules/GUIDE.md")).expect("the guide");
    let folder = tempfile::tempdir().expect("a folder");
    std::os::unix::fs::symlink(top.join("rules"), folder.path().join("rules")).expect("a link");
    let mut server: Option<Server> = None;
    let mut ran = 0;
    for shown in shown(&guide) {
        if shown.command.starts_with("rungwise serve") {
            drop(server.take());
            server = Some(Server::start(&shown.command, folder.path()));
            continue;
        }
        let run = shell(&shown.command, folder.path(), server.as_ref())
            .output()
            .expect("a shell");
        let mut printed = String::from_utf8(run.stdout).expect("text");
        printed.push_str(&String::from_utf8_lossy(&run.stderr));
        let missing = first_missing(&printed, &shown.output);
        assert_eq!(missing, None, "`{}` printed:\n{printed}", shown.command);
        assert!(
            !shown.output.is_empty() || run.status.success(),
            "`{}` ended with {}:\n{printed}",
            shown.command,
            run.status
        );
        ran += 1;
    }
    assert!(ran >= 12, "the guide shows only {ran} commands");
}
