//! Places: lines and columns, and parts of strings as they stand in a file.

use super::{Lines, LocatedText, Location, SourceFile, SourceFiles};

#[test]
fn lines_and_columns_count_from_one_and_in_characters() {
    let file = SourceFile {
        name: "a".into(),
        text: "é = 1\nzwei = 2\n".into(),
    };
    assert_eq!(file.line_column(0), (1, 1));
    assert_eq!(file.line_column(2), (1, 2), "one character of two bytes");
    assert_eq!(
        file.line_column(1),
        (1, 1),
        "inside a character is at its start"
    );
    assert_eq!(file.line_column(7), (2, 1));
    assert_eq!(file.line_column(999), (3, 1), "past the end is the end");
    let lines = Lines::of(&file);
    for offset in 0..20 {
        assert_eq!(
            lines.line_column(offset),
            file.line_column(offset),
            "{offset}"
        );
    }
}

#[test]
fn files_stand_in_name_order() {
    let files = SourceFiles::new(vec![("b".into(), "2".into()), ("a".into(), "1".into())]);
    assert_eq!(
        files
            .files()
            .iter()
            .map(|file| file.name.as_str())
            .collect::<Vec<_>>(),
        ["a", "b"]
    );
    assert_eq!(files.get("b").map(|file| file.text.as_str()), Some("2"));
    assert_eq!(files.get("c"), None);
}

/// The part `word` of a text, as it stands in `raw` at byte 100 of a file; none where only the whole can be pointed at.
fn check(raw: &str, text: &str, word: &str, expected: Option<&str>) {
    let at = Location {
        file: 0,
        start: 100,
        end: 100 + raw.len(),
    };
    let located = LocatedText::new(text, at, raw);
    let start = text.find(word).unwrap_or_default();
    let part = located.part(&(start..start + word.len()));
    let found = raw.get(part.start - 100..part.end - 100);
    assert_eq!(found, expected.or(Some(raw)), "{raw}");
    assert_eq!(located.is_mapped(), expected.is_some(), "{raw}");
}

#[test]
fn a_part_of_a_string_is_found_in_the_file() {
    check("\"pain at most 3\"", "pain at most 3", "most", Some("most"));
    check("'pain at most 3'", "pain at most 3", "3", Some("3"));
    check(
        "\"\"\"\npain at most 3\"\"\"",
        "pain at most 3",
        "pain",
        Some("pain"),
    );
    check("'''pain é 3'''", "pain é 3", "3", Some("3"));
}

#[test]
fn a_string_with_escapes_is_pointed_at_as_a_whole() {
    check(r#""p\u0061in at most 3""#, "pain at most 3", "most", None);
    check(r#""\"pain\" at most""#, "\"pain\" at most", "most", None);
}
