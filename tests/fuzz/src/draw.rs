//! What the bytes of an input choose. Bytes that have run out choose the first, so the first is the ordinary.

use arbitrary::Unstructured;

/// The choices of one input.
pub struct Draw<'a> {
    rest: Unstructured<'a>,
    /// Slips that are put into what is said, in one of eight inputs; chosen first, for bytes may run out.
    slips: Vec<Slip>,
}

/// Something wrong: of what kind, where in the text (two places, in 65536ths of it), and with which odd word.
#[derive(Clone, Copy)]
struct Slip {
    kind: usize,
    places: [usize; 2],
    odd: &'static str,
}

/// What a slip puts into a text.
const ODD: [&str; 24] = [
    "0",
    "-1",
    "1e308",
    "1e-308",
    "5e-324",
    "NaN",
    "inf",
    "1,5",
    "99999999999999999999",
    "0.1.2",
    "\"",
    "\\",
    "\n",
    "\r",
    "\t",
    "\0",
    "\u{202e}",
    "\u{feff}",
    "=1+1",
    "µ",
    "💧",
    "{}",
    "[[",
    "null",
];

impl<'a> Draw<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        let mut draw = Self { rest: Unstructured::new(bytes), slips: Vec::new() };
        if draw.once_in(8) {
            for _ in 0..=draw.below(3) {
                let (kind, places) = (draw.below(7), [draw.below(1 << 16), draw.below(1 << 16)]);
                let odd = draw.one(&ODD);
                draw.slips.push(Slip { kind, places, odd });
            }
        }
        draw
    }

    /// One of the first `count` whole numbers.
    pub fn below(&mut self, count: usize) -> usize {
        self.rest.int_in_range(0..=count.saturating_sub(1)).unwrap_or(0)
    }

    /// True in one of so many draws.
    pub fn once_in(&mut self, many: usize) -> bool {
        self.below(many) == many - 1
    }

    pub fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// Evenly on a logarithmic scale, in four digits; both ends come up often.
    pub fn size(&mut self, low: f64, high: f64) -> f64 {
        let part = f64::from(u16::try_from(self.below(1 << 16)).unwrap_or(0)) / f64::from(u16::MAX);
        let value = match self.below(16) {
            15 => low,
            14 => high,
            _ => low * (high / low).powf(part),
        };
        format!("{value:.3e}").parse::<f64>().unwrap_or(low).clamp(low, high)
    }

    /// A share from 0 to 1, of one byte.
    pub fn share(&mut self) -> f64 {
        f64::from(u8::try_from(self.below(256)).unwrap_or(0)) / 255.0
    }

    /// A text that may be anything.
    pub fn words(&mut self) -> String {
        let length = self.below(40);
        let bytes = self.rest.bytes(length.min(self.rest.len())).unwrap_or_default();
        String::from_utf8_lossy(bytes).into_owned()
    }

    /// A text with the slips of this input in it.
    pub fn slipped(&self, text: String) -> String {
        self.slips.iter().fold(text, |text, slip| slip.put(&text))
    }
}

impl Slip {
    fn put(self, text: &str) -> String {
        let place = |part: usize| (0..=part * text.len() >> 16).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0);
        let [a, b] = self.places.map(place);
        let (from, to) = (a.min(b), a.max(b));
        let line_end = |at: usize| text[at..].find('\n').map_or(text.len(), |end| at + end + 1);
        let line_start = |at: usize| text[..at].rfind('\n').map_or(0, |end| end + 1);
        match self.kind {
            // something odd in place of a number or a word, or before it
            0 | 1 => {
                let word = |letter: char| letter.is_alphanumeric() || letter == '.';
                let start = text[..a]
                    .rfind(|letter| !word(letter))
                    .map_or(0, |at| at + text[at..].chars().next().map_or(0, char::len_utf8));
                let end = text[a..].find(|letter| !word(letter)).map_or(text.len(), |end| a + end);
                format!("{}{}{}", &text[..start], self.odd, &text[end..])
            }
            2 => format!("{}{}{}", &text[..a], self.odd, &text[a..]),
            // a line left out, or there twice
            3 => format!("{}{}", &text[..line_start(a)], &text[line_end(a)..]),
            4 => format!("{}{}{}", &text[..line_end(a)], &text[line_start(a)..line_end(a)], &text[line_end(a)..]),
            5 => format!("{}{}", &text[..from], &text[to..]),
            _ => text[..a].to_owned(),
        }
    }
}
