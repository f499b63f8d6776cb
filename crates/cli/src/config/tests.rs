//! What stands above what, and that the example configuration is one.

use super::{Config, LISTEN, LogFormat};
use crate::args::ServeArgs;
use crate::failure::Failure;
use std::path::{Path, PathBuf};

fn args(config: Option<&Path>) -> ServeArgs {
    ServeArgs {
        config: config.map(Path::to_owned),
        store: None,
        listen: None,
        packs: Vec::new(),
        leads: Vec::new(),
    }
}

fn of_text(text: &str, change: impl FnOnce(&mut ServeArgs)) -> Result<Config, Failure> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("rungwise.toml");
    std::fs::write(&path, text).unwrap();
    let mut args = args(Some(&path));
    change(&mut args);
    Config::of(&args)
}

#[test]
fn without_anything_the_defaults_listen_to_this_machine_only() {
    let config = Config::of(&args(None)).unwrap();
    assert_eq!(config.listen, LISTEN);
    assert!(config.listen.ip().is_loopback());
    assert_eq!(config.store, PathBuf::from("rungwise-store"));
    assert!(config.packs.is_empty());
}

#[test]
fn the_file_stands_above_the_defaults_and_the_command_line_above_the_file() {
    let text = "listen = \"127.0.0.1:1\"\nstore = \"a\"\npacks = [\"p\"]\nlog_format = \"json\"\nleads = [\"k\"]\n";
    let file = of_text(text, |_| ()).unwrap();
    assert_eq!(
        (file.listen.port(), file.store, file.packs),
        (1, "a".into(), vec!["p".into()])
    );
    assert_eq!(file.log_format, LogFormat::Json);
    assert_eq!(file.leads, ["k"]);
    let both = of_text(text, |args| {
        args.listen = Some("127.0.0.1:2".parse().unwrap());
        args.store = Some("b".into());
        args.packs = vec!["q".into()];
        args.leads = vec!["l".into()];
    });
    let both = both.unwrap();
    assert_eq!(
        (both.listen.port(), both.store, both.packs),
        (2, "b".into(), vec!["q".into()])
    );
    assert_eq!(both.leads, ["l"]);
}

#[test]
fn an_unknown_key_is_refused_with_its_place() {
    let refused = of_text("stoer = \"a\"\n", |_| ()).unwrap_err().to_string();
    assert!(
        refused.contains("stoer") && refused.contains("line 1"),
        "{refused}"
    );
}

#[test]
fn the_example_configuration_says_the_defaults() {
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../deploy/rungwise.example.toml");
    assert_eq!(
        Config::of(&args(Some(&example))).unwrap(),
        Config::of(&args(None)).unwrap()
    );
}
