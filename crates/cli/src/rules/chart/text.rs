//! A chart as text, 80 columns wide, as one would read it aloud.
//!
//! Leaves to others: what is said (`said`).

use super::said::{Chart, ExerciseSaid, Group, LineSaid, PhaseSaid, RowSaid, Said, Statement};
use textwrap::{Options, WordSplitter};

/// Columns of a line.
const COLUMNS: usize = 80;

/// A page of lines, none longer than [`COLUMNS`] unless a single word is.
#[derive(Default)]
struct Page {
    lines: Vec<String>,
}

impl Page {
    /// Text from a column on; lines after the first begin at `hang`.
    fn wrap(&mut self, from: usize, hang: usize, text: &str) {
        let (first, rest) = (" ".repeat(from), " ".repeat(hang));
        let options = Options::new(COLUMNS)
            .initial_indent(&first)
            .subsequent_indent(&rest)
            .break_words(false)
            .word_splitter(WordSplitter::NoHyphenation);
        let lines = textwrap::wrap(text, options);
        self.lines
            .extend(lines.into_iter().map(|line| line.into_owned()));
    }

    fn empty(&mut self) {
        self.lines.push(String::new());
    }

    fn heading(&mut self, text: &str) {
        self.empty();
        self.wrap(0, 0, text);
        let width = text.chars().count().min(COLUMNS);
        self.lines.push("=".repeat(width));
    }

    fn said(&mut self, from: usize, said: &Said) {
        match said {
            Said::Sentence(text) => self.wrap(from, from + 2, &format!("- {text}")),
            Said::Group(how, parts) => {
                self.wrap(from, from + 2, &format!("- {}", how.words()));
                for part in parts {
                    self.said(from + 2, part);
                }
            }
        }
    }

    fn statement(&mut self, from: usize, statement: &Statement) {
        if !statement.key.is_empty() {
            self.wrap(from, from + 2, &statement.key);
        }
        for said in &statement.when {
            self.said(from + 2, said);
        }
        for text in [statement.note.as_deref(), Some(&*statement.reason)] {
            if let Some(text) = text.filter(|text| !text.is_empty()) {
                self.wrap(from + 2, from + 2, &format!("({text})"));
            }
        }
    }

    fn group(&mut self, from: usize, group: &Group) {
        self.empty();
        self.wrap(from, from, &format!("{}:", group.heading));
        for rule in &group.rules {
            self.statement(from + 2, rule);
        }
    }
}

/// A chart as text.
pub(super) fn text(chart: &Chart) -> String {
    let mut page = Page::default();
    page.wrap(0, 0, &chart.title);
    page.wrap(0, 0, &chart.identity);
    page.empty();
    page.wrap(0, 0, &chart.scope);
    for (at, phase) in chart.phases.iter().enumerate() {
        say_phase(&mut page, at, chart.phases.len(), phase);
    }
    if !chart.always.is_empty() {
        page.heading("In every phase");
        for group in &chart.always {
            page.group(0, group);
        }
    }
    if !chart.refer.is_empty() {
        page.heading("To be seen by a doctor");
        for group in &chart.refer {
            page.group(0, group);
        }
    }
    for (at, line) in chart.lines.iter().enumerate() {
        say_line(&mut page, chart, at, line);
    }
    page.lines.join("\n")
}

fn say_phase(page: &mut Page, at: usize, of: usize, phase: &PhaseSaid) {
    page.heading(&format!("Phase {} of {of}: {}", at + 1, phase.key));
    page.wrap(0, 0, &phase.aim);
    page.wrap(0, 2, &phase.pace.join("; "));
    page.empty();
    page.wrap(0, 0, "Exercises, by line:");
    for (line, names) in &phase.lines {
        page.wrap(2, 4, &format!("{line}: {}", names.join("; then ")));
    }
    for group in &phase.groups {
        page.group(0, group);
    }
}

fn say_line(page: &mut Page, chart: &Chart, at: usize, line: &LineSaid) {
    page.heading(&format!(
        "Line {} of {}: {}",
        at + 1,
        chart.lines.len(),
        line.key
    ));
    for (rank, exercise) in line.exercises.iter().enumerate() {
        if rank > 0 {
            page.empty();
        }
        say_exercise(page, chart, rank, exercise);
    }
}

fn say_exercise(page: &mut Page, chart: &Chart, rank: usize, exercise: &ExerciseSaid) {
    page.wrap(
        0,
        3,
        &format!("{}. {} ({})", rank + 1, exercise.name, exercise.key),
    );
    let phases = exercise
        .phases
        .iter()
        .filter_map(|at| chart.phases.get(*at));
    let phases: Vec<&str> = phases.map(|phase| phase.key.as_str()).collect();
    if !phases.is_empty() {
        page.wrap(3, 5, &format!("in phase {}", phases.join(", ")));
    }
    page.wrap(3, 5, &format!("starts with: {}", exercise.start));
    page.wrap(3, 5, "goes up, the first row fastest:");
    for row in &exercise.rows {
        say_row(page, row);
    }
    for (what, how) in &exercise.notes {
        page.wrap(3, 5, &format!("{what}: {how}"));
    }
    for limit in &exercise.limits {
        page.wrap(3, 5, "own limit:");
        page.statement(5, limit);
    }
    for (what, rule) in [
        ("climbs when", &exercise.climb),
        (
            "after it was taken out, comes back when",
            &exercise.bring_back,
        ),
    ] {
        if let Some(rule) = rule {
            page.wrap(3, 5, &format!("{what}:"));
            page.statement(5, rule);
        }
    }
}

fn say_row(page: &mut Page, row: &RowSaid) {
    let full = match row.full {
        Some("returns") => ", then from the start again",
        Some(_) => ", then stays",
        None => "",
    };
    page.wrap(5, 7, &format!("{}: {}{full}", row.variable, row.values));
    for (value, needs) in &row.needs {
        page.wrap(7, 9, &format!("{value} needs"));
        page.said(9, needs);
    }
}
