//! Which crate may import which, what the pure crates may stand on, and under which licences.

use super::{none_of, top};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

/// The design's table: for each crate, which of ours it may import (`tests` may import all).
const MAY_IMPORT: [(&str, &[&str]); 9] = [
    ("rungwise-pack", &[]),
    ("rungwise-bands", &[]),
    ("rungwise-ledger", &[]),
    ("rungwise-engine", &["rungwise-pack", "rungwise-bands"]),
    (
        "rungwise-rehearsal",
        &["rungwise-pack", "rungwise-bands", "rungwise-engine"],
    ),
    ("rungwise-store", &["rungwise-pack", "rungwise-ledger"]),
    (
        "rungwise-api",
        &[
            "rungwise-pack",
            "rungwise-bands",
            "rungwise-engine",
            "rungwise-rehearsal",
            "rungwise-ledger",
        ],
    ),
    (
        "rungwise-server",
        &[
            "rungwise-pack",
            "rungwise-bands",
            "rungwise-engine",
            "rungwise-rehearsal",
            "rungwise-ledger",
            "rungwise-store",
            "rungwise-api",
        ],
    ),
    (
        "rungwise",
        &[
            "rungwise-pack",
            "rungwise-bands",
            "rungwise-engine",
            "rungwise-rehearsal",
            "rungwise-ledger",
            "rungwise-store",
            "rungwise-api",
            "rungwise-server",
        ],
    ),
];

/// The pure crates.
const PURE: [&str; 5] = [
    "rungwise-pack",
    "rungwise-bands",
    "rungwise-ledger",
    "rungwise-engine",
    "rungwise-rehearsal",
];

/// What may not stand anywhere below a pure crate, each with what it would bring.
const NOT_PURE: [(&str, &str); 22] = [
    ("tokio", "async"),
    ("async-std", "async"),
    ("smol", "async"),
    ("futures-executor", "async"),
    ("hyper", "the network"),
    ("tonic", "the wire"),
    ("h2", "the network"),
    ("mio", "the network"),
    ("socket2", "the network"),
    ("sled", "the disk"),
    ("tempfile", "the disk"),
    ("memmap2", "the disk"),
    ("rustix", "system calls"),
    ("rand", "randomness"),
    ("getrandom", "randomness"),
    ("fastrand", "randomness"),
    ("chrono", "the clock"),
    ("time", "the clock"),
    ("parking_lot", "locks"),
    ("crossbeam-channel", "threads"),
    ("rayon", "threads"),
    ("libm", "floats"),
];

/// Licences that a dependency may come under (one of them, where it offers a choice).
const LICENCES: [&str; 12] = [
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "Unicode-3.0",
    "CC0-1.0",
    "0BSD",
    "Unlicense",
    "MIT-0",
];

/// What `cargo metadata` says, cut down to what is asked here.
struct Packages {
    /// Package id to name.
    names: BTreeMap<String, String>,
    /// Package id to licence expression.
    licences: BTreeMap<String, String>,
    /// Package id to the ids it uses in a normal build.
    normal: BTreeMap<String, Vec<String>>,
    /// Ids of our own.
    members: Vec<String>,
}

fn packages() -> Packages {
    let cargo = std::env::var_os("CARGO").expect("cargo sets CARGO for its tests");
    let said = Command::new(cargo)
        .args([
            "metadata",
            "--format-version",
            "1",
            "--locked",
            "--filter-platform",
            &platform(),
        ])
        .current_dir(top())
        .output()
        .expect("cargo runs");
    assert!(
        said.status.success(),
        "cargo metadata failed: {}",
        String::from_utf8_lossy(&said.stderr)
    );
    let said: Value = serde_json::from_slice(&said.stdout).expect("cargo metadata is JSON");
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let packages = list(&said["packages"]);
    let normal = list(&said["resolve"]["nodes"])
        .iter()
        .map(|node| {
            let used = list(&node["deps"])
                .iter()
                .filter(|dep| {
                    list(&dep["dep_kinds"])
                        .iter()
                        .any(|kind| kind["kind"].is_null())
                })
                .map(|dep| text(&dep["pkg"]))
                .collect();
            (text(&node["id"]), used)
        })
        .collect();
    Packages {
        names: packages
            .iter()
            .map(|package| (text(&package["id"]), text(&package["name"])))
            .collect(),
        licences: packages
            .iter()
            .map(|package| (text(&package["id"]), text(&package["license"])))
            .collect(),
        normal,
        members: list(&said["workspace_members"]).iter().map(text).collect(),
    }
}

/// The platform of this build, so that nothing is asked about packages that only others need.
fn platform() -> String {
    let said = Command::new("rustc")
        .arg("-vV")
        .output()
        .expect("rustc runs");
    let said = String::from_utf8(said.stdout).expect("rustc speaks UTF-8");
    said.lines()
        .find_map(|line| line.strip_prefix("host: "))
        .expect("rustc names its host")
        .to_owned()
}

impl Packages {
    fn id(&self, name: &str) -> &str {
        let found = self.members.iter().find(|id| self.names[*id] == name);
        found.unwrap_or_else(|| panic!("no crate `{name}` in the workspace"))
    }

    /// Names of everything that stands below a crate in a normal build.
    fn closure(&self, name: &str) -> BTreeSet<&str> {
        self.closure_but(name, &[])
    }

    /// The same, without the crates `leave` and what stands only below them.
    fn closure_but(&self, name: &str, leave: &[&str]) -> BTreeSet<&str> {
        let mut seen = BTreeSet::new();
        let mut open = vec![self.id(name)];
        while let Some(id) = open.pop() {
            for below in &self.normal[id] {
                if leave.contains(&self.names[below].as_str()) {
                    continue;
                }
                if seen.insert(below.as_str()) {
                    open.push(below);
                }
            }
        }
        seen.into_iter().map(|id| self.names[id].as_str()).collect()
    }
}

#[test]
fn the_house_has_the_crates_of_the_design_and_no_other() {
    let packages = packages();
    let have: BTreeSet<&str> = packages
        .members
        .iter()
        .map(|id| packages.names[id].as_str())
        .collect();
    let want: BTreeSet<&str> = MAY_IMPORT
        .iter()
        .map(|(name, _)| *name)
        .chain(["rungwise-tests"])
        .collect();
    assert_eq!(have, want);
}

#[test]
fn each_crate_imports_only_what_it_may() {
    let packages = packages();
    let mut findings = Vec::new();
    for (name, may) in MAY_IMPORT {
        for below in &packages.normal[packages.id(name)] {
            let below = packages.names[below].as_str();
            if below.starts_with("rungwise") && !may.contains(&below) {
                findings.push(format!("`{name}` imports `{below}`"));
            }
        }
    }
    none_of("imports that the design does not allow", &findings);
}

#[test]
fn pure_crates_stand_on_nothing_that_acts() {
    let packages = packages();
    let mut findings = Vec::new();
    for name in PURE {
        // `bands` alone computes in floats; what leaves it is exact, so those above it get none.
        let floats = if name == "rungwise-bands" {
            "libm"
        } else {
            "rungwise-bands"
        };
        let closure = packages.closure_but(name, &[floats]);
        for (banned, brings) in NOT_PURE {
            if closure.contains(banned) {
                findings.push(format!(
                    "`{name}` stands on `{banned}`, which brings {brings}"
                ));
            }
        }
    }
    none_of("pure crates that are not", &findings);
}

#[test]
fn purity_canary() {
    let packages = packages();
    assert!(
        packages.closure("rungwise-store").contains("sled"),
        "the closure does not follow dependencies"
    );
    assert!(
        packages.closure("rungwise").contains("tokio"),
        "the closure does not follow dependencies"
    );
    assert!(
        packages.closure("rungwise-bands").contains("libm"),
        "`bands` computes without the pinned `libm`"
    );
    assert!(
        !packages
            .closure_but("rungwise-bands", &["libm"])
            .contains("libm"),
        "what is left out is followed all the same"
    );
}

#[test]
fn only_edge_crates_have_clippy_settings_of_their_own() {
    let own = |name: &str| {
        top()
            .join("crates")
            .join(name)
            .join(".clippy.toml")
            .exists()
    };
    for (pure, edge) in [
        ("pack", "store"),
        ("ledger", "server"),
        ("engine", "api"),
        ("rehearsal", "cli"),
    ] {
        assert!(
            !own(pure),
            "`{pure}` would escape the bans of crates/.clippy.toml"
        );
        assert!(own(edge), "`{edge}` says nowhere what it may not touch");
    }
    assert!(top().join("crates/.clippy.toml").exists());
}

/// What a clippy settings file bans, by path.
fn bans(settings: &str) -> BTreeSet<&str> {
    settings
        .lines()
        .filter_map(|line| line.trim().strip_prefix("{ path = \""))
        .filter_map(|rest| rest.split_once('"'))
        .map(|(path, _)| path)
        .collect()
}

#[test]
fn bands_may_touch_floats_and_nothing_else() {
    let settings = |path: &str| std::fs::read_to_string(top().join(path)).expect("a settings file");
    let (all, own) = (
        settings("crates/.clippy.toml"),
        settings("crates/bands/.clippy.toml"),
    );
    let missing: Vec<&str> = bans(&all).difference(&bans(&own)).copied().collect();
    assert_eq!(missing, ["f32", "f64"]);
    assert!(
        bans(&own).contains("f64::sin"),
        "a sine of the standard library is not banned"
    );
}

/// Whether at least one way to take a licence expression is allowed.
fn allowed(expression: &str) -> bool {
    let plain = expression.replace(['(', ')'], " ").replace('/', " OR ");
    plain.split(" OR ").any(|choice| {
        choice
            .split(" AND ")
            .all(|one| LICENCES.contains(&one.trim()))
    })
}

#[test]
fn every_dependency_comes_under_a_free_licence() {
    let packages = packages();
    let findings: Vec<String> = packages
        .licences
        .iter()
        .filter(|(_, licence)| !allowed(licence))
        .map(|(id, licence)| format!("{}: `{licence}`", packages.names[id]))
        .collect();
    none_of("licences that are not on the list", &findings);
}

#[test]
fn licences_canary() {
    assert!(allowed("MIT OR Apache-2.0"));
    assert!(allowed("GPL-3.0-only OR MIT"));
    assert!(allowed("(MIT OR Apache-2.0) AND Unicode-3.0"));
    assert!(!allowed("GPL-3.0-only"));
    assert!(!allowed(""));
}
