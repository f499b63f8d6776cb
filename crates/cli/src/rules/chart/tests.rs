//! Charts of the packs that come with the program and of a small one: everything is said, nothing is cut, nothing overlaps.

use super::part::{Edge, Kind, Part, Placed, Share, place};
use super::said::{Chart, chart};
use super::sheets::{SHEET_MM, Sheet, sheets};
use super::svg::draw;
use super::text::text;
use crate::input::PackFiles;
use rungwise_pack::model::{CheckedPack, Pack};
use std::path::Path;

/// What rounding may do to a place, in mm.
const OFF_MM: f32 = 0.05;

/// The small invented pack of `rungwise-pack`.
fn small() -> CheckedPack {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../pack/tests-data/small");
    PackFiles::of_folder(&folder).unwrap().checked().unwrap()
}

fn packs() -> Vec<CheckedPack> {
    let mut packs = vec![small()];
    packs.extend(PackFiles::embedded().map(|pack| pack.checked().unwrap()));
    assert!(packs.len() >= 4, "three packs come with the program");
    packs
}

fn of(pack: &Pack) -> Chart {
    chart(pack, &pack.language)
}

/// The words of a text, whatever lines they stand on.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Every text of the sheets, in order.
fn drawn(sheets: &[Sheet]) -> String {
    let mut drawn = String::new();
    for sheet in sheets {
        each(&sheet.placed, &mut |part| {
            if let Kind::Text(text, _) = &part.kind {
                drawn.push_str(text);
                drawn.push('\n');
            }
        });
    }
    drawn
}

fn each(part: &Placed, call: &mut dyn FnMut(&Placed)) {
    call(part);
    for part in &part.parts {
        each(part, call);
    }
}

/// Everything that must be found on a chart: sentences, keys, aims, names.
fn wanted(pack: &Pack) -> Vec<String> {
    let mut wanted: Vec<String> = Vec::new();
    wanted.extend(pack.sentences.iter().map(|one| words(&one.text)));
    wanted.extend(pack.rules.iter().map(|one| one.key.to_string()));
    wanted.extend(pack.phases.iter().map(|one| words(&one.aim)));
    wanted.extend(pack.phases.iter().map(|one| one.key.to_string()));
    wanted.extend(pack.lines.iter().map(|one| one.key.to_string()));
    wanted.extend(pack.exercises.iter().map(|one| one.key.to_string()));
    wanted.extend(pack.screening.iter().map(|one| one.route.clone()));
    let names = pack.exercises.iter();
    wanted.extend(names.filter_map(|one| pack.text(&pack.language, &one.name).map(words)));
    let rows = pack.exercises.iter().flat_map(|one| &one.rows);
    wanted.extend(
        rows.filter(|row| !row.is_sequence)
            .flat_map(|row| row.values.iter().map(|step| step.value.to_string())),
    );
    wanted
}

#[test]
fn a_small_pack_is_read_aloud() {
    let said = text(&of(&small())) + "\n";
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/rules/chart/small.txt");
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(&path, &said).unwrap();
    }
    let golden = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(said == golden, "UPDATE_GOLDEN=1 writes it anew:\n{said}");
}

#[test]
fn everything_that_a_pack_says_stands_in_the_text_and_on_the_sheets() {
    for pack in packs() {
        let chart = of(&pack);
        let (read, drawn) = (words(&text(&chart)), drawn(&sheets(&chart).unwrap()));
        for wanted in wanted(&pack) {
            assert!(read.contains(&wanted), "{}: not read: {wanted}", pack.id);
            assert!(drawn.contains(&wanted), "{}: not drawn: {wanted}", pack.id);
        }
    }
}

#[test]
fn no_line_of_the_text_is_longer_than_a_terminal_is_wide() {
    for pack in packs() {
        for line in text(&of(&pack)).lines() {
            assert!(line.chars().count() <= 80, "{}: {line}", pack.id);
        }
    }
}

/// What is wrong with where the parts of a sheet stand.
fn faults(sheet: &Sheet) -> Vec<String> {
    let (wide, high) = sheet.size_mm;
    let mut faults = Vec::new();
    if stands_out(&sheet.placed, [0.0, 0.0, wide, high]) {
        faults.push("the whole is larger than its sheet".to_owned());
    }
    each(&sheet.placed, &mut |part| {
        let [_, _, width, height] = part.at;
        if let Kind::Text(text, style) = &part.kind {
            let lines = style.wrap(text, width);
            for line in &lines {
                if style.width_mm(line) > width + OFF_MM {
                    faults.push(format!("`{line}` is wider than its place"));
                }
            }
            if lines.len() as f32 * style.line_mm() > height + OFF_MM {
                faults.push(format!("`{text}` is higher than its place"));
            }
        }
        for (at, inner) in part.parts.iter().enumerate() {
            if stands_out(inner, part.at) {
                faults.push(format!("{:?} at {:?} stands out", inner.kind, inner.at));
            }
            for before in part.parts.iter().take(at) {
                if overlap(inner, before) {
                    faults.push(format!("{:?} overlaps {:?}", inner.kind, before.kind));
                }
            }
        }
    });
    faults
}

fn stands_out(part: &Placed, [left, top, wide, high]: [f32; 4]) -> bool {
    let [x, y, width, height] = part.at;
    x < left - OFF_MM
        || y < top - OFF_MM
        || x + width > left + wide + OFF_MM
        || y + height > top + high + OFF_MM
}

fn overlap(one: &Placed, other: &Placed) -> bool {
    let ([ax, ay, aw, ah], [bx, by, bw, bh]) = (one.at, other.at);
    let part = |a: f32, al: f32, b: f32, bl: f32| a + al > b + OFF_MM && b + bl > a + OFF_MM;
    part(ax, aw, bx, bw) && part(ay, ah, by, bh)
}

#[test]
fn no_text_is_cut_and_none_overlaps() {
    for pack in packs() {
        for (at, sheet) in sheets(&of(&pack)).unwrap().iter().enumerate() {
            let faults = faults(sheet);
            assert!(
                faults.is_empty(),
                "{} sheet {}: {faults:#?}",
                pack.id,
                at + 1
            );
            assert_eq!(sheet.size_mm, SHEET_MM, "{} sheet {}", pack.id, at + 1);
        }
    }
}

/// What does not fit goes on: a name without a space, a rule higher than a sheet, many phases.
#[test]
fn a_strange_pack_is_not_cut_either() {
    let mut said = of(&small());
    let long = "w".repeat(400);
    let phase = said.phases.first().unwrap().clone();
    said.phases.extend(vec![phase; 9]);
    for phase in &mut said.phases {
        phase.key = "k".repeat(60);
        phase.aim = format!("{long} {}", "and more ".repeat(60));
    }
    let group = said.always.first_mut().unwrap();
    let rule = group.rules.first_mut().unwrap();
    let sentence = rule.when.first().unwrap().clone();
    rule.when = vec![sentence; 300];
    said.title = long;
    let sheets = sheets(&said).unwrap();
    for sheet in &sheets {
        let faults = faults(sheet);
        assert!(faults.is_empty(), "{faults:#?}");
    }
    assert!(sheets.iter().any(|sheet| sheet.size_mm.1 > SHEET_MM.1));
}

#[test]
fn faults_canary() {
    let text = |words: &str| Part::text(words, 4.0).share(Share::Mm(30.0));
    let row = Part::row(2.0, vec![text("one and more"), text("two")]);
    let whole = Part::column(0.0, vec![row]).edge(Edge::Thin, (1.0, 1.0));
    let mut sheet = Sheet {
        size_mm: (100.0, 50.0),
        placed: place(&whole, 100.0).unwrap(),
    };
    assert_eq!(faults(&sheet), Vec::<String>::new());
    let last = |sheet: &mut Sheet, at: usize, by: f32| {
        sheet.placed.parts[0].parts.last_mut().unwrap().at[at] += by;
    };
    last(&mut sheet, 0, -3.0);
    assert_eq!(faults(&sheet).len(), 1, "an overlap");
    last(&mut sheet, 0, 60.0);
    assert_eq!(faults(&sheet).len(), 1, "out of what is around it");
    last(&mut sheet, 0, -57.0);
    last(&mut sheet, 3, -3.0);
    assert_eq!(faults(&sheet).len(), 1, "higher than its place");
}

#[test]
fn a_drawing_is_the_same_again_black_on_white_and_well_formed() {
    let mut said = of(&small());
    said.title = "pain < 3 & \"rest\"".to_owned();
    let draw = |said: &Chart| {
        let sheets = sheets(said).unwrap();
        let drawn = sheets.iter();
        drawn
            .map(|sheet| draw(&said.title, sheet.size_mm, &sheet.placed))
            .collect::<String>()
    };
    let drawn = draw(&said);
    assert_eq!(drawn, draw(&said));
    assert!(drawn.contains("pain &lt; 3 &amp; "), "{drawn}");
    assert!(!drawn.contains("pain < 3"));
    let colours = drawn.split("fill=\"").skip(1);
    for colour in colours.chain(drawn.split("stroke=\"").skip(1)) {
        let colour = colour.split('"').next().unwrap();
        assert!(["white", "black", "none"].contains(&colour), "{colour}");
    }
    assert!(!drawn.contains("<image"), "no pictures");
}
