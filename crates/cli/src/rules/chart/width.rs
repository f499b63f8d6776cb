//! How wide text is. The reader's own font decides what is drawn, so that the widths of a wide one are taken: with a narrower
//! one there is room left, and no text runs over.
//!
//! Source: advance widths of DejaVu Sans and DejaVu Sans Bold 2.37 in thousandths of the text's size, rounded up; Verdana's,
//! which stands second in what the sheets ask for, are the same within two in a hundred over a sentence.

/// The fonts that a sheet asks for, widest first.
pub(super) const FONTS: &str = "'DejaVu Sans', Verdana, Arial, sans-serif";

/// Room beside what the table says, for a font that is a little wider, in thousandths.
const ROOM_MILLI: f32 = 1030.0;

/// Width of what the table does not hold: a whole square.
const OTHER_MILLI: u16 = 1000;

/// From the space to the tilde.
#[rustfmt::skip]
const PLAIN_MILLI: [u16; 95] = [
    318, 401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337, 637, 637, 637, 637, 637, 637, 637, 637,
    637, 637, 337, 337, 838, 838, 838, 531, 1000, 685, 687, 699, 771, 632, 576, 775, 752, 295, 295, 656, 558, 863, 749, 788,
    604, 788, 695, 635, 611, 732, 685, 989, 686, 611, 686, 391, 337, 391, 838, 500, 500, 613, 635, 550, 635, 616, 353, 635,
    634, 278, 278, 580, 278, 975, 634, 612, 635, 635, 412, 521, 393, 634, 592, 818, 592, 592, 525, 637, 337, 637, 838,
];

/// The same in bold.
#[rustfmt::skip]
const BOLD_MILLI: [u16; 95] = [
    349, 457, 521, 838, 696, 1002, 873, 307, 458, 458, 523, 838, 380, 416, 380, 366, 696, 696, 696, 696, 696, 696, 696, 696,
    696, 696, 400, 400, 838, 838, 838, 581, 1000, 774, 763, 734, 831, 684, 684, 821, 837, 373, 373, 775, 638, 996, 837, 851,
    733, 851, 771, 721, 683, 813, 774, 1104, 771, 725, 726, 458, 366, 458, 838, 500, 500, 675, 716, 593, 716, 679, 436, 716,
    712, 343, 343, 666, 343, 1042, 712, 688, 716, 716, 494, 596, 479, 712, 652, 924, 646, 652, 583, 712, 366, 712, 838,
];

/// How text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Style {
    /// Size in mm.
    pub(super) size_mm: f32,
    /// Heavier strokes.
    pub(super) bold: bool,
}

impl Style {
    /// Distance from one line to the next, in mm.
    pub(super) fn line_mm(self) -> f32 {
        self.size_mm * 1.25
    }

    /// Width of a text on one line, in mm.
    pub(super) fn width_mm(self, text: &str) -> f32 {
        let table = if self.bold { &BOLD_MILLI } else { &PLAIN_MILLI };
        let of = |c: char| {
            let at = u32::from(c).checked_sub(u32::from(' '));
            let at = at.and_then(|at| usize::try_from(at).ok());
            let known = at.and_then(|at| table.get(at));
            f32::from(known.copied().unwrap_or(OTHER_MILLI))
        };
        let milli: f32 = text.chars().map(of).sum();
        milli / 1000.0 * self.size_mm * ROOM_MILLI / 1000.0
    }

    /// The lines that a text needs in a width in mm. A word that is wider alone is cut into pieces that fit, at least one
    /// letter each.
    pub(super) fn wrap(self, text: &str, width_mm: f32) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in words(text) {
            let longer = if line.is_empty() {
                word.clone()
            } else {
                format!("{line} {word}")
            };
            if self.width_mm(&longer) <= width_mm + TOLERANCE_MM {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line = self.cut(&word, width_mm, &mut lines);
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// The last piece of a word, those before it pushed as lines.
    fn cut(self, word: &str, width_mm: f32, lines: &mut Vec<String>) -> String {
        let mut piece = String::new();
        for letter in word.chars() {
            piece.push(letter);
            if self.width_mm(&piece) > width_mm + TOLERANCE_MM && piece.chars().count() > 1 {
                piece.pop();
                lines.push(std::mem::replace(&mut piece, letter.to_string()));
            }
        }
        piece
    }
}

/// The words of a text; a percent sign stays with its number.
fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match words.last_mut() {
            Some(number) if word == "%" => number.push_str(" %"),
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// What a width may be off by rounding, in mm.
const TOLERANCE_MM: f32 = 0.01;
