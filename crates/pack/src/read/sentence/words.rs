//! A sentence as words with their places, and a cursor over them.

use std::ops::Range;

/// One word: a piece without white space; `%` right after a number is a word of its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Word<'s> {
    pub(crate) text: &'s str,
    pub(crate) span: Range<usize>,
}

/// Parts a sentence into words.
pub(crate) fn words(sentence: &str) -> Vec<Word<'_>> {
    let mut words = Vec::new();
    for piece in sentence.split_whitespace() {
        // `split_whitespace` hands out pieces of `sentence` itself, so the distance of their starts is the offset.
        let start = piece.as_ptr() as usize - sentence.as_ptr() as usize;
        let number = piece.strip_suffix('%').filter(|number| is_number(number));
        match number {
            Some(number) => {
                let end = start + number.len();
                words.push(Word {
                    text: number,
                    span: start..end,
                });
                words.push(Word {
                    text: piece.get(number.len()..).unwrap_or_default(),
                    span: end..end + 1,
                });
            }
            None => words.push(Word {
                text: piece,
                span: start..start + piece.len(),
            }),
        }
    }
    words
}

fn is_number(text: &str) -> bool {
    text.bytes().any(|byte| byte.is_ascii_digit())
        && text
            .bytes()
            .all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+'))
}

/// A place in a list of words.
#[derive(Clone, Debug)]
pub(crate) struct Cursor<'s, 'w> {
    words: &'w [Word<'s>],
    at: usize,
    /// Length of the sentence in bytes, for pointing past its end.
    len: usize,
}

impl<'s, 'w> Cursor<'s, 'w> {
    pub(crate) const fn new(words: &'w [Word<'s>], len: usize) -> Self {
        Self { words, at: 0, len }
    }

    pub(crate) const fn at(&self) -> usize {
        self.at
    }

    pub(crate) const fn go(&mut self, at: usize) {
        self.at = at;
    }

    pub(crate) fn peek(&self) -> Option<&'w Word<'s>> {
        self.words.get(self.at)
    }

    pub(crate) fn next(&mut self) -> Option<&'w Word<'s>> {
        let word = self.words.get(self.at)?;
        self.at += 1;
        Some(word)
    }

    pub(crate) fn rest(&self) -> &'w [Word<'s>] {
        self.words.get(self.at..).unwrap_or_default()
    }

    pub(crate) fn is_done(&self) -> bool {
        self.at >= self.words.len()
    }

    /// Whether the words of `phrase` come next.
    pub(crate) fn sees(&self, phrase: &str) -> bool {
        starts_with(self.rest(), phrase).is_some()
    }

    /// Steps over `phrase` where it comes next.
    pub(crate) fn eat(&mut self, phrase: &str) -> bool {
        match starts_with(self.rest(), phrase) {
            Some(count) => {
                self.at += count;
                true
            }
            None => false,
        }
    }

    /// Steps over the longest of `names` that comes next, and says which.
    pub(crate) fn eat_longest<'n>(
        &mut self,
        names: impl Iterator<Item = &'n str>,
    ) -> Option<usize> {
        let mut best: Option<(usize, usize)> = None;
        for (index, name) in names.enumerate() {
            if let Some(count) = starts_with(self.rest(), name)
                && best.is_none_or(|(longest, _)| count > longest)
            {
                best = Some((count, index));
            }
        }
        let (count, index) = best?;
        self.at += count;
        Some(index)
    }

    /// The bytes from word `from` up to here.
    pub(crate) fn span_from(&self, from: usize) -> Range<usize> {
        let start = self
            .words
            .get(from)
            .map_or(self.len, |word| word.span.start);
        let last = self.at.checked_sub(1).and_then(|last| self.words.get(last));
        start..last.map_or(start, |word| word.span.end).max(start)
    }

    /// The bytes of the next word; at the end, the sentence's last word (there is nothing else to point at).
    pub(crate) fn span_here(&self) -> Range<usize> {
        match self.peek().or_else(|| self.words.last()) {
            Some(word) => word.span.clone(),
            None => 0..self.len,
        }
    }

    /// The bytes of everything left.
    pub(crate) fn span_rest(&self) -> Range<usize> {
        match (self.peek(), self.words.last()) {
            (Some(first), Some(last)) => first.span.start..last.span.end,
            _ => self.span_here(),
        }
    }
}

/// How many words of `words` the phrase takes, where it stands at their start.
fn starts_with(words: &[Word<'_>], phrase: &str) -> Option<usize> {
    let mut count = 0;
    for part in phrase.split_whitespace() {
        if words.get(count)?.text != part {
            return None;
        }
        count += 1;
    }
    (count > 0).then_some(count)
}
