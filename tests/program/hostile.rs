//! Broken and hostile packs: `rungwise rules check` says what is wrong, soon and in little memory, whatever the folder holds.
//!
//! Time and memory are held by the kernel: a program that takes more is ended, and the test fails. The bounds are there so
//! that nothing grows with the square of a file or without end; they say nothing of speed.

use super::binary;
use std::ffi::OsStr;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// Most address space, in KiB; the program itself maps about 90 MB.
const MEMORY_KIB_MAX: u32 = 400_000;
/// Most time on a processor, in s.
const CPU_S_MAX: u32 = 10;
/// Most that is printed, in bytes.
const PRINTED_BYTES_MAX: usize = 1_000_000;

/// The program on a command line, held to bounds.
fn held(args: &[&OsStr], memory_kib: u32) -> Output {
    let script = format!("ulimit -v {memory_kib} && ulimit -t {CPU_S_MAX} && exec \"$0\" \"$@\"");
    Command::new("sh")
        .args(["-c", &script])
        .arg(binary::path())
        .args(args)
        .env("RUST_BACKTRACE", "0")
        .output()
        .expect("sh runs")
}

/// `rungwise rules COMMAND` on a folder.
fn rules(command: &str, folder: &Path, memory_kib: u32) -> Output {
    held(
        &["rules".as_ref(), command.as_ref(), folder.as_os_str()],
        memory_kib,
    )
}

/// A sound pack to spoil.
fn pack(folder: &Path) {
    let made = binary::run(&["rules".as_ref(), "new".as_ref(), folder.as_os_str()]);
    assert_eq!(made.status.code(), Some(0), "{}", binary::complaint(&made));
}

/// Spoils a sound pack, checks it, and expects an exit code and words on either stream.
fn check(spoil: impl Fn(&Path), code: i32, words: &[&str]) {
    spoilt("check", spoil, code, words);
}

fn spoilt(command: &str, spoil: impl Fn(&Path), code: i32, words: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().join("pack");
    pack(&folder);
    spoil(&folder);
    let run = rules(command, &folder, MEMORY_KIB_MAX);
    let said = format!("{}{}", binary::text(&run), binary::complaint(&run));
    let shown = said.chars().take(600).collect::<String>();
    assert_eq!(
        run.status.code(),
        Some(code),
        "{words:?}: {:?} {shown}",
        run.status
    );
    assert!(
        said.len() < PRINTED_BYTES_MAX,
        "{words:?}: {} bytes",
        said.len()
    );
    for word in words {
        assert!(said.contains(word), "no `{word}` in {shown}");
    }
}

/// Puts `text` in the place of a file.
fn instead(name: &'static str, text: impl AsRef<[u8]>) -> impl Fn(&Path) {
    move |folder| fs::write(folder.join(name), text.as_ref()).unwrap()
}

/// Puts `new` in the place of `old` in a file.
fn edit(name: &'static str, old: &'static str, new: String) -> impl Fn(&Path) {
    move |folder| {
        let path = folder.join(name);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(old), "{name}: {old}");
        fs::write(path, text.replacen(old, &new, 1)).unwrap();
    }
}

/// Adds to the end of a file.
fn add(name: &'static str, more: String) -> impl Fn(&Path) {
    move |folder| {
        let path = folder.join(name);
        let text = fs::read_to_string(&path).unwrap();
        fs::write(path, text + &more).unwrap();
    }
}

const WHEN: &str = "when = \"slow-lift has reached reps 10\"";

#[test]
fn nested_without_end() {
    let deep = |open: &str| instead("phases.toml", format!("x = {}", open.repeat(100_000)));
    check(deep("["), 1, &["RW0005", "recurs"]);
    check(deep("{ a = "), 1, &["RW0005", "recurs"]);
    let header = format!("[{}]\n", vec!["a"; 200_000].join("."));
    check(instead("phases.toml", header), 1, &["RW0005", "recurs"]);
    let dotted = format!("{} = 1\n", vec!["a"; 200_000].join("."));
    check(instead("phases.toml", dotted), 1, &["RW0005", "recurs"]);
    let levels = format!("when = {}\"x\"{}", "[".repeat(30), "]".repeat(30));
    check(
        edit("phases.toml", WHEN, levels),
        1,
        &["RW0111", "too deeply"],
    );
}

#[test]
fn larger_than_a_pack_may_be() {
    let large = "#".repeat(10_000_000);
    check(
        add("phases.toml", large),
        3,
        &["phases.toml", "more than 1048576 bytes"],
    );
    let many = |folder: &Path| {
        for number in 0..10_000 {
            fs::write(folder.join(format!("diaries/{number}.toml")), "").unwrap();
        }
    };
    check(many, 3, &["more than 512 files"]);
    let others = |folder: &Path| {
        for number in 0..10_000 {
            fs::write(folder.join(format!("diaries/{number}.txt")), "").unwrap();
        }
    };
    check(others, 3, &["more than 4096 files and folders"]);
    let deep = |folder: &Path| fs::create_dir_all(folder.join("a/b/c/d/e")).unwrap();
    check(deep, 3, &["levels of directories"]);
}

#[test]
fn more_of_anything_than_may_be() {
    let sentences = format!("when = [{}]", "\"a\", ".repeat(100_000));
    check(
        edit("phases.toml", WHEN, sentences),
        1,
        &["RW0111", "at most 10000 sentences"],
    );
    let measure = |number| {
        format!(
            "\n[[measure]]\nname = \"m{number}\"\nnumbered = 100\nchoices = [\"no\", \"yes\"]\ncarrier = \"screening\"\n\
             expected = true\nreported_by = [\"patient\"]\n"
        )
    };
    let measures: String = (0..6_000).map(measure).collect();
    check(
        add("measures.toml", measures),
        1,
        &["RW0111", "at most 1000"],
    );
    let texts: String = (0..50_000)
        .map(|number| format!("\"k{number}\" = \"x\"\n"))
        .collect();
    check(
        add("text/en.toml", texts),
        1,
        &["RW0111", "at most 5000 texts"],
    );
    let keys: String = (0..60_000)
        .map(|number| format!("k{number} = 1\n"))
        .collect();
    check(
        edit("pack.toml", "id = ", format!("{keys}id = ")),
        1,
        &["RW0101", "k0"],
    );
    let copies = |name: &'static str, from: &'static str, key: &'static str, count: usize| {
        move |folder: &Path| {
            let path = folder.join(name);
            let text = fs::read_to_string(&path).unwrap();
            let part = text.get(text.rfind(from).unwrap()..).unwrap().to_owned();
            let copies: String = (0..count)
                .map(|number| part.replace(key, &format!("{key}-{number}")))
                .collect();
            fs::write(&path, text + &copies).unwrap();
        }
    };
    let phases = copies("phases.toml", "[[phase]]", "full", 700);
    check(phases, 1, &["RW0111", "at most 50 phases"]);
    let exercises = copies("exercises.toml", "[[line.exercise]]", "long-lift", 800);
    check(exercises, 1, &["RW0111", "at most 500 exercises"]);
}

/// As much as the bounds allow is still judged.
#[test]
fn as_much_as_may_be() {
    let sentence = "\"pain next morning at most 2 in each of the last 3 sessions\",\n";
    let sentences = format!("when = [{}]", sentence.repeat(9_900));
    check(edit("phases.toml", WHEN, sentences), 0, &["is sound"]);
    let refers = |folder: &Path| {
        let path = folder.join("screening.toml");
        let text = fs::read_to_string(&path).unwrap();
        let part = text.get(text.find("[[refer]]").unwrap()..).unwrap();
        let copies: String = (0..1_500)
            .map(|number| part.replace("\"unwell\"", &format!("\"unwell-{number}\"")))
            .collect();
        fs::write(&path, copies).unwrap();
    };
    check(refers, 0, &["is sound"]);
}

#[test]
fn no_text_and_no_toml() {
    check(
        instead("phases.toml", b"# \xff\xfe\n"),
        3,
        &["phases.toml", "not UTF-8 text"],
    );
    check(
        add("phases.toml", "\0\0".to_owned()),
        1,
        &["RW0005", "phases.toml"],
    );
    for line in ["[\n", "\r", "a = \"\n", "= 1\n", "\"\"\"\n"] {
        check(
            instead("phases.toml", line.repeat(100_000)),
            1,
            &["RW0005", "phases.toml"],
        );
    }
    let twice = "aim = \"Do more of it.\"\n".repeat(20_000);
    check(
        edit("phases.toml", "aim = \"Do more of it.\"\n", twice),
        1,
        &["RW0005", "duplicate key"],
    );
}

#[test]
fn what_is_no_file() {
    let link = |folder: &Path| {
        fs::remove_file(folder.join("phases.toml")).unwrap();
        std::os::unix::fs::symlink("/etc/passwd", folder.join("phases.toml")).unwrap();
    };
    check(link, 3, &["phases.toml", "a symbolic link"]);
    let zero = |folder: &Path| {
        std::os::unix::fs::symlink("/dev/zero", folder.join("diaries/zero.toml")).unwrap();
    };
    check(zero, 3, &["diaries/zero.toml", "a symbolic link"]);
    let above = |folder: &Path| std::os::unix::fs::symlink("..", folder.join("above")).unwrap();
    check(above, 0, &["is sound"]);
    let pipe = |folder: &Path| {
        let made = Command::new("mkfifo")
            .arg(folder.join("pipe.toml"))
            .status()
            .unwrap();
        assert!(made.success());
    };
    check(pipe, 3, &["pipe.toml", "a pipe or a device"]);
}

#[test]
fn one_thing_that_is_too_long() {
    let sentence = format!("when = \"{}\"", "slow-lift has reached ".repeat(45_000));
    check(
        edit("phases.toml", WHEN, sentence),
        1,
        &["RW0111", "the sentence is too long"],
    );
    let name = format!("name = \"{}\"", "feeling ".repeat(100_000).trim());
    check(
        edit("measures.toml", "name = \"feeling unwell\"", name),
        1,
        &["RW0109"],
    );
    let key = format!("rule = \"{}\"", "a".repeat(800_000));
    check(
        edit("phases.toml", "rule = \"full-is-done\"", key),
        1,
        &["RW0109"],
    );
    let digits = "7".repeat(10_000);
    let count = format!("sessions_a_week = {digits}");
    check(
        edit("phases.toml", "sessions_a_week = 7", count),
        1,
        &["RW0105"],
    );
    let number = format!("max = 1.{digits}");
    check(edit("measures.toml", "max = 10", number), 1, &["RW0105"]);
    check(
        edit("measures.toml", "max = 10", "max = 1e999999999".to_owned()),
        1,
        &["RW0105"],
    );
    let values: Vec<String> = (1..=100).map(|number| number.to_string()).collect();
    let row = |variable: &str| {
        let values = values.join(", ");
        format!(
            "[[line.exercise.ladder]]\nvariable = \"{variable}\"\nvalues = [{values}]\nfull = \"returns\"\njudgement = {{ by = \"a\", why = \"b\" }}\n"
        )
    };
    let rows: String = ["hold time", "rest", "range"].map(row).concat();
    let ladder = edit(
        "exercises.toml",
        "[line.exercise.climb]",
        format!("{rows}[line.exercise.climb]"),
    );
    check(ladder, 1, &["the ladder of `slow-lift` is too long"]);
}

#[test]
fn diaries_too() {
    let keys: String = (0..60_000)
        .map(|number| format!("k{number} = 1\n"))
        .collect();
    let keys = edit("diaries/first.toml", "diary = ", format!("{keys}diary = "));
    spoilt("rehearse", keys, 1, &["RW0101", "k0"]);
    let lines = instead("diaries/first.toml", "[\n".repeat(100_000));
    spoilt("rehearse", lines, 1, &["RW0005", "first.toml"]);
    let days = edit(
        "diaries/first.toml",
        "until = \"2026-01-08\"",
        "until = \"9999-12-31\"".to_owned(),
    );
    spoilt("rehearse", days, 1, &["RW0111", "the diary is too long"]);
}

/// Files that are named by hand end too.
#[test]
fn a_file_without_end() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().join("pack");
    pack(&folder);
    let run = held(
        &[
            "next".as_ref(),
            "/dev/zero".as_ref(),
            "--pack".as_ref(),
            folder.as_os_str(),
        ],
        MEMORY_KIB_MAX,
    );
    assert_eq!(run.status.code(), Some(3), "{}", binary::complaint(&run));
    let said = binary::complaint(&run);
    assert!(
        said.contains("/dev/zero") && said.contains("more than 1048576 bytes"),
        "{said}"
    );
}

/// What is held is held: with no memory to speak of nothing is judged.
#[test]
fn bounds_canary() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().join("pack");
    pack(&folder);
    let run = rules("check", &folder, 20_000);
    assert_ne!(run.status.code(), Some(0));
    let run = rules("check", &folder, MEMORY_KIB_MAX);
    assert_eq!(run.status.code(), Some(0), "{}", binary::complaint(&run));
}
