//! Packs as TOML, two to four phases and lines, every kind of rule.
//!
//! Leaves to others: their sentences (`super::sentence`).

use super::Dice;
use super::sentence::{Tone, Where, Words, criterion, sentence};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use std::fmt::Write as _;

/// What may stand in a pack.
#[derive(Clone, Copy, Debug)]
pub struct Wish {
    /// Whether sentences may refer to other values.
    pub references: bool,
    /// Whether cautious rules, directed at a person who never hurts, may stand in the way of progress.
    pub climbable: bool,
}

/// Everything that is not about climbing is allowed.
pub const ANYTHING: Wish = Wish {
    references: true,
    climbable: false,
};

/// Who vouches for everything generated.
pub(super) const GROUNDS: &str = "judgement = { by = \"nobody\", why = \"invented\" }";

/// The files of a pack.
#[must_use]
pub fn files(seed: u64, wish: Wish) -> SourceFiles {
    let mut maker = Maker {
        dice: Dice::new(seed),
        wish,
        rules: 0,
        texts: String::new(),
    };
    let files = super::band::with_bands(seed, maker.files());
    // Who waits for weeks to be alike does not climb with every session.
    if wish.climbable {
        files
    } else {
        super::volume::with_volumes(seed, files)
    }
}

/// A checked pack, its files beside it.
///
/// # Panics
///
/// Where the checker refuses it, with everything that it says.
#[must_use]
pub fn checked(seed: u64, wish: Wish) -> CheckedPack {
    let files = files(seed, wish);
    let checked = rungwise_pack::check(&files);
    checked.pack.unwrap_or_else(|| {
        let whole: String = files
            .files()
            .iter()
            .map(|file| format!("# {}\n{}\n", file.name, file.text))
            .collect();
        panic!(
            "pack {seed} is refused: {:#?}\n{whole}",
            checked.diagnostics
        )
    })
}

struct Maker {
    dice: Dice,
    wish: Wish,
    rules: usize,
    texts: String,
}

/// A line's exercises with their ladders' rows: (variable, values).
type Rows = Vec<(&'static str, Vec<String>)>;

struct Line {
    key: String,
    exercises: Vec<(String, Rows)>,
}

impl Maker {
    fn files(&mut self) -> SourceFiles {
        let phases = self.dice.count(2, 4);
        let lines = self.lines();
        let mut reached = Vec::new();
        let mut every_row = Vec::new();
        for line in &lines {
            for (variable, values) in line.exercises.iter().flat_map(|(_, rows)| rows) {
                every_row.extend(values.iter().map(|value| {
                    (
                        line.key.clone(),
                        (*variable).to_owned(),
                        value.replace('"', ""),
                    )
                }));
            }
        }
        for (exercise, rows) in lines.iter().flat_map(|line| &line.exercises) {
            for (variable, values) in rows {
                let value = self.dice.pick(values).clone();
                reached.push((
                    exercise.clone(),
                    (*variable).to_owned(),
                    value.replace('"', ""),
                ));
            }
        }
        let words = Words {
            references: self.wish.references,
            climbable: self.wish.climbable,
            defined: self.dice.percent(50),
            exercises: lines
                .iter()
                .flat_map(|line| line.exercises.iter().map(|(key, _)| key.clone()))
                .collect(),
            reached,
            rows: every_row,
        };
        let _ = writeln!(
            self.texts,
            "\"caution\" = \"Invented.\"\n\"limit\" = \"Not too much.\""
        );
        let files = vec![
            ("measures.toml".to_owned(), self.measures(&words)),
            ("screening.toml".to_owned(), self.screening(&words)),
            (
                "phases.toml".to_owned(),
                self.phases(phases, &lines, &words),
            ),
            ("exercises.toml".to_owned(), self.exercises(&lines, &words)),
            ("pack.toml".to_owned(), self.pack(&words)),
            ("text/en.toml".to_owned(), self.texts.clone()),
        ];
        SourceFiles::new(files)
    }

    fn rule_key(&mut self) -> String {
        self.rules += 1;
        format!("rule-{}", self.rules)
    }

    fn rule(&mut self, header: &str, words: &Words, tone: Tone, at: Where) -> String {
        let key = self.rule_key();
        let when = criterion(&mut self.dice, words, tone, at);
        format!("{header}\nrule = \"{key}\"\nwhen = {when}\nreason = \"Invented.\"\n{GROUNDS}\n\n")
    }

    fn maybe_rule(&mut self, chance: u32, header: &str, words: &Words) -> String {
        if self.dice.percent(chance) {
            self.rule(header, words, Tone::Bad, Where::Phase)
        } else {
            String::new()
        }
    }

    fn limit(&mut self, chance: u32, header: &str, words: &Words) -> String {
        if !self.dice.percent(chance) {
            return String::new();
        }
        let key = self.rule_key();
        let said = sentence(&mut self.dice, words, Tone::Good, Where::Limit);
        let condition = if self.dice.percent(25) {
            format!(
                "while = {}\n",
                criterion(&mut self.dice, words, Tone::Bad, Where::Condition)
            )
        } else {
            String::new()
        };
        format!(
            "{header}\nlimit = \"{key}\"\nsentence = \"{said}\"\n{condition}text = \"limit\"\n{GROUNDS}\n\n"
        )
    }

    fn pack(&mut self, words: &Words) -> String {
        let sign_off = match self.dice.count(0, 5) {
            0 => "[\"BEGIN\", \"PROGRESS\", \"DISCHARGE\"]",
            1 => "[\"PROGRESS\"]",
            2 => "[\"DISCHARGE\"]",
            _ => "[]",
        };
        let mut text = format!(
            "id = \"generated\"\nversion = \"1.0.0\"\nlanguage_version = 1\ntitle = \"Invented\"\n\
             scope = \"Nobody\"\nlanguage = \"en\"\nlanguages = [\"en\"]\ncautions = [\"caution\"]\n\
             sign_off = {sign_off}\nreview_days = 14\nevents = [\"event-a\", \"event-b\"]\n\
             equipment = [\"thing\"]\n\n[sources]\n\n"
        );
        let mut days = self.dice.number(3, 6);
        let mut steps = 0;
        for _ in 0..self.dice.count(0, 3) {
            let _ = write!(
                text,
                "[[lay_off]]\ndays = {days}\nsteps = {steps}\n{GROUNDS}\n\n"
            );
            days += self.dice.number(2, 5);
            steps += self.dice.number(0, 2);
        }
        text += &self.maybe_rule(15, "[[hold]]", words);
        text += &self.maybe_rule(12, "[[regress]]", words);
        text += &self.maybe_rule(12, "[[ease]]", words);
        text += &self.maybe_rule(15, "[[review]]", words);
        text += &self.limit(40, "[[limit]]", words);
        text
    }

    fn measures(&mut self, words: &Words) -> String {
        let mut text = String::new();
        for (name, carrier, expected) in [
            ("measure-a", "exercise", true),
            ("measure-b", "session", self.dice.percent(70)),
            ("measure-c", "morning after", self.dice.percent(70)),
            ("measure-g", "screening", self.dice.percent(30)),
            ("measure-l", "session", self.dice.percent(30)),
        ] {
            let fresh = match carrier {
                // Values that go stale within a window leave it in doubt for ever.
                "session" | "morning after" if !self.wish.climbable && self.dice.percent(25) => {
                    format!("fresh_days = {}\n", self.dice.number(3, 9))
                }
                "screening" if self.dice.percent(20) => "fresh_days = 20\n".to_owned(),
                _ => String::new(),
            };
            let _ = write!(
                text,
                "[[measure]]\nname = \"{name}\"\nunit = \"{{score}}\"\nmin = 0\nmax = 10\nstep = 1\n\
                 worse = \"higher\"\ncarrier = \"{carrier}\"\nexpected = {expected}\n{fresh}\
                 reported_by = [\"patient\"]\n{GROUNDS}\n\n"
            );
        }
        for name in ["measure-d", "measure-i"] {
            let expected = self.dice.percent(60);
            let fresh = if self.dice.percent(25) {
                "fresh_days = 15\n"
            } else {
                ""
            };
            let _ = write!(
                text,
                "[[measure]]\nname = \"{name}\"\nunit = \"deg\"\nmin = 0\nmax = 180\nstep = 5\n\
                 worse = \"lower\"\ncarrier = \"assessment\"\nexpected = {expected}\n{fresh}both_sides = true\n\
                 ratio = true\nreported_by = [\"clinician\"]\n{GROUNDS}\n\n"
            );
        }
        for (name, carrier) in [("measure-e", "assessment"), ("measure-k", "session")] {
            let expected = self.dice.percent(60);
            let _ = write!(
                text,
                "[[measure]]\nname = \"{name}\"\nchoices = [\"low\", \"mid\", \"high\"]\n\
                 carrier = \"{carrier}\"\nexpected = {expected}\nreported_by = [\"patient\"]\n{GROUNDS}\n\n"
            );
        }
        let _ = write!(
            text,
            "[[measure]]\nname = \"measure-f\"\nchoices = [\"no\", \"yes\"]\ncarrier = \"screening\"\n\
             expected = true\nreported_by = [\"patient\"]\n{GROUNDS}\n\n"
        );
        text += &super::computed::computed_measures();
        if words.defined {
            let mid = criterion(&mut self.dice, words, Tone::Bad, Where::Defined);
            let high = criterion(&mut self.dice, words, Tone::Bad, Where::Defined);
            let _ = write!(
                text,
                "[[measure]]\nname = \"measure-h\"\nchoices = [\"low\", \"mid\", \"high\"]\n{GROUNDS}\n\
                 [measure.when]\nmid = {mid}\nhigh = {high}\n\n"
            );
        }
        text
    }

    fn screening(&mut self, words: &Words) -> String {
        let mut text = String::new();
        for _ in 0..self.dice.count(1, 2) {
            let exercise = *self.dice.pick(&["stops", "kept"]);
            let rule = self.rule("[[refer]]", words, Tone::Bad, Where::Refer);
            let _ = writeln!(
                text,
                "{}urgency = \"urgent\"\nroute = \"Somebody\"\nexercise = \"{exercise}\"\n",
                rule.trim_end().to_owned() + "\n"
            );
        }
        text
    }

    fn phases(&mut self, phases: usize, lines: &[Line], words: &Words) -> String {
        let mut text = String::new();
        for phase in 0..phases {
            let exercises = self.phase_exercises(phase, phases, lines);
            let _ = write!(
                text,
                "[[phase]]\nphase = \"phase-{phase}\"\naim = \"Invented.\"\nexercises = [{}]\nsessions_a_week = {}\n",
                exercises.join(", "),
                self.dice.number(3, 7)
            );
            for (bound, chance) in [("climb_max", 30), ("introduce_max", 30), ("lines_max", 15)] {
                if self.dice.percent(chance) {
                    let _ = writeln!(text, "{bound} = {}", self.dice.number(1, 3));
                }
            }
            text += "\n";
            text += &self.limit(30, "[[phase.limit]]", words);
            if phase > 0 {
                for _ in 0..self.dice.count(1, 2) {
                    text += &self.rule("[[phase.enter]]", words, Tone::Good, Where::Phase);
                }
                if self.dice.percent(20) {
                    text += &self.rule("[[phase.start]]", words, Tone::Good, Where::Start);
                }
            }
            text += &self.maybe_rule(25, "[[phase.hold]]", words);
            text += &self.maybe_rule(25, "[[phase.regress]]", words);
            text += &self.maybe_rule(25, "[[phase.ease]]", words);
            text += &self.maybe_rule(15, "[[phase.review]]", words);
            if phase + 1 == phases {
                text += &self.rule("[[phase.discharge]]", words, Tone::Good, Where::Phase);
            }
        }
        text
    }

    /// A phase has of each line the exercises about as far along as itself; at least one in all.
    fn phase_exercises(&mut self, phase: usize, phases: usize, lines: &[Line]) -> Vec<String> {
        let mut exercises = Vec::new();
        if self.wish.climbable {
            // Every line goes on through every phase and never back.
            for line in lines {
                let last = line.exercises.len() - 1;
                let from = last * phase / (phases - 1);
                let to = (last * (phase + 1) / (phases - 1)).min(last);
                exercises.extend(
                    line.exercises[from..=to]
                        .iter()
                        .map(|(key, _)| format!("\"{key}\"")),
                );
            }
            return exercises;
        }
        for line in lines {
            let count = line.exercises.len();
            for (at, (key, _)) in line.exercises.iter().enumerate() {
                let along = (at + 1) * phases / count;
                let near = along.abs_diff(phase + 1) <= 1;
                if self.dice.percent(if near { 70 } else { 10 }) {
                    exercises.push(format!("\"{key}\""));
                }
            }
        }
        if exercises.is_empty() {
            exercises.push(format!("\"{}\"", lines[0].exercises[0].0));
        }
        exercises
    }

    fn lines(&mut self) -> Vec<Line> {
        let mut lines = Vec::new();
        for line in 1..=self.dice.count(2, 4) {
            let mut exercises = Vec::new();
            for exercise in 1..=self.dice.count(1, 3) {
                exercises.push((format!("exercise-{line}-{exercise}"), self.rows()));
            }
            lines.push(Line {
                key: format!("line-{line}"),
                exercises,
            });
        }
        lines
    }

    fn rows(&mut self) -> Rows {
        let all: [(&str, &[&str]); 5] = [
            ("reps", &["8", "10", "12"]),
            ("sets", &["1", "2", "3"]),
            ("load", &["\"light\"", "\"heavy\""]),
            ("hold time", &["5", "10"]),
            ("range", &["30", "60", "90"]),
        ];
        let mut rows: Rows = Vec::new();
        for _ in 0..self.dice.count(1, 2) {
            let (variable, values) = *self.dice.pick(&all);
            if rows.iter().any(|(other, _)| *other == variable) {
                continue;
            }
            let most = self.dice.count(2, values.len());
            rows.push((
                variable,
                values[..most]
                    .iter()
                    .map(|value| (*value).to_owned())
                    .collect(),
            ));
        }
        rows
    }

    fn exercises(&mut self, lines: &[Line], words: &Words) -> String {
        let mut text = String::new();
        for line in lines {
            let _ = write!(text, "[[line]]\nline = \"{}\"\n\n", line.key);
            for (key, rows) in &line.exercises {
                text += &self.exercise(key, rows, words);
            }
        }
        text
    }

    fn exercise(&mut self, key: &str, rows: &Rows, words: &Words) -> String {
        let _ = write!(
            self.texts,
            "\"{key}.name\" = \"{key}\"\n\"{key}.how\" = \"Do it.\"\n"
        );
        let mut gives: Vec<String> = rows
            .iter()
            .map(|(variable, _)| format!("\"{variable}\""))
            .collect();
        if self.dice.percent(40) {
            gives.reverse();
        }
        let mut text = format!(
            "[[line.exercise]]\nexercise = \"{key}\"\nequipment = []\ngives_way = [{}]\n",
            gives.join(", ")
        );
        if self.dice.percent(50) {
            let _ = writeln!(text, "return_at = {}", self.dice.number(0, 1));
        }
        if self.dice.percent(25) {
            // The end of the ladder's first row is always a rung.
            let (variable, values) = &rows[0];
            let at = self.dice.count(0, values.len() - 1);
            let _ = writeln!(text, "start = {{ \"{variable}\" = {} }}", values[at]);
        }
        if rows.iter().any(|(variable, _)| *variable == "range") && self.dice.percent(40) {
            text += "comfortable = \"measure-i\"\n";
        }
        text += "\n";
        for (variable, values) in rows {
            text += &self.row(variable, values, words);
        }
        text += &self.rule("[line.exercise.climb]", words, Tone::Good, Where::Exercise);
        if self.dice.percent(60) {
            text += &self.rule(
                "[line.exercise.bring_back]",
                words,
                Tone::Good,
                Where::Exercise,
            );
        }
        text += &self.limit(25, "[[line.exercise.limit]]", words);
        text
    }

    fn row(&mut self, variable: &str, values: &[String], words: &Words) -> String {
        let mut said: Vec<String> = values.to_vec();
        if self.dice.percent(15) {
            let at = values.len() - 1;
            let needs = criterion(&mut self.dice, words, Tone::Good, Where::Exercise);
            said[at] = format!("{{ value = {}, needs = {needs} }}", values[at]);
        }
        let full = if self.dice.percent(70) {
            "returns"
        } else {
            "stays"
        };
        format!(
            "[[line.exercise.ladder]]\nvariable = \"{variable}\"\nvalues = [{}]\nfull = \"{full}\"\n{GROUNDS}\n\n",
            said.join(", ")
        )
    }
}
