//! Reading a diary from TOML.
//!
//! Everything wrong is reported at once, with the diagnostics of packs.
//!
//! Leaves to others: what facts a pack refuses in a course of care (`rungwise_engine::admit`, asked at the end).

mod course;
mod day;
mod equipment;
mod expect;
mod order;
mod report;
mod session;
mod table;

use crate::diary::{Diary, Step};
use jiff::civil::Date;
use rungwise_engine::fact::{Episode, Reading};
use rungwise_pack::diagnostic::{Code, Diagnostic};
use rungwise_pack::model::{Carrier, CheckedPack};
use rungwise_pack::source::SourceFile;
use table::{Reader, Table};
use toml::de::DeTable;

/// Reads a diary called `name` for `pack` from `text`.
///
/// ```toml
/// diary = "straightforward"
/// about = "Invented: …"
/// opened = "2026-01-05"
/// born = "1971-03-02"          # optional
/// imported = false             # optional
///
/// [usual]                      # what this person reports unless a day says otherwise
/// screening = { "fever" = "no" }
/// session = { "ache before" = 1 }
/// exercise = { "ache" = 1 }
/// morning_after = { "ache next morning" = 1 }
///
/// [[day]]
/// date = "2026-01-06"
/// until = "2026-01-16"         # optional: the same again, up to this date …
/// every = 2                    # … every so many days (default 1)
/// reported = "2026-01-09"      # optional: told only then; an ask is for that date
/// screening = {}               # as usual
/// assessment = { "reach" = 130 }
/// other_side = { "reach" = 165 }
/// other_side_sound = true
/// events = ["fall"]
/// away_until = "2026-02-01"
/// equipment = ["band"]         # what the person owns, with `band` and `room_mm`
/// room_mm = 2500
/// band = [{ label = "light", rest_length_mm = 1000, points = [[50, 8], [100, 15.5]], elongation_max = 100 }]
/// session = [{ done = "as prescribed", next_morning = {} }]
/// morning_after = { "ache next morning" = 2 }
/// sign_off = { accepted = true, who = "…" }
/// expect = { outcome = "CONTINUE" }      # ask for the next prescription on this date, after all that
/// ```
///
/// A session may also name `number`, `readings`, `readings_each` (of every exercise), `exercises` (by exercise: `done`,
/// `sets`, `skipped`, `readings`) and `not_reported` (usual measures that stayed unsaid). `next_morning` is reported on
/// the day after, before anything else of that day. Directives stand under `[[day.directive]]`. `ask = true` asks and
/// expects nothing; a band may say `may_be_doubled = true`, and its points are elongation in % and force in N;
/// `expect` may name `outcome`, `phase`, `moves`, `places`, `doses`, `because`, `absent`, and `reviews`: every review rule
/// that asks for a clinician's look, and no other.
///
/// # Errors
/// Everything that is wrong with it, in the order in which it stands.
pub fn read(pack: &CheckedPack, name: &str, text: &str) -> Result<Diary, Vec<Diagnostic>> {
    let file = SourceFile {
        name: name.to_owned(),
        text: text.to_owned(),
    };
    let mut reader = Reader::new(pack, &file);
    let (root, errors) = DeTable::parse_recoverable(text);
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        reader.report(
            Code::Syntax,
            span,
            format!("not valid TOML: {}", error.message()),
            None,
        );
    }
    if !errors.is_empty() {
        return Err(reader.finish());
    }
    let diary = diary(&mut reader, Table::of_file(root.get_ref()), name);
    match diary {
        Some(diary) if !reader.has_found() => {
            course::admit_all(&mut reader, &diary);
            if reader.has_found() {
                Err(reader.finish())
            } else {
                Ok(diary)
            }
        }
        _ => Err(reader.finish()),
    }
}

/// What a person reports unless a day says otherwise.
#[derive(Debug, Default)]
struct Usual {
    screening: Vec<Reading>,
    session: Vec<Reading>,
    exercise: Vec<Reading>,
    morning_after: Vec<Reading>,
}

fn diary(reader: &mut Reader<'_>, mut root: Table<'_>, file: &str) -> Option<Diary> {
    let name = root.need_text(reader, "diary");
    let about = root.need_text(reader, "about");
    let opened_on = root.need_date(reader, "opened");
    let born_on = root.date(reader, "born");
    let imported = root.flag(reader, "imported").unwrap_or(false);
    let usual = usual(reader, &mut root);
    root.need(reader, "day");
    let days = root.tables(reader, "day", "a day");
    root.finish(reader);
    let mut moments: Vec<(Date, bool, Step)> = Vec::new();
    for (index, table) in days.into_iter().enumerate() {
        day::day(reader, (index, table), &usual, &mut moments);
    }
    // A morning-after is reported before anything else of its day; otherwise the file's order stands.
    moments.sort_by_key(|(date, later, _)| (*date, *later));
    let steps = moments.into_iter().map(|(_, _, step)| step).collect();
    Some(Diary {
        file: file.to_owned(),
        name: name?.as_str().into(),
        about: about?,
        episode: Episode {
            opened_on: opened_on?,
            born_on,
            imported,
        },
        steps,
    })
}

fn usual(reader: &mut Reader<'_>, root: &mut Table<'_>) -> Usual {
    let Some(mut table) = root.table(reader, "usual", "what is usual") else {
        return Usual::default();
    };
    let usual = Usual {
        screening: report::readings_under(reader, &mut table, "screening", Carrier::Screening),
        session: report::readings_under(reader, &mut table, "session", Carrier::Session),
        exercise: report::readings_under(reader, &mut table, "exercise", Carrier::Exercise),
        morning_after: report::readings_under(
            reader,
            &mut table,
            "morning_after",
            Carrier::MorningAfter,
        ),
    };
    table.finish(reader);
    usual
}

#[cfg(test)]
pub(crate) mod tests;
