//! The JSON Schemas of `rules/schema` beside what is really read: they accept every file of the project's packs, know the
//! keys and the words that the readers know and no others, and refuse what the readers refuse.
//!
//! Leaves to others: what a pack means; a schema judges one file by itself.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first thing that is not as it should be"
)]

use rungwise_pack::check;
use rungwise_pack::diagnostic::Diagnostic;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::diary;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

const KINDS: [&str; 7] = [
    "pack",
    "measures",
    "screening",
    "phases",
    "exercises",
    "text",
    "diary",
];

/// A key and a word that nothing is near to.
const PROBE: &str = "zzzzqqqq";

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn schema(kind: &str) -> Value {
    let path = top().join(format!("rules/schema/{kind}.json"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// The kind of a pack's file.
fn kind_of(name: &str) -> &str {
    if name.starts_with("text/") {
        "text"
    } else if name.starts_with("diaries/") {
        "diary"
    } else {
        name.strip_suffix(".toml").unwrap()
    }
}

/// Packs that the schemas are held against: the project's, the one that is begun with, and the small one of the checker's
/// tests.
fn packs() -> Vec<SourceFiles> {
    let mut folders: Vec<PathBuf> = std::fs::read_dir(top().join("rules"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.join("pack.toml").is_file())
        .collect();
    folders.sort();
    assert!(folders.len() >= 3, "{folders:?}");
    folders.push(top().join("crates/cli/src/rules/new/template"));
    folders.push(top().join("crates/pack/tests-data/small"));
    let read = |folder: PathBuf| rungwise_store::packs::read_dir(&folder).unwrap();
    folders
        .into_iter()
        .map(|folder| SourceFiles::new(read(folder)))
        .collect()
}

/// What a schema says against a file.
fn refused(kind: &str, text: &str) -> Vec<String> {
    let instance: Value = toml::from_str(text).expect("TOML");
    let validator = jsonschema::draft7::new(&schema(kind)).expect("a schema");
    let errors = validator.iter_errors(&instance);
    errors
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect()
}

#[test]
fn every_file_of_every_pack_is_accepted() {
    let mut seen = BTreeSet::new();
    for pack in packs() {
        for file in pack.files() {
            let kind = kind_of(&file.name);
            let refused = refused(kind, &file.text);
            assert!(refused.is_empty(), "{}: {refused:#?}", file.name);
            seen.insert(kind.to_owned());
        }
    }
    assert_eq!(seen.len(), KINDS.len(), "{seen:?}");
}

#[test]
fn every_key_is_described_and_every_table_is_closed() {
    fn look(node: &Value, at: &str, faults: &mut Vec<String>) {
        if let Some(keys) = node.get("properties").and_then(Value::as_object)
            && node.get("type") == Some(&Value::from("object"))
        {
            for (key, property) in keys {
                if property.get("description").is_none() {
                    let named = property.get("$ref").and_then(Value::as_str);
                    if named.is_none() {
                        faults.push(format!("{at}: `{key}` is not described"));
                    }
                }
            }
            if node.get("additionalProperties") != Some(&Value::from(false)) {
                faults.push(format!("{at} takes any key"));
            }
        }
        match node {
            Value::Object(object) => {
                for (key, inner) in object {
                    look(inner, &format!("{at}/{key}"), faults);
                }
            }
            Value::Array(list) => {
                for (index, inner) in list.iter().enumerate() {
                    look(inner, &format!("{at}/{index}"), faults);
                }
            }
            _ => {}
        }
    }
    let mut faults = Vec::new();
    for kind in KINDS {
        look(&schema(kind), kind, &mut faults);
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn what_several_schemas_define_is_the_same_in_all() {
    let mut known: BTreeMap<String, Value> = BTreeMap::new();
    for kind in KINDS {
        let schema = schema(kind);
        let definitions = schema.get("definitions").and_then(Value::as_object);
        for (name, definition) in definitions.into_iter().flatten() {
            let first = known.entry(name.clone()).or_insert(definition.clone());
            assert_eq!(first, definition, "{kind}: {name}");
        }
    }
    assert!(known.len() > 5);
}

/// What the readers say to a probe put into a file of a pack.
struct Readers {
    packs: Vec<SourceFiles>,
}

impl Readers {
    /// The words that the reader lists where it meets the probe, in the file `name` of a pack, replaced by `text`.
    fn words(&self, pack: usize, name: &str, text: &str) -> BTreeSet<String> {
        let files = &self.packs[pack];
        let found = if kind_of(name) == "diary" {
            let sound = check(files).pack.expect("a sound pack");
            diary::read(&sound, name, text).expect_err("the probe is refused")
        } else {
            let whole = files.get(name).unwrap().text.len();
            let edited = files.edited(name, 0..whole, text).unwrap();
            check(&edited).diagnostics
        };
        let quoted = format!("`{PROBE}`");
        let of_probe = |one: &&Diagnostic| one.message.contains(&quoted);
        let said = found.iter().find(of_probe).unwrap_or_else(|| {
            let messages: Vec<_> = found.iter().map(|one| &one.message).collect();
            panic!("{name}: the probe is not refused: {messages:#?}\n{text}")
        });
        let help = said.help.clone().unwrap_or_default();
        let lists = [said.label.as_str(), help.as_str()];
        let list = lists
            .iter()
            .find_map(|list| {
                list.strip_prefix("its keys are ")
                    .or_else(|| list.strip_prefix("one of "))
            })
            .unwrap_or_else(|| panic!("{name}: no list in {said:?}"));
        let words = list.split('`').skip(1).step_by(2);
        words.map(str::to_owned).collect()
    }
}

/// What was found of one place in a schema: the words that it has, and those that the reader lists.
#[derive(Default)]
struct Place {
    own: BTreeSet<String>,
    read: BTreeSet<String>,
}

/// Walks a file and its schema together, and probes each kind of table and each word once.
struct Walk<'w> {
    readers: &'w Readers,
    schema: &'w Value,
    kind: &'w str,
    pack: usize,
    name: String,
    file: Value,
    /// Tables probed already: their place in the schema and their keys.
    done: &'w mut BTreeSet<(String, Vec<String>)>,
    places: &'w mut BTreeMap<String, Place>,
}

impl Walk<'_> {
    fn walk(&mut self, at: &str, node: &Value, node_at: &str) {
        let (node, node_at) = self.resolved(node, node_at);
        let instance = self.file.pointer(at).unwrap().clone();
        for many in ["allOf", "anyOf"] {
            let branches = node.get(many).and_then(Value::as_array).cloned();
            for (index, branch) in branches.into_iter().flatten().enumerate() {
                if branch.get("if").is_none() {
                    self.walk(at, &branch, &format!("{node_at}/{many}/{index}"));
                }
            }
        }
        match &instance {
            Value::Object(object) => {
                if let Some(keys) = node.get("properties").and_then(Value::as_object) {
                    let own = keys.keys().cloned().collect();
                    self.probe_table(at, &node_at, object, own);
                }
                for key in object.keys() {
                    let own = node.pointer(&format!("/properties/{}", escaped(key)));
                    let others = node.get("additionalProperties");
                    let next = match (own, others) {
                        (Some(own), _) => Some((own, format!("{node_at}/properties/{key}"))),
                        (None, Some(others)) if others.is_object() => {
                            Some((others, format!("{node_at}/*")))
                        }
                        _ => None,
                    };
                    if let Some((next, next_at)) = next {
                        self.walk(&format!("{at}/{}", escaped(key)), next, &next_at);
                    }
                }
            }
            Value::Array(list) => {
                if let Some(items) = node.get("items") {
                    for index in 0..list.len() {
                        self.walk(&format!("{at}/{index}"), items, &format!("{node_at}/items"));
                    }
                }
            }
            Value::String(_) => {
                if let Some(words) = node.get("enum").and_then(Value::as_array) {
                    let own = words.iter().map(|word| word.as_str().unwrap().to_owned());
                    self.probe_word(at, &node_at, own.collect());
                }
            }
            _ => {}
        }
    }

    /// A node with its reference followed, and where it then stands.
    fn resolved(&self, node: &Value, at: &str) -> (Value, String) {
        match node.get("$ref").and_then(Value::as_str) {
            Some(named) => {
                let pointer = named.strip_prefix('#').unwrap();
                (
                    self.schema.pointer(pointer).unwrap().clone(),
                    pointer.to_owned(),
                )
            }
            None => (node.clone(), at.to_owned()),
        }
    }

    fn probe_table(
        &mut self,
        at: &str,
        node_at: &str,
        object: &serde_json::Map<String, Value>,
        own: BTreeSet<String>,
    ) {
        let words: Vec<String> = object
            .iter()
            .map(|(key, value)| match (key.as_str(), value.as_str()) {
                // What decides which keys belong to the table.
                ("computed" | "motion" | "order", Some(word)) => format!("{key} {word}"),
                _ => key.clone(),
            })
            .collect();
        let mut file = self.file.clone();
        let table = file.pointer_mut(at).unwrap().as_object_mut().unwrap();
        table.insert(PROBE.to_owned(), Value::from(1));
        self.probe(node_at, words, own, &file);
    }

    fn probe_word(&mut self, at: &str, node_at: &str, own: BTreeSet<String>) {
        let mut file = self.file.clone();
        *file.pointer_mut(at).unwrap() = Value::from(PROBE);
        self.probe(node_at, Vec::new(), own, &file);
    }

    fn probe(&mut self, node_at: &str, words: Vec<String>, own: BTreeSet<String>, file: &Value) {
        let id = format!("{}{node_at}", self.kind);
        if !self.done.insert((id.clone(), words)) {
            return;
        }
        let text = toml::to_string(file).unwrap();
        let read = self.readers.words(self.pack, &self.name, &text);
        let place = self.places.entry(id).or_default();
        place.own = own;
        place.read.extend(read);
    }
}

fn escaped(key: &str) -> String {
    key.replace('~', "~0").replace('/', "~1")
}

/// Every place of a schema that has keys of its own or lists words.
fn places(kind: &str) -> BTreeSet<String> {
    fn look(node: &Value, at: &str, found: &mut BTreeSet<String>) {
        let Some(object) = node.as_object() else {
            return;
        };
        if object.contains_key("properties") || object.contains_key("enum") {
            found.insert(at.to_owned());
        }
        for (key, inner) in object {
            match (key.as_str(), inner) {
                ("properties", Value::Object(keys)) => {
                    for (key, inner) in keys {
                        look(inner, &format!("{at}/properties/{key}"), found);
                    }
                }
                ("definitions", Value::Object(names)) => {
                    for (name, inner) in names {
                        look(inner, &format!("/definitions/{name}"), found);
                    }
                }
                ("additionalProperties", _) => look(inner, &format!("{at}/*"), found),
                ("items", _) => look(inner, &format!("{at}/items"), found),
                ("anyOf" | "allOf", Value::Array(branches)) => {
                    for (index, branch) in branches.iter().enumerate() {
                        if branch.get("if").is_none()
                            && branch
                                .get("required")
                                .is_none_or(|_| branch.get("properties").is_some())
                        {
                            look(branch, &format!("{at}/{key}/{index}"), found);
                        }
                    }
                }
                _ => {}
            }
        }
    }
    let mut found = BTreeSet::new();
    look(&schema(kind), "", &mut found);
    found.into_iter().map(|at| format!("{kind}{at}")).collect()
}

#[test]
fn the_schemas_know_the_keys_and_words_that_the_readers_know() {
    let readers = Readers { packs: packs() };
    let mut found: BTreeMap<String, Place> = BTreeMap::new();
    let mut done = BTreeSet::new();
    let mut wanted = BTreeSet::new();
    for kind in KINDS {
        let schema = schema(kind);
        wanted.extend(places(kind));
        // The small packs come last and are quickest: they are asked first.
        for pack in (0..readers.packs.len()).rev() {
            let mut files: Vec<(String, String)> = readers.packs[pack]
                .files()
                .iter()
                .filter(|file| kind_of(&file.name) == kind)
                .map(|file| (file.name.clone(), file.text.clone()))
                .collect();
            if kind == "diary" && pack == readers.packs.len() - 2 {
                files.push(("diaries/orders.toml".to_owned(), ORDERS.to_owned()));
            }
            for (name, text) in files {
                Walk {
                    readers: &readers,
                    schema: &schema,
                    kind,
                    pack,
                    name,
                    file: toml::from_str(&text).unwrap(),
                    done: &mut done,
                    places: &mut found,
                }
                .walk("", &schema, "");
            }
        }
    }
    for (at, place) in &found {
        assert_eq!(
            place.own, place.read,
            "{at}: the schema's, and the reader's"
        );
    }
    let probed: BTreeSet<String> = found.keys().cloned().collect();
    let missed: Vec<_> = wanted.difference(&probed).collect();
    assert!(missed.is_empty(), "nothing in any pack tries {missed:#?}");
}

/// A diary of the pack to begin with that has every kind of directive, a set, and a measured band.
const ORDERS: &str = r#"
diary = "orders"
about = "Invented: every kind of directive."
opened = "2026-01-05"
born = "1970-01-01"
imported = false
[usual]
screening = { "feeling unwell" = "no" }
session = {}
exercise = { "pain during exercise" = 1 }
morning_after = { "pain next morning" = 1 }
[[day]]
date = "2026-01-05"
until = "2026-01-05"
every = 1
reported = "2026-01-05"
screening = {}
equipment = []
room_mm = 2000
band = [{ label = "light", rest_length_mm = 1000, points = [[50, 8], [100, 15.5]], elongation_max = 100, may_be_doubled = false }]
sign_off = { accepted = true, who = "invented" }
session = [{ number = 1, done = "only those named", readings = {}, readings_each = {}, not_reported = [], next_morning = {}, exercises = { "slow-lift" = { sets = [{ reps = 8, hold = 1 }], readings = {} }, "long-lift" = { skipped = "otherwise" } } }]
expect = { outcome = "BEGIN", phase = "gentle", moves = { lift = "INTRODUCE" }, places = { lift = "slow-lift" }, doses = { "slow-lift" = { reps = 8 } }, because = [], absent = [], reviews = [] }
directive = [
  { who = "invented", why = "invented", order = "hold", until = "2026-02-01" },
  { who = "invented", why = "invented", order = "cap", exercise = "slow-lift", variable = "reps", at_most = 8 },
  { who = "invented", why = "invented", order = "leave out", exercise = "slow-lift" },
  { who = "invented", why = "invented", order = "add", exercise = "slow-lift" },
  { who = "invented", why = "invented", order = "set dose", exercise = "slow-lift", dose = { reps = 8 } },
  { who = "invented", why = "invented", order = "place", phase = "gentle", places = { "slow-lift" = { reps = 8 } } },
  { who = "invented", why = "invented", order = "clear", rules = ["unwell"] },
]
"#;

/// Mistakes that people make: in which file of the pack to begin with, what stands there, and what is written instead.
const MISTAKES: [(&str, &str, &str); 24] = [
    ("pack.toml", "review_days = 14", "reviewdays = 14"),
    ("pack.toml", "review_days = 14", "review_days = \"14\""),
    ("pack.toml", "review_days = 14", "review_days = 0"),
    ("pack.toml", "sign_off = []", "sign_off = [\"HOLD\"]"),
    ("pack.toml", "id = \"my-pack\"", "id = \"My pack\""),
    ("pack.toml", "language_version = 1", "language_version = 2"),
    (
        "pack.toml",
        "cautions = [\"caution.clinician\"]",
        "cautions = []",
    ),
    (
        "measures.toml",
        "carrier = \"exercise\"",
        "carrier = \"exercises\"",
    ),
    ("measures.toml", "worse = \"higher\"", "worse = \"up\""),
    ("measures.toml", "step = 1\n", ""),
    (
        "measures.toml",
        "event = \"fall\"",
        "event = \"fall\"\nmin = 0",
    ),
    (
        "measures.toml",
        "computed = \"sessions in phase\"",
        "computed = \"sessions\"",
    ),
    (
        "measures.toml",
        "choices = [\"no\", \"yes\"]",
        "choices = [\"no\"]",
    ),
    (
        "screening.toml",
        "urgency = \"urgent\"",
        "urgency = \"soon\"",
    ),
    ("screening.toml", "route = \"your own doctor\"\n", ""),
    ("phases.toml", "[[phase.enter]]", "[[phase.entry]]"),
    (
        "phases.toml",
        "when = \"slow-lift has reached reps 10\"",
        "when = { every = [\"slow-lift has reached reps 10\"] }",
    ),
    (
        "phases.toml",
        "when = \"slow-lift has reached reps 10\"",
        "when = []",
    ),
    (
        "phases.toml",
        "sessions_a_week = 7",
        "sessions_a_week = 7.5",
    ),
    ("exercises.toml", "full = \"stays\"", "full = \"stay\""),
    (
        "exercises.toml",
        "variable = \"reps\"",
        "variable = \"repetitions\"",
    ),
    (
        "exercises.toml",
        "start = { reps = 8 }",
        "start = { reps = \"8\" }",
    ),
    (
        "text/en.toml",
        "\"slow-lift.name\" = \"Slow lift\"",
        "slow-lift.name = \"Slow lift\"",
    ),
    (
        "diaries/first.toml",
        "outcome = \"BEGIN\"",
        "outcome = \"START\"",
    ),
];

#[test]
fn what_people_write_by_mistake_is_refused_by_the_schema_as_by_the_reader() {
    let packs = packs();
    let begun = &packs[packs.len() - 2];
    for (name, right, wrong) in MISTAKES {
        let text = &begun.get(name).unwrap().text;
        let mistaken = text.replacen(right, wrong, 1);
        assert_ne!(*text, mistaken, "{name}: {right}");
        let refused = refused(kind_of(name), &mistaken);
        assert!(!refused.is_empty(), "{name}: `{wrong}` is accepted");
        let read = if kind_of(name) == "diary" {
            let sound = check(begun).pack.expect("a sound pack");
            diary::read(&sound, name, &mistaken).is_ok()
        } else {
            let edited = begun.edited(name, 0..text.len(), &mistaken).unwrap();
            check(&edited).pack.is_some()
        };
        assert!(!read, "{name}: the reader takes `{wrong}`");
    }
}
