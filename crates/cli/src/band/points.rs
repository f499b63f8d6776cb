//! Readings of a hanging scale in a CSV file: two columns whose header names them with their units (UCUM codes).
//!
//! Leaves to others: the curve through them (`rungwise-bands`).

use csv::{ReaderBuilder, StringRecord, Trim};
use rungwise_bands::band;
use rungwise_bands::curve::{Curve, CurveError, Measured};
use rungwise_bands::thousandths::Shown;
use rungwise_pack::decimal::{self, DecimalError};

/// Standard gravity in hundred-thousandths of m/s²: a kilogram-force is so many newtons (CGPM 1901).
const KGF: i128 = 980_665;

/// Readings, where they stand, and the curve through them.
#[derive(Debug)]
pub(crate) struct Points {
    /// The curve.
    pub(crate) curve: Curve,
    /// Line of each reading, in the order of the curve's residuals.
    pub(crate) lines: Vec<u64>,
}

/// What is wrong with a file of readings, with what would be allowed.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub(crate) enum Mistake {
    /// Nothing in it.
    #[error("it is empty; the first line names the columns, as `elongation [%],force [N]`")]
    Empty,
    /// A column that is not known.
    #[error(
        "line {line}: column `{given}`; `elongation [%]` or `length [mm]`, and `force [N]` or `force [kgf]`, are allowed"
    )]
    Column {
        /// Where.
        line: u64,
        /// What the header says.
        given: String,
    },
    /// Not one column of each sort.
    #[error("line {line}: {count} columns of {sort}; one is allowed, the other one is of {other}")]
    Columns {
        /// Where.
        line: u64,
        /// How many there are.
        count: usize,
        /// What they are of.
        sort: &'static str,
        /// What the other column is of.
        other: &'static str,
    },
    /// A line with more or fewer values than the header has columns.
    #[error("line {line}: {given} values; {allowed} are allowed, as in the header")]
    Values {
        /// Where.
        line: u64,
        /// How many there are.
        given: usize,
        /// How many there should be.
        allowed: usize,
    },
    /// A value that is no number.
    #[error("line {line}: {column} `{given}` is {why}; a number such as `12.5` is allowed")]
    Number {
        /// Where.
        line: u64,
        /// In which column.
        column: &'static str,
        /// What stands there.
        given: String,
        /// What is wrong with it.
        why: DecimalError,
    },
    /// A length that a stretched band cannot have.
    #[error(
        "line {line}: length `{} mm`; whole mm from the rest length, {rest_length_mm} mm, are allowed",
        Shown(*given)
    )]
    Length {
        /// Where.
        line: u64,
        /// What stands there, in thousandths of a mm.
        given: i64,
        /// The rest length.
        rest_length_mm: u32,
    },
    /// Values that make no curve.
    #[error("{place}{why}")]
    Curve {
        /// Where: `line 4: `, or nothing where it is the whole file.
        place: String,
        /// What is wrong.
        why: String,
    },
    /// No text in columns.
    #[error("{0}")]
    Unreadable(String),
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Column {
    Elongation,
    LengthMm,
    Newton,
    KilogramForce,
}

impl Column {
    const fn is_force(self) -> bool {
        matches!(self, Self::Newton | Self::KilogramForce)
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Elongation => "elongation",
            Self::LengthMm => "length",
            Self::Newton | Self::KilogramForce => "force",
        }
    }
}

impl Points {
    /// Reads a file of readings of a piece of this rest length.
    ///
    /// # Errors
    /// Everything that is wrong with it, line by line; what the readings make together only where each is sound.
    pub(crate) fn read(text: &str, rest_length_mm: u32) -> Result<Self, Vec<Mistake>> {
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(Trim::All)
            .comment(Some(b'#'))
            .from_reader(text.as_bytes());
        let mut records = reader.records();
        let header = match records.next() {
            None => return Err(vec![Mistake::Empty]),
            Some(Err(error)) => return Err(vec![Mistake::Unreadable(error.to_string())]),
            Some(Ok(header)) => header,
        };
        let columns = columns(&header, line(text, &header))?;
        let (mut readings, mut lines, mut mistakes) = (Vec::new(), Vec::new(), Vec::new());
        for record in records {
            match record {
                Err(error) => mistakes.push(Mistake::Unreadable(error.to_string())),
                Ok(record) => {
                    match reading(&record, line(text, &record), columns, rest_length_mm) {
                        Err(wrong) => mistakes.extend(wrong),
                        Ok(reading) => {
                            readings.push(reading);
                            lines.push(line(text, &record));
                        }
                    }
                }
            }
        }
        if !mistakes.is_empty() {
            return Err(mistakes);
        }
        match Curve::from_points(&readings) {
            Ok(curve) => Ok(Self { curve, lines }),
            Err(error) => Err(vec![placed(&error, &readings, &lines)]),
        }
    }
}

/// The line of a record. The parser says where it began to look for it: remarks and empty lines before it are to be passed.
fn line(text: &str, record: &StringRecord) -> u64 {
    let Some(position) = record.position() else {
        return 0;
    };
    let begin = usize::try_from(position.byte()).unwrap_or(usize::MAX);
    let passed = text
        .get(begin..)
        .unwrap_or_default()
        .lines()
        .take_while(|line| line.is_empty() || line.starts_with('#'));
    passed.fold(position.line(), |line, _| line + 1)
}

fn columns(header: &StringRecord, line: u64) -> Result<[Column; 2], Vec<Mistake>> {
    let (mut columns, mut mistakes) = (Vec::new(), Vec::new());
    for given in header {
        match column(given) {
            Some(column) => columns.push(column),
            None => mistakes.push(Mistake::Column {
                line,
                given: given.to_owned(),
            }),
        }
    }
    if !mistakes.is_empty() {
        return Err(mistakes);
    }
    let forces = columns.iter().filter(|column| column.is_force()).count();
    if forces != 1 {
        return Err(vec![Mistake::Columns {
            line,
            count: forces,
            sort: "force",
            other: "elongation or length",
        }]);
    }
    match columns.as_slice() {
        &[first, second] => Ok([first, second]),
        _ => Err(vec![Mistake::Columns {
            line,
            count: columns.len() - forces,
            sort: "elongation or length",
            other: "force",
        }]),
    }
}

/// A column by what its header says: a word and a unit, the unit in brackets or not.
fn column(given: &str) -> Option<Column> {
    let given = given.trim();
    let end = given
        .find(|letter: char| !letter.is_alphabetic())
        .unwrap_or(given.len());
    let (word, unit) = given.split_at_checked(end)?;
    let unit =
        unit.trim_matches(|letter: char| letter.is_whitespace() || "_[](){}".contains(letter));
    match (word.to_lowercase().as_str(), unit) {
        ("elongation", "%") => Some(Column::Elongation),
        ("length", "mm") => Some(Column::LengthMm),
        ("force", "N") => Some(Column::Newton),
        ("force", "kgf") => Some(Column::KilogramForce),
        _ => None,
    }
}

fn reading(
    record: &StringRecord,
    line: u64,
    columns: [Column; 2],
    rest_length_mm: u32,
) -> Result<Measured, Vec<Mistake>> {
    if record.len() != columns.len() {
        return Err(vec![Mistake::Values {
            line,
            given: record.len(),
            allowed: columns.len(),
        }]);
    }
    let mut measured = Measured {
        elongation_mpct: 0,
        force_mn: 0,
    };
    let mut mistakes = Vec::new();
    for (column, given) in columns.into_iter().zip(record) {
        let number = match decimal::parse(given) {
            Ok(number) => number.0,
            Err(why) => {
                mistakes.push(Mistake::Number {
                    line,
                    column: column.word(),
                    given: given.to_owned(),
                    why,
                });
                continue;
            }
        };
        match column {
            Column::Elongation => measured.elongation_mpct = number,
            Column::Newton => measured.force_mn = number,
            Column::KilogramForce => measured.force_mn = newtons(number),
            Column::LengthMm => match elongation(number, rest_length_mm) {
                Some(elongation_mpct) => measured.elongation_mpct = elongation_mpct,
                None => mistakes.push(Mistake::Length {
                    line,
                    given: number,
                    rest_length_mm,
                }),
            },
        }
    }
    if mistakes.is_empty() {
        Ok(measured)
    } else {
        Err(mistakes)
    }
}

/// Thousandths of a kilogram-force as thousandths of a newton, rounded up: a load is never taken for a lighter one.
fn newtons(kgf: i64) -> i64 {
    let exact = i128::from(kgf) * KGF;
    let up = exact.div_euclid(100_000) + i128::from(exact.rem_euclid(100_000) != 0);
    i64::try_from(up).unwrap_or(i64::MAX)
}

/// A length in thousandths of a mm as elongation; nothing for one that is no whole mm or shorter than at rest.
fn elongation(length: i64, rest_length_mm: u32) -> Option<i64> {
    let length_mm = u32::try_from(length / 1000).ok()?;
    let is_whole = length % 1000 == 0;
    let elongation_mpct = band::elongation_mpct(rest_length_mm, length_mm).ok()?;
    (is_whole && elongation_mpct >= 0).then_some(elongation_mpct)
}

/// Which lines an error of the curve is about.
fn placed(error: &CurveError, readings: &[Measured], lines: &[u64]) -> Mistake {
    let said = error.to_string();
    let (numbers, why) = match error {
        CurveError::TooFew | CurveError::TooMany { .. } => (Vec::new(), said),
        CurveError::Elongation { reading, .. }
        | CurveError::Force { reading, .. }
        | CurveError::ForceAtRest { reading, .. } => {
            let number = lines.get(reading.saturating_sub(1)).copied();
            let why = said.strip_prefix(&format!("reading {reading}: "));
            let why = why.map(str::to_owned);
            (number.into_iter().collect(), why.unwrap_or(said))
        }
        CurveError::NotRising {
            elongation_mpct, ..
        } => {
            let at = readings.iter().zip(lines);
            let at = at.filter(|(reading, _)| reading.elongation_mpct == *elongation_mpct);
            (at.map(|(_, line)| *line).collect(), said)
        }
    };
    let numbers: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    let place = match numbers.as_slice() {
        [] => String::new(),
        [one] => format!("line {one}: "),
        [_, _, ..] => format!("lines {}: ", numbers.join(", ")),
    };
    Mistake::Curve { place, why }
}

#[cfg(test)]
mod tests;
